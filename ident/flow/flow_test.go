package flow

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// near fails unless got is within the share of want.
func near(t *testing.T, what string, got, want, share float64) {
	t.Helper()
	if !(math.Abs(got-want) <= share*math.Abs(want)) {
		t.Errorf("%s: got %g, want %g within %.3g %%", what, got, want, 100*share)
	}
}

func TestRecoversThePlainMachine(t *testing.T) {
	for name, m := range map[string]plain{"cap": plainMachine(), "rod": plainMachine().mirrored()} {
		t.Run(name, func(t *testing.T) {
			log := m.log(t, 60)
			s, err := FitStroke([]*trace.Trace{log}, m.file())
			if err != nil {
				t.Fatal(err)
			}
			// The regression's piecewise means leave a few parts in 1e4.
			near(t, "displacement", s.Displacement.Value, m.displacement, 5e-4)
			near(t, "slip", s.Slip.Value, m.slip, 0.04)
			near(t, "delay", s.Delay.Value, m.delay, 0.1)
			if s.Carrier.Extend != int(m.side) || s.Carrier.Retract != int(m.side) {
				t.Errorf("carrier: got %v, want %g both ways", s.Carrier, m.side)
			}
			near(t, "stroke per turn extending", s.PerTurn.Extend.Value, m.displacement/m.area.At(m.chamber()), 5e-4)
			o, err := FitOil([]*trace.Trace{log}, m.file(), s, 0, nil)
			if err != nil {
				t.Fatal(err)
			}
			for _, x := range []float64{0.1, 0.2, 0.3} {
				for _, p := range []float64{25e5, 35e5} {
					want := m.oil.Compliance(o.swept(m.chamber(), x), p)
					got, ok := o.Compliance(m.chamber(), x, p)
					if !ok {
						t.Fatal("compliance is not known")
					}
					// What turns and travel leave open of D and air.
					near(t, "compliance", got.Value, want, 0.02)
				}
			}
			if !o.Borrowed(m.chamber().Other()) || o.Borrowed(m.chamber()) {
				t.Error("the chamber that never carries has not borrowed, or the other has")
			}
		})
	}
}

func TestResonanceOfThePlainMachine(t *testing.T) {
	m := plainMachine()
	log := m.log(t, 60)
	s, err := FitStroke([]*trace.Trace{log}, m.file())
	if err != nil {
		t.Fatal(err)
	}
	o, err := FitOil([]*trace.Trace{log}, m.file(), s, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	r, ok := o.Resonance(Number{m.mass, 0}, Number{m.viscous, 0})
	if !ok {
		t.Fatal("no resonance")
	}
	p, ok := o.SlowPressure(plant.Cap, plant.Retract)
	if !ok {
		t.Fatal("no slow pressure while retracting")
	}
	// Slow travel inwards: the load less friction stands on the cap side.
	near(t, "slow pressure", p, (6000+m.low*m.area.Rod-m.coulomb-m.viscous*0.005)/m.area.Cap, 0.02)
	c := m.oil.Compliance(m.area.Cap*m.stroke, p)
	omega := math.Sqrt(m.area.Cap * m.area.Cap / (c * m.mass))
	near(t, "frequency", r.Frequency.Value, omega, 0.02)
	near(t, "damping", r.Damping.Value, m.viscous/(2*m.mass*omega)+m.slip*m.displacement/(2*c*omega), 0.05)
	if r.Chamber != plant.Cap || r.Direction != plant.Retract || r.Position != m.stroke {
		t.Errorf("softest at %v, %v, %g m; want cap, retract, %g m", r.Chamber, r.Direction, r.Position, m.stroke)
	}
	if e := r.Params[plant.HydraulicFrequency]; !(e.Low < omega && omega < e.High) {
		t.Errorf("frequency interval %g to %g does not hold %g", e.Low, e.High, omega)
	}
}

func TestBlindResonanceOfThePlainMachine(t *testing.T) {
	m := plainMachine()
	m.noise = 2e-6
	log := without(t, m.log(t, 60), trace.CapPressure, trace.RodPressure)
	s, err := FitStroke([]*trace.Trace{log}, m.file())
	if err != nil {
		t.Fatal(err)
	}
	if s.Params[plant.Slip].Known() {
		t.Error("slip found without pressures")
	}
	// Compression in the pump, up to 1 % at these pressures, cannot be told from D.
	near(t, "stroke per turn", s.PerTurn.Extend.Value, m.displacement/m.area.Cap, 0.01)
	r, ok := BlindResonance([]*trace.Trace{log}, m.file(), s)
	if !ok {
		t.Fatal("no resonance")
	}
	p := (6000 + m.low*m.area.Rod - m.coulomb) / m.area.Cap
	omega := math.Sqrt(m.area.Cap * m.area.Cap / (m.oil.Compliance(m.area.Cap*m.stroke, p) * m.mass))
	near(t, "frequency", r.Frequency.Value, omega, 0.08)
	if r.Params[plant.HydraulicDamping].Status != plant.Weak {
		t.Errorf("damping without pressures is %v, want weak", r.Params[plant.HydraulicDamping].Status)
	}
	if _, err := FitOil([]*trace.Trace{log}, m.file(), s, 0, nil); !errors.Is(err, ErrNoPressures) {
		t.Errorf("oil without pressures: error %v, want ErrNoPressures", err)
	}
}

// without returns the log less some channels.
func without(t *testing.T, log *trace.Trace, drop ...trace.Channel) *trace.Trace {
	t.Helper()
	samples := map[trace.Channel][]float64{}
	for _, c := range log.Channels() {
		samples[c], _ = log.Samples(c)
	}
	for _, c := range drop {
		delete(samples, c)
	}
	out, err := trace.New(log.Name(), log.Period(), 0, samples, log.Gaps())
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func TestUnknownAreasGiveRatiosOnly(t *testing.T) {
	m := plainMachine()
	log := m.log(t, 60)
	s, err := FitStroke([]*trace.Trace{log}, &machine.Machine{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "stroke per turn", s.PerTurn.Extend.Value, m.displacement/m.area.Cap, 2e-3)
	near(t, "slip", s.Slip.Value, m.slip, 0.06)
	if s.AreasKnown || s.Params[plant.StrokePerTurnRod].Known() {
		t.Error("areas or the rod side's ratio claimed without bore and rod")
	}
	o, err := FitOil([]*trace.Trace{log}, &machine.Machine{}, s, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	if o.Params[plant.ComplianceCap].Known() {
		t.Error("compliance in m³/Pa claimed without bore and rod")
	}
}

func TestTimeShiftAndPartsChangeNothing(t *testing.T) {
	m := plainMachine()
	log := m.log(t, 60)
	whole, err := FitStroke([]*trace.Trace{log}, m.file())
	if err != nil {
		t.Fatal(err)
	}
	half := log.Len() / 2
	parts, err := FitStroke([]*trace.Trace{log.Slice(0, half), log.Slice(half, log.Len())}, m.file())
	if err != nil {
		t.Fatal(err)
	}
	// Only the windows across the cut differ: a fifth of the interval.
	near(t, "displacement of two logs", parts.Displacement.Value, whole.Displacement.Value, 2e-4)
	near(t, "slip of two logs", parts.Slip.Value, whole.Slip.Value, 0.02)
}

func TestErrors(t *testing.T) {
	m := plainMachine()
	log := m.log(t, 12)
	if _, err := FitStroke([]*trace.Trace{without(t, log, trace.RodPosition)}, m.file()); !errors.Is(err, ErrNoMotion) {
		t.Errorf("no rod position: error %v, want ErrNoMotion", err)
	}
	if _, err := FitStroke(nil, m.file()); !errors.Is(err, ErrNoMotion) {
		t.Errorf("no log: error %v, want ErrNoMotion", err)
	}
	if _, err := FitStroke([]*trace.Trace{log.Slice(0, 100)}, m.file()); !errors.Is(err, ErrTooLittle) {
		t.Errorf("a tenth of a second: error %v, want ErrTooLittle", err)
	}
}

// TestNothingPanics feeds logs that no machine makes: the fits may refuse them
// or call the result weak, but must return.
func TestNothingPanics(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 22))
	kinds := []func(i int) float64{
		func(int) float64 { return 0 },
		func(int) float64 { return rng.NormFloat64() },
		func(i int) float64 { return float64(i) },
		func(i int) float64 { return math.Sin(float64(i)/50) * 1e-3 },
		func(i int) float64 { return 1e6 * rng.Float64() },
		func(i int) float64 { return 1e300 * float64(i%2) },
	}
	for try := range 150 {
		n := 2 + rng.IntN(3000)
		samples := map[trace.Channel][]float64{}
		for _, c := range []trace.Channel{trace.MotorPosition, trace.RodPosition, trace.CapPressure, trace.RodPressure} {
			kind := kinds[rng.IntN(len(kinds))]
			for i := range n {
				samples[c] = append(samples[c], kind(i))
			}
		}
		if try%5 == 0 {
			delete(samples, trace.CapPressure)
		}
		log, err := trace.New("garbage.csv", []float64{1e-3, 4e-3, 0.1, 2}[rng.IntN(4)], 0, samples, []trace.Span{{From: n / 3, To: n/3 + rng.IntN(n/3+1)}})
		if err != nil {
			t.Fatal(err)
		}
		file := plainMachine().file()
		if try%2 == 0 {
			file = &machine.Machine{}
		}
		s, err := FitStroke([]*trace.Trace{log}, file)
		if err != nil {
			continue
		}
		if o, err := FitOil([]*trace.Trace{log}, file, s, 1e-3, nil); err == nil {
			o.Resonance(Number{100, 10}, Number{100, 10})
		}
		BlindResonance([]*trace.Trace{log}, file, s)
	}
}
