package compare

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// stepper logs an invented axis that answers each step of its position command as a
// second-order lag.
type stepper struct {
	omega, zeta float64
	noise       float64 // m
	repeats     int
	seed        uint64
	silent      bool // no position command logged
	shift       float64
}

const (
	testPeriod = 1e-3
	stepSize   = 0.01
	stepFrom   = 0.1
)

// answer is the step response of ω²/(s²+2ζωs+ω²) for ζ < 1, any textbook.
func (s stepper) answer(t float64) float64 {
	if t < 0 {
		return 0
	}
	wd := s.omega * math.Sqrt(1-s.zeta*s.zeta)
	return 1 - math.Exp(-s.zeta*s.omega*t)*(math.Cos(wd*t)+s.zeta*s.omega/wd*math.Sin(wd*t))
}

func (s stepper) log(t *testing.T) *trace.Trace {
	t.Helper()
	rng := rand.New(rand.NewPCG(s.seed, 9))
	samples := map[trace.Channel][]float64{}
	n := int(float64(2*s.repeats+1) / testPeriod)
	for i := range n {
		time := float64(i) * testPeriod
		k := int(time) // one step a second, up and down in turn
		r, share := stepFrom+s.shift, 0.0
		if k >= 1 {
			share = s.answer(time - float64(k))
			if k%2 == 0 {
				share = 1 - share
			}
			if k%2 == 1 {
				r += stepSize
			}
		}
		x := stepFrom + s.shift + stepSize*share
		samples[trace.RodPosition] = append(samples[trace.RodPosition], x+s.noise*rng.NormFloat64())
		samples[trace.MotorPosition] = append(samples[trace.MotorPosition], 2500*x)
		samples[trace.CapPressure] = append(samples[trace.CapPressure], 50e5)
		samples[trace.RodPressure] = append(samples[trace.RodPressure], 5e5)
		if !s.silent {
			samples[trace.PositionCommand] = append(samples[trace.PositionCommand], r)
		}
	}
	log, err := trace.New("steps.csv", testPeriod, 0, samples, nil)
	if err != nil {
		t.Fatal(err)
	}
	return log
}

func (s stepper) set(t *testing.T) Set { return Set{Traces: []*trace.Trace{s.log(t)}} }

func figureOf(m Move, f Figure) (Difference, bool) {
	for _, d := range m.Figures {
		if d.Figure == f {
			return d, true
		}
	}
	return Difference{}, false
}

// The figures of a second-order lag have closed forms: overshoot exp(-πζ/√(1-ζ²));
// here ζ = 0.5 gives 16.30 %. Rise (10 to 90 %) and settling (2 %) come from its answer, solved by
// bisection in steps of a microsecond.
func TestFiguresOfASecondOrderLag(t *testing.T) {
	s := stepper{omega: 30, zeta: 0.5, repeats: 4, seed: 1}
	r := Compare(s.set(t), s.set(t))
	if len(r.Moves) != 2 {
		t.Fatalf("%d moves, want up and down: %+v", len(r.Moves), r.Notes)
	}
	up := r.Moves[0]
	if up.Kind != Step || up.Before != 4 || up.After != 4 || !close(up.From, stepFrom, 1e-9) || !close(up.To, stepFrom+stepSize, 1e-9) {
		t.Fatalf("found %+v", up)
	}
	first := func(level float64) float64 {
		at := 0.0
		for s.answer(at) < level {
			at += 1e-6
		}
		return at
	}
	last := 1.0
	for math.Abs(s.answer(last)-1) <= 0.02 {
		last -= 1e-6
	}
	for _, c := range []struct {
		figure       Figure
		want, within float64
	}{
		{Rise, first(0.9) - first(0.1), testPeriod},
		// The start counts from the last sample before the command changes.
		{Settling, last, 2 * testPeriod},
		{Overshoot, math.Exp(-math.Pi * s.zeta / math.Sqrt(1-s.zeta*s.zeta)), 1e-3},
		{FollowingPeak, stepSize, 1e-4},
		{FinalError, 0, 1e-6},
		{Hunting, 0, 1e-6},
		{PeakPressure, 50e5, 1},
		{PeakSpeed, 2500 * stepSize * s.omega * math.Exp(-s.zeta/math.Sqrt(1-s.zeta*s.zeta)*math.Acos(s.zeta)), 8},
	} {
		d, ok := figureOf(up, c.figure)
		if !ok || !close(d.Before, c.want, c.within) || !close(d.After, c.want, c.within) {
			t.Errorf("%s: %g and %g, want %g within %g", c.figure, d.Before, d.After, c.want, c.within)
		}
	}
	if _, ok := figureOf(up, OilWork); ok {
		t.Error("oil work without areas")
	}
}

// A quicker axis is better in rise and settling, one with less damping worse in overshoot,
// and with before and after exchanged the verdicts are too.
func TestVerdictsFollowTheChange(t *testing.T) {
	slow := stepper{omega: 20, zeta: 0.7, noise: 2e-6, repeats: 5, seed: 1}
	quick := stepper{omega: 40, zeta: 0.4, noise: 2e-6, repeats: 6, seed: 2}
	want := map[Figure][2]Verdict{Rise: {Better, Worse}, Overshoot: {Worse, Better}, PeakSpeed: {Worse, Better},
		PeakPressure: {NoDifference, NoDifference}, FinalError: {NoDifference, NoDifference}}
	there, back := Compare(slow.set(t), quick.set(t)), Compare(quick.set(t), slow.set(t))
	for f, v := range want {
		for i, r := range []*Report{there, back} {
			d, _ := figureOf(r.Moves[0], f)
			if d.Verdict != v[i] {
				t.Errorf("%s: %s (%g, %g .. %g), want %s", f, d.Verdict, d.Difference, d.Low, d.High, v[i])
			}
			if (d.Verdict == Better || d.Verdict == Worse) && d.Low*d.High < 0 {
				t.Errorf("%s: %s with an interval that holds zero", f, d.Verdict)
			}
		}
	}
	up := there.Moves[0]
	if up.Before != 5 || up.After != 6 || len(up.Overlay.Time) != len(up.Overlay.After) || len(up.Overlay.Command) != len(up.Overlay.Time) {
		t.Errorf("repeats %d and %d, overlay of %d times", up.Before, up.After, len(up.Overlay.Time))
	}
}

func TestOneRepeatGivesNoVerdict(t *testing.T) {
	slow, quick := stepper{omega: 20, zeta: 0.7, repeats: 1, seed: 1}, stepper{omega: 40, zeta: 0.7, repeats: 5, seed: 2}
	for _, m := range Compare(slow.set(t), quick.set(t)).Moves {
		for _, d := range m.Figures {
			if d.Verdict != TooFew || d.Why == "" {
				t.Errorf("%s: %s, want too few with a reason", d.Figure, d.Verdict)
			}
		}
	}
}

func TestMovesWithoutCommandAreFoundByMotion(t *testing.T) {
	s := stepper{omega: 20, zeta: 0.8, repeats: 4, seed: 1, silent: true}
	r := Compare(s.set(t), s.set(t))
	if len(r.Moves) == 0 || r.Moves[0].Kind != Motion {
		t.Fatalf("moves %v, notes %q", r.Moves, r.Notes)
	}
	if _, ok := figureOf(r.Moves[0], FollowingPeak); ok {
		t.Error("a following error without a command")
	}
	if !strings.Contains(strings.Join(r.Notes, " "), "told by the rod's own motion") {
		t.Errorf("notes %q do not say that there is no command", r.Notes)
	}
}

func TestNoCommonMoveIsSaid(t *testing.T) {
	here, there := stepper{omega: 20, zeta: 0.7, repeats: 4}, stepper{omega: 20, zeta: 0.7, repeats: 4, shift: 0.02}
	r := Compare(here.set(t), there.set(t))
	if len(r.Moves) != 0 || r.Found() || !strings.Contains(strings.Join(r.Notes, " "), "no repeated move in common") {
		t.Errorf("moves %d, notes %q", len(r.Moves), r.Notes)
	}
}

// Traces are the caller's: comparing changes none of their samples.
func TestTracesAreNotChanged(t *testing.T) {
	s := stepper{omega: 20, zeta: 0.7, noise: 1e-6, repeats: 3, seed: 5}
	set := s.set(t)
	x, _ := set.Traces[0].Samples(trace.RodPosition)
	before := append([]float64(nil), x...)
	Compare(set, set)
	for i := range x {
		if x[i] != before[i] {
			t.Fatalf("sample %d changed", i)
		}
	}
}

// What never settles has no time to be compared, and that is said.
func TestNeverSettling(t *testing.T) {
	calm, ringing := stepper{omega: 20, zeta: 0.7, repeats: 4, seed: 1}, stepper{omega: 100, zeta: 0.01, repeats: 4, seed: 2}
	d, ok := figureOf(Compare(calm.set(t), ringing.set(t)).Moves[0], Settling)
	if !ok || d.Verdict != TooFew || !math.IsNaN(d.After) || !strings.Contains(d.Why, "never reached") {
		t.Errorf("settling %+v", d)
	}
	m := Compare(calm.set(t), ringing.set(t)).Moves[0]
	want := 2 * math.Pi / (100 * math.Sqrt(1-0.01*0.01))
	if !close(m.HuntingPeriod[1], want, 0.03*want) || m.HuntingPeriod[0] != 0 {
		t.Errorf("hunting periods %v, want 0 and %g", m.HuntingPeriod, want)
	}
}

func plantWith(values map[plant.Param][2]float64) *plant.Plant {
	p := &plant.Plant{Params: map[plant.Param]plant.Estimate{}}
	for param, v := range values {
		p.Params[param] = param.Found(v[0], v[0]-v[1], v[0]+v[1], "test")
	}
	p.Seen.Position, p.Seen.MotorSpeed = [2]float64{0, 0.3}, [2]float64{-200, 200}
	return p
}

func changeOf(r *Report, p plant.Param) Change {
	for _, c := range r.Plant {
		if c.Param == p {
			return c
		}
	}
	return Change{}
}

func TestPlantChanges(t *testing.T) {
	before := plantWith(map[plant.Param][2]float64{plant.Slip: {1e-7, 5e-9}, plant.MovingMass: {400, 8}, plant.CoulombFriction: {900, 20},
		plant.ComplianceCap: {1e-12, 1e-14}, plant.AxialLoad: {-4000, 50}, plant.DeadTime: {1e-3, 5e-4}})
	after := plantWith(map[plant.Param][2]float64{plant.Slip: {2e-7, 9e-9}, plant.MovingMass: {405, 8}, plant.CoulombFriction: {935, 20},
		plant.ComplianceCap: {1.5e-12, 2e-14}, plant.AxialLoad: {1000, 50}})
	r := Compare(Set{Plant: before}, Set{Plant: after})
	for p, want := range map[plant.Param]bool{plant.Slip: true, plant.MovingMass: false, plant.CoulombFriction: false, plant.ComplianceCap: true, plant.AxialLoad: true} {
		if c := changeOf(r, p); c.Changed != want || want && (c.OftenMeans == "" || c.CouldAlsoBe == "") {
			t.Errorf("%s: changed %v (ratio %g, %g .. %g, means %q), want %v", p, c.Changed, c.Ratio, c.RatioLow, c.RatioHigh, c.OftenMeans, want)
		}
	}
	slip := changeOf(r, plant.Slip)
	if !close(slip.Ratio, 2, 1e-12) || !(slip.RatioLow < 2 && slip.RatioHigh > 2) || !strings.Contains(slip.OftenMeans, "worn pump") {
		t.Errorf("slip %+v", slip)
	}
	if c := changeOf(r, plant.ComplianceCap); !strings.Contains(c.OftenMeans, "air in the oil") || !strings.Contains(c.CouldAlsoBe, "changed load") {
		t.Errorf("a compliance that rose with the load reads %q, %q", c.OftenMeans, c.CouldAlsoBe)
	}
	if c := changeOf(r, plant.AxialLoad); !math.IsNaN(c.Ratio) || !close(c.Difference, 5000, 1e-9) {
		t.Errorf("axial load %+v", c)
	}
	if c := changeOf(r, plant.DeadTime); c.Param == plant.DeadTime {
		t.Error("compared what one fit lacks")
	}
	if r.Moves != nil || !strings.Contains(strings.Join(r.Notes, " "), "plant file") {
		t.Errorf("notes %q do not say that moves are missing", r.Notes)
	}
}

// A given or assumed number says nothing of the machine in these logs.
func TestOnlyWhatWasFoundIsCompared(t *testing.T) {
	before, after := plantWith(map[plant.Param][2]float64{plant.MovingMass: {400, 1}}), plantWith(map[plant.Param][2]float64{plant.MovingMass: {800, 1}})
	e := after.Params[plant.MovingMass]
	e.Status = plant.Given
	after.Params[plant.MovingMass] = e
	if r := Compare(Set{Plant: before}, Set{Plant: after}); len(r.Plant) != 0 || r.Found() {
		t.Errorf("compared %+v", r.Plant)
	}
}

// Fits of different kinds of log are compared all the same, and that is said.
func TestUnlikeLogsAreSaid(t *testing.T) {
	before, after := plantWith(map[plant.Param][2]float64{plant.Slip: {1e-7, 1e-8}}), plantWith(map[plant.Param][2]float64{plant.Slip: {1e-7, 1e-8}})
	const said = "different kinds"
	if notes := strings.Join(Compare(Set{Plant: before}, Set{Plant: after}).Notes, " "); strings.Contains(notes, said) {
		t.Errorf("alike, but the notes are %q", notes)
	}
	after.Seen.ClosedLoop = true
	if notes := strings.Join(Compare(Set{Plant: before}, Set{Plant: after}).Notes, " "); !strings.Contains(notes, said) {
		t.Errorf("unlike, but the notes are %q", notes)
	}
}

// Stroke per turn by direction follows the chamber that carries, so it is compared
// only where the chambers are not known apart.
func TestStrokeByDirectionOnlyWithoutChambers(t *testing.T) {
	without := map[plant.Param][2]float64{plant.StrokePerTurnExtend: {4e-4, 4e-7}}
	with := map[plant.Param][2]float64{plant.StrokePerTurnExtend: {4e-4, 4e-7}, plant.StrokePerTurnCap: {4e-4, 4e-7}}
	if r := Compare(Set{Plant: plantWith(without)}, Set{Plant: plantWith(without)}); len(r.Plant) != 1 || r.Plant[0].Param != plant.StrokePerTurnExtend {
		t.Errorf("without chambers: %+v", r.Plant)
	}
	if r := Compare(Set{Plant: plantWith(with)}, Set{Plant: plantWith(with)}); len(r.Plant) != 1 || r.Plant[0].Param != plant.StrokePerTurnCap {
		t.Errorf("with chambers: %+v", r.Plant)
	}
}

func TestTemperatureIsNamed(t *testing.T) {
	before, after := plantWith(nil), plantWith(nil)
	before.Seen.Temperature, after.Seen.Temperature = [2]float64{300, 304}, [2]float64{318, 322}
	notes := strings.Join(Compare(Set{Plant: before}, Set{Plant: after}).Notes, " ")
	if !strings.Contains(notes, "18 K warmer") {
		t.Errorf("notes %q", notes)
	}
}

func BenchmarkCompare(b *testing.B) {
	var t testing.T
	s := stepper{omega: 20, zeta: 0.7, noise: 1e-6, repeats: 300, seed: 5}
	set := s.set(&t)
	for b.Loop() {
		Compare(set, set)
	}
}
