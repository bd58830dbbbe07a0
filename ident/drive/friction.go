package drive

import (
	"math"
	"math/cmplx"

	"eha/strokewise/ident/spectral"
)

// frictionWidths are the speeds (rad/s) over which the motor's friction may
// change sign; the one that explains the lines best is taken. Taken too narrow,
// part of the friction of small motions goes into damping, too wide the other way round.
var frictionWidths = [...]float64{0.25, 0.5, 1, 1.5, 2.2, 3.3}

// fineStep (s) is how closely friction is followed: it changes sign within
// milliseconds, however slow the log is.
const fineStep = 1e-3

// frictionLines returns for each of frictionWidths the lines of what friction loads
// the motor with: the sign of its speed, smoothed over the width, and where the
// pressure across the pump is given that sign times the pressure's magnitude, with
// which the pump's losses grow. The speed is put together from the motor's own
// lines up to highestHz, period by period, which leaves out the encoder's steps
// and lags nothing.
//
// motor are the lines of the motor's angle, or of its speed if not isAngle; drift
// is the mean speed (rad/s) of each period; across is nil or holds, from the first
// period's first sample on, n samples a period of the time step (s).
func frictionLines(motor spectral.Periodic, isAngle bool, drift []float64, kept []int, across []float64, n int, step float64) [len(frictionWidths)][]spectral.Periodic {
	up := max(1, int(math.Round(step/fineStep)))
	fine := n * up
	transform := spectral.NewTransform(fine)
	buf, speed, load := make([]complex128, fine), make([]float64, fine), make([]float64, fine)
	var out [len(frictionWidths)][]spectral.Periodic
	for k := range out {
		out[k] = []spectral.Periodic{{Omega: motor.Omega}}
		if across != nil {
			out[k] = append(out[k], spectral.Periodic{Omega: motor.Omega})
		}
	}
	for i, lines := range motor.Period {
		clear(buf)
		for k, c := range lines {
			if motor.Omega[k] > 2*math.Pi*highestHz || k == 0 {
				continue
			}
			if isAngle {
				c *= complex(0, motor.Omega[k])
			}
			buf[k] = cmplx.Conj(c) // the transform runs backwards on conjugates
		}
		transform.Coefficients(buf, buf)
		for j, v := range buf {
			speed[j] = drift[i] + real(v)
		}
		if across != nil {
			interpolate(load, across[kept[i]*n:], up)
		}
		for k, width := range frictionWidths {
			for j, v := range speed {
				sign := math.Tanh(v / width)
				buf[j] = complex(sign, math.Abs(load[j])*sign)
			}
			transform.Coefficients(buf, buf)
			signs, losses := make([]complex128, len(lines)), make([]complex128, len(lines))
			for l := 1; l < len(lines); l++ {
				a, b := buf[l], cmplx.Conj(buf[fine-l])
				signs[l] = (a + b) / complex(float64(fine), 0)
				losses[l] = (a - b) / complex(0, float64(fine))
			}
			out[k][0].Period = append(out[k][0].Period, signs)
			if across != nil {
				out[k][1].Period = append(out[k][1].Period, losses)
			}
		}
	}
	return out
}

// interpolate fills out with y, up points to each of its samples.
func interpolate(out, y []float64, up int) {
	for j := range out {
		i, part := j/up, float64(j%up)/float64(up)
		next := min(i+1, len(y)-1)
		out[j] = y[i] + part*(y[next]-y[i])
	}
}
