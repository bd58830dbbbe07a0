package response

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// chain is a drive of 30 Hz that turns a rod on oil with a resonance of 8 Hz,
// simulated in steps of 0.1 ms: v” + 2ζω v' + ω² v = ω²·s·n.
type chain struct{ n, dn, theta, v, dv, x float64 }

const (
	driveOmega, driveZeta = 2 * math.Pi * 30, 0.8
	oilOmega, oilZeta     = 2 * math.Pi * 8, 0.15
	perTurn               = 4e-4 // m/rad
	fine                  = 1e-4
)

func (c *chain) step(u float64) {
	c.dn += fine * (driveOmega*driveOmega*(u-c.n) - 2*driveZeta*driveOmega*c.dn)
	c.n += fine * c.dn
	c.theta += fine * c.n
	c.dv += fine * (oilOmega*oilOmega*(perTurn*c.n-c.v) - 2*oilZeta*oilOmega*c.dv)
	c.v += fine * c.dv
	c.x += fine * c.v
}

// record plays the command, which may depend on the measured position (m), and logs every millisecond.
func record(t *testing.T, command func(now, x float64) (u, reference float64), duration float64, closed bool) Log {
	t.Helper()
	rng := rand.New(rand.NewPCG(4, 4))
	c := chain{x: 0.2}
	samples := map[trace.Channel][]float64{}
	add := func(ch trace.Channel, v float64) { samples[ch] = append(samples[ch], v) }
	u := 0.0
	for i := range int(duration / fine) {
		if i%10 == 0 {
			var r float64
			measured := c.x + 2e-6*rng.NormFloat64()
			u, r = command(float64(i)*fine, measured)
			add(trace.SpeedCommand, u)
			add(trace.MotorPosition, c.theta+1e-4*rng.NormFloat64())
			add(trace.RodPosition, measured)
			add(trace.CapPressure, 60e5+1e4*rng.NormFloat64())
			add(trace.RodPressure, 3e5+1e4*rng.NormFloat64())
			if closed {
				add(trace.PositionCommand, r)
			}
		}
		c.step(u)
	}
	tr, err := trace.New("made", 1e-3, 0, samples, nil)
	if err != nil {
		t.Fatal(err)
	}
	return Log{tr, motion.Find(tr)}
}

// multisine is played on a bias so large that the motor never turns back, or on none.
func multisine(bias float64) func(now, _ float64) (float64, float64) {
	return func(now, _ float64) (float64, float64) {
		v := bias
		for i := range 24 {
			f := float64(2+5*i) / 4
			v += 6 * math.Sin(2*math.Pi*f*now+float64(i*i))
		}
		return v, 0
	}
}

func oilAt(omega float64) complex128 {
	s := complex(0, omega)
	return perTurn * oilOmega * oilOmega / (s*s + 2*oilZeta*oilOmega*s + oilOmega*oilOmega)
}

func driveAt(omega float64) complex128 {
	s := complex(0, omega)
	held := (1 - cmplx.Exp(-s*1e-3)) / (s * 1e-3)
	return held * driveOmega * driveOmega / (s*s + 2*driveZeta*driveOmega*s + driveOmega*driveOmega)
}

func find(t *testing.T, all []plant.FrequencyResponse, from, to trace.Channel) plant.FrequencyResponse {
	t.Helper()
	for _, f := range all {
		if f.From == from.String() && f.To == to.String() {
			return f
		}
	}
	t.Fatalf("no response from %s to %s", from, to)
	return plant.FrequencyResponse{}
}

func checkAgainst(t *testing.T, f plant.FrequencyResponse, want func(float64) complex128, lowHz, highHz, share float64) {
	t.Helper()
	lines := 0
	for k, omega := range f.Omega {
		if omega < 2*math.Pi*lowHz || omega > 2*math.Pi*highHz {
			continue
		}
		lines++
		w := want(omega)
		limit := share + 4*f.RelError[k]
		if d := cmplx.Abs(f.Measured[k]-w) / cmplx.Abs(w); d > limit {
			t.Errorf("%s to %s at %.2f Hz: %.4g, want %.4g, off by %.1f %%, error bar %.1f %%", f.From, f.To, omega/(2*math.Pi), f.Measured[k], w, 100*d, 100*f.RelError[k])
		}
		if f.Coherence[k] < leastCoherence || f.Coherence[k] > 1 {
			t.Errorf("coherence %.3f at %.2f Hz", f.Coherence[k], omega/(2*math.Pi))
		}
	}
	if lines < 5 {
		t.Errorf("%s to %s: %d lines, need 5", f.From, f.To, lines)
	}
}

// TestPeriodic: 2 to 3 % is what the simulation's step of 0.1 ms leaves at 25 to 30 Hz.
func TestPeriodic(t *testing.T) {
	l := record(t, multisine(90), 26, false)
	all := Measure([]Log{l})
	checkAgainst(t, find(t, all, trace.SpeedCommand, trace.MotorSpeed), driveAt, 0, 31, 0.03)
	f := find(t, all, trace.MotorPosition, trace.RodPosition)
	checkAgainst(t, f, oilAt, 0, 25, 0.02)
	if !f.Chambers || f.Chamber != plant.Cap || !f.Directed || f.Direction != plant.Extend {
		t.Errorf("chamber %s (%v), %s (%v), want the cap side, extending", f.Chamber, f.Chambers, f.Direction, f.Directed)
	}
	for _, f := range all {
		if f.To == trace.CapPressure.String() || f.To == trace.RodPressure.String() {
			t.Errorf("a response of %d lines to a pressure that is noise", len(f.Omega))
		}
	}
}

// TestTurningBackIsNoResponse: about rest friction rules what the rod answers, so
// that only the drive is measured.
func TestTurningBackIsNoResponse(t *testing.T) {
	all := Measure([]Log{record(t, multisine(0), 26, false)})
	checkAgainst(t, find(t, all, trace.SpeedCommand, trace.MotorSpeed), driveAt, 0, 31, 0.03)
	for _, f := range all {
		if f.From == trace.MotorPosition.String() {
			t.Errorf("a response to %s from a motor that turns back", f.To)
		}
	}
}

// TestClosedLoop: a loop with noise in its feedback, the reference a slow ramp to and
// fro with steps on it; with the position command as the instrument the oil's response
// comes out without the loop's bias, each direction and third of the stroke apart.
func TestClosedLoop(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 6))
	step, next := 0.0, 0.0
	loop := func(now, x float64) (float64, float64) {
		if now >= next {
			step = 0.003 * (rng.Float64() - 0.5)
			next = now + 0.15 + 0.3*rng.Float64()
		}
		const ramp, out = 0.03, 8.0 // m/s, s
		at := math.Mod(now, 2*out)
		reference := 0.1 + ramp*math.Min(at, 2*out-at) + step
		return 10 / perTurn * (reference - x), reference
	}
	all := Measure([]Log{record(t, loop, 240, true)})
	seen := map[[2]int]bool{}
	var off complex128
	lines := 0.0
	for _, f := range all {
		if f.To != trace.RodPosition.String() {
			continue
		}
		checkAgainst(t, f, oilAt, 1, 10, 0.05)
		for k, omega := range f.Omega {
			if omega >= 2*math.Pi && omega <= 20*math.Pi {
				off += f.Measured[k]/oilAt(omega) - 1
				lines++
			}
		}
		seen[[2]int{int(f.Direction), int((f.Position - 0.1) / 0.08)}] = true
	}
	// A tenth is each line's own error; what they share is the bias.
	if bias := cmplx.Abs(off) / lines; !(bias < 0.05) {
		t.Errorf("off by %.1f %% on average over %.0f lines, want under 5 %%", 100*bias, lines)
	}
	if len(seen) != 6 {
		t.Errorf("responses of %d directions and thirds, want 6: %v", len(seen), seen)
	}
}

func TestNothingToMeasure(t *testing.T) {
	l := record(t, func(float64, float64) (float64, float64) { return 0, 0 }, 10, false)
	if got := Measure([]Log{l}); len(got) != 0 {
		t.Errorf("a log at rest gives %d responses: %+v", len(got), got[0])
	}
}
