package drive

import (
	"math"
	"math/rand/v2"
	"testing"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// loopTrace is a position loop around a drive of 40 Hz and an integrating rod,
// 0.2 ms steps, logged every 1 ms; the controller sees the position delay (s) late.
func loopTrace(t *testing.T, gain, delay, lowpass float64) *trace.Trace {
	t.Helper()
	const h, perTurn, n = 2e-4, 4e-4, 60_000
	rng := rand.New(rand.NewPCG(3, 3))
	late := int(math.Round(delay / h))
	var r, x, u []float64
	pos, command, demand, speed, acc := 0.1, 0.0, 0.0, 0.0, 0.0
	seen := make([]float64, n)
	for i := range n {
		seen[i] = pos + 2e-6*rng.NormFloat64()
		now := float64(i) * h
		ref := 0.1 + 0.02*math.Sin(2*now) + 0.005*math.Sin(17*now) + 0.01*math.Floor(math.Mod(now, 4)/2)
		if i%5 == 0 {
			v := 0.0
			if i >= late {
				v = seen[i-late]
			}
			demand = gain * (ref - v)
			if lowpass > 0 {
				command += (1 - math.Exp(-lowpass*5*h)) * (demand - command)
			} else {
				command = demand
			}
			r, x, u = append(r, ref), append(x, seen[i]), append(u, command)
		}
		acc += h * (250*250*(command-speed) - 2*0.7*250*acc)
		speed += h * acc
		pos += h * perTurn * speed
	}
	tr, err := trace.New("loop", 5*h, 0, map[trace.Channel][]float64{trace.PositionCommand: r, trace.RodPosition: x, trace.SpeedCommand: u}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

func TestFitLoop(t *testing.T) {
	for _, c := range []struct {
		name           string
		delay, lowpass float64
	}{{"none", 0, 0}, {"whole samples", 0.002, 0}, {"between samples", 0.0034, 0}, {"low-pass", 0.0014, 100}} {
		t.Run(c.name, func(t *testing.T) {
			tr := loopTrace(t, 20000, c.delay, c.lowpass)
			got := FitLoop([]Log{{tr, motion.Find(tr)}}, Law{Lowpass: c.lowpass})
			// A fifth of a sample: position noise between samples is not shared.
			if math.Abs(got.Delay.Value-c.delay) > 0.2e-3 || got.Delay.Low > c.delay || got.Delay.High < c.delay {
				t.Errorf("delay %.5f (%.5f to %.5f, %s), want %.5f", got.Delay.Value, got.Delay.Low, got.Delay.High, got.Delay.Status, c.delay)
			}
			if math.Abs(got.Gain.Extend-20000) > 400 || math.Abs(got.Gain.Retract-20000) > 400 {
				t.Errorf("gains %.0f and %.0f, want 20000", got.Gain.Extend, got.Gain.Retract)
			}
		})
	}
}

func TestFitLoopNeedsClosedLoop(t *testing.T) {
	m := machine{omega: 250, zeta: 0.7, deadTime: 0.001, control: 1e-3}
	tr := m.run(t, multisine, 5, 1e-3, false)
	if got := FitLoop([]Log{{tr, motion.Find(tr)}}, Law{}); got.Delay.Status != plant.Missing || got.Delay.From == "" {
		t.Errorf("an open-loop log: %+v, want missing with the move to log", got.Delay)
	}
}
