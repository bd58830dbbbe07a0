package drive

import (
	"math"
	"testing"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
)

// A ramp in the drive that large steps show cuts the multisine's steep parts off:
// that may not come out as a slow loop.
func TestRampIsNoLag(t *testing.T) {
	m := machine{omega: 2 * math.Pi * 45, zeta: 0.75, deadTime: 0.0014, perPressure: 1e-4, noise: 1e-4, control: 1e-3}
	steps := func(at float64) float64 { return 150 * float64(int(at)%2) }
	for slope, known := range map[float64]bool{1500: false, 20000: true} {
		m.ramp = slope
		large, played := m.run(t, steps, 8, 1e-3, true), m.run(t, multisine, 12, 1e-3, true)
		r := Fit([]Log{{large, motion.Find(large)}, {played, motion.Find(played)}}, m.control, 0)
		e := r.Bandwidth
		if known {
			check(t, "bandwidth", e, m.omega, 0.01)
		} else if e.Status == plant.Identified && (e.High < m.omega || e.Low > m.omega) {
			t.Errorf("ramp of %g rad/s²: bandwidth %.4g (%.4g to %.4g) identified, want %.4g or no such claim", slope, e.Value, e.Low, e.High, m.omega)
		}
	}
}

// A ramp that cuts nothing off still rounds the steps of a held command, which looks
// like dead time: the interval holds it.
func TestRampThatRoundsStepsIsNoSureDelay(t *testing.T) {
	steps := func(at float64) float64 { return 300 * float64(int(at)%2) }
	small := func(at float64) float64 { return multisine(at) / 2 }
	for _, slope := range []float64{4000, 9000} {
		m := machine{omega: 2 * math.Pi * 45, zeta: 0.75, deadTime: 0.0014, perPressure: 1e-4, noise: 1e-4, control: 1e-3, ramp: slope}
		large, played := m.run(t, steps, 8, 1e-3, true), m.run(t, small, 12, 1e-3, true)
		r := Fit([]Log{{large, motion.Find(large)}, {played, motion.Find(played)}}, m.control, 0)
		for what, c := range map[string]struct {
			got  plant.Estimate
			want float64
		}{"bandwidth": {r.Bandwidth, m.omega}, "damping": {r.Damping, m.zeta}, "dead time": {r.DeadTime, m.deadTime}} {
			if c.got.Low > c.want || c.got.High < c.want {
				t.Errorf("ramp of %g rad/s²: %s %.4g to %.4g, true %.4g", slope, what, c.got.Low, c.got.High, c.want)
			}
		}
	}
}
