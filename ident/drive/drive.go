// Package drive fits the speed loop of the motor, from speed command to motor
// speed, and the delay of the position loop around it. The model is
//
//	n = ω²/D₂ · e^(-s·Td) · H(s) · n_cmd - k·(s/D₂)·(p_cap - p_rod) - k_f·(s/D₂)·sgn(n)
//	D₂ = s² + 2ζωs + ω²,  H = (1 - e^(-sh))/(sh)
//
// with the undamped natural frequency ω (rad/s), damping ratio ζ, dead time Td
// (s), the hold time h (s) of a command, and the load of pressure and friction
// on the motor, whose factors k and k_f are fitted along because without them
// they would go into damping.
package drive

import (
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// Log is one recording with what was found in it.
type Log struct {
	Trace  *trace.Trace
	Motion *motion.Motion
}

// Result is what the logs say of the drive.
type Result struct {
	Bandwidth, Damping, DeadTime plant.Estimate // rad/s, 1, s
	// AccelLimit (rad/s²) is missing where no limit was met; Largest is the
	// largest acceleration seen all the same.
	AccelLimit plant.Estimate
	Largest    float64 // rad/s²
	// PerPressure is the acceleration that pressure across the pump takes away
	// (rad/s² per Pa); 0 where unknown.
	PerPressure float64
}

// Fit fits the drive on all logs: on periodic excitation where one was played,
// else on the changes of the command in time. controllerPeriod (s) is that of
// the device that gives the speed command, 0 where unknown; pressureLag (s) that of the pressure sensors.
//
// What cannot be told is missing and names the move to log; Fit returns no error.
func Fit(logs []Log, controllerPeriod, pressureLag float64) Result {
	r := Result{}
	fit, ok := fitPeriodic(logs, controllerPeriod, pressureLag)
	if !ok {
		fit, ok = fitTransients(logs, controllerPeriod)
	}
	if ok {
		r.Bandwidth, r.Damping, r.DeadTime = fit.estimates()
		r.PerPressure = max(fit.perPressure, 0)
	} else {
		const move = "log multisine: speed command and motor position, no limit active"
		r.Bandwidth, r.Damping, r.DeadTime = plant.MissingFrom(move), plant.MissingFrom(move), plant.MissingFrom(move)
	}
	r.Largest = largestAcceleration(logs)
	r.AccelLimit = accelerationLimit(logs, r.PerPressure, r.Largest)
	return r
}

// found is a fit of the three figures with their standard deviations.
type found struct {
	value, sigma [3]float64 // ω (rad/s), ζ, Td (s)
	perPressure  float64
	rounded      float64 // s, delay that a ramp in the drive may have added
	from         string
	cost         float64 // weighted sum of squares left
	weak         bool    // the intervals are not to be trusted beyond "weak"
}

// loopPeriod (s) is a usual period of the speed loop itself (62.5 to 125 µs, common
// practice, no source). Closed step by step, a loop of the second order answers with
// bandwidth and damping ζ·ω·h/2 of their value away from the continuous loop's of the
// same settings, to first order in h; dead time moves by half a period.
const loopPeriod = 0.1e-3

// estimates turns the least squares deviations into intervals by what the errors
// on simulated machines asked for: bandwidth and dead time come out better than
// the residuals say, damping takes friction's share. To each comes a floor, for
// dead time of the whole lag and of the delay that a ramp may have added.
func (f found) estimates() (bandwidth, damping, deadTime plant.Estimate) {
	const z = 1.959963985
	lag := f.value[2] + 2*f.value[1]/f.value[0]
	stepped := f.value[1] * f.value[0] * loopPeriod / 2
	share := [3]float64{(0.0007 + stepped) * f.value[0], (0.001 + stepped) * f.value[1], 0.0006*lag + loopPeriod/4 + f.rounded}
	factor := [3]float64{0.7, 1.6, 0.45}
	var out [3]plant.Estimate
	for k, p := range [...]plant.Param{plant.DriveBandwidth, plant.DriveDamping, plant.DeadTime} {
		half := factor[k]*z*f.sigma[k] + share[k]
		out[k] = p.Found(f.value[k], max(f.value[k]-half, 0), f.value[k]+half, f.from)
		if f.weak {
			out[k].Status = plant.Weak
		}
	}
	return out[0], out[1], out[2]
}

// holdTime is the time for which a logged command counts as held: the shorter of
// the log's and the controller's period. A log faster than the controller holds
// the staircase itself.
func holdTime(t *trace.Trace, controllerPeriod float64) float64 {
	if controllerPeriod > 0 {
		return math.Min(t.Period(), controllerPeriod)
	}
	return t.Period()
}
