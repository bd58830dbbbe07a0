package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// What oil and gear pumps usually show (common practice, no source): an effective
// modulus of 1 GPa for oil, walls and lines with 1 % of free air in it, and a slip of 2 %
// of full speed at 100 bar, from 0.6 to 5 %.
const (
	usualModulus = 1e9
	usualAir     = 0.01
	usualSlip    = 0.02
)

// usualAt is the usual modulus at gauge pressure p (Pa).
func usualAt(p float64) float64 {
	return 1 / plant.Oil{Modulus: usualModulus, Air: usualAir}.Compliance(1, p)
}

// Limits of the natural logarithm by which modulus, or modulus over slip, may leave the
// usual. A pressure ten times too small takes the modulus down and the slip up by ten, 4.6
// together; simulated machines stay within 1.7.
const (
	modulusLimit = 2.0
	bothLimit    = 2.6
)

// stiffness asks whether the pressures fit the oil. What is pumped beyond the
// piston's travel is compression when the pressure changes, and slip when it does not;
// pressures in a wrong unit give a modulus that no oil and a slip that no pump has.
func (v *view) stiffness() []Finding {
	if len(v.wiring.votes) == 0 || v.wiring.faults&^current != 0 || !v.has(trace.CapPressure, trace.RodPressure) {
		return nil
	}
	if f, ok := v.torqueFits(); ok {
		return []Finding{f}
	}
	// Skewed clocks put the travel into the compression, and a side that carries one way only is
	// mostly seen within the valves' band.
	if v.rodSkewed() || v.pressuresSkewed() || !v.oneSideCarries() {
		return nil
	}
	modulus, c, ok := v.modulus()
	if !ok {
		return nil
	}
	score, limit := math.Log(modulus/usualAt(v.highPressure(c))), modulusLimit
	text := fmt.Sprintf("turns and travel against its changes mean a modulus of about %.2g GPa (real oil in a cylinder: 0.2 to 1.8)", modulus*1e-9)
	if slip, ok := v.slipShare(); ok {
		score, limit = score-math.Log(slip/usualSlip), bothLimit
		text += fmt.Sprintf(", and a slip of %.2g %% of full speed at 100 bar (usual: 0.6 to 5)", 100*slip)
	}
	if math.Abs(score) < limit {
		return nil
	}
	do := "psi read as bar is 14.5 times too much"
	if score < 0 {
		do = "MPa read as bar is ten times too little"
	}
	return []Finding{v.finding(UnitDoubtful, Stop, c, v.affectedBy(c), fmt.Sprintf("%s does not fit the oil: %s.", c.Words(), text),
		fmt.Sprintf("Check unit and scaling of both pressures: %s.", do))}
}

// oneSideCarries reports whether the same side is the higher one in steady travel both ways.
func (v *view) oneSideCarries() bool {
	n := v.motorSpeed()
	var across [2][]float64
	for k := range n {
		if v.kind[k] == motion.Steady {
			way := int(extendOrRetract(n[k]))
			across[way] = append(across[way], v.frame[trace.CapPressure][k]-v.frame[trace.RodPressure][k])
		}
	}
	return median(across[0])*median(across[1]) > 0
}

// torqueLimit is the factor by which the torque that a pressure takes may differ from
// the displacement. Where inertia outweighs it the balance of torques is that rough:
// simulated machines stay within 6.4.
const torqueLimit = 8

// torqueFits compares the torque that pressure across the pump takes with the pump's
// displacement; the torque constant stands in the machine file.
func (v *view) torqueFits() (Finding, bool) {
	d, kt := v.m.Pump.Displacement, v.m.Motor.TorqueConstant
	motor := trace.MotorCurrent
	if v.has(trace.MotorTorque) && !v.has(motor) {
		motor, kt = trace.MotorTorque, 1
	}
	if low, high := v.bounds(motor); v.r.Resolution[motor] > 0.02*(high-low) || v.coarseEncoder() {
		return Finding{}, false // steps hide what pressure takes
	}
	c := v.clocks.perPressure
	if d <= 0 || kt <= 0 || c.value == 0 || c.width > 0.3*math.Abs(c.value) {
		return Finding{}, false
	}
	ratio := math.Abs(c.value) * kt / d
	if ratio < torqueLimit && ratio > 1/torqueLimit {
		return Finding{}, false
	}
	do := "MPa read as bar is ten times too little"
	if ratio < 1 {
		do = "psi read as bar is 14.5 times too much"
	}
	return v.finding(UnitDoubtful, Stop, trace.CapPressure, v.affectedBy(trace.CapPressure),
		fmt.Sprintf("the pressures do not fit the torque: a bar across the pump takes %.2g times the torque that its displacement gives.", ratio),
		fmt.Sprintf("Check unit and scaling of both pressures: %s. Check displacement and torque constant too.", do)), true
}

// highPressure is the median pressure (Pa) of the channel while it is the higher one.
func (v *view) highPressure(c trace.Channel) float64 {
	other := trace.RodPressure
	if c == other {
		other = trace.CapPressure
	}
	var high []float64
	for k, p := range v.frame[c] {
		if p > v.frame[other][k] {
			high = append(high, p)
		}
	}
	return math.Max(median(high), 0)
}

// modulus returns a rough effective modulus (Pa) of the chamber under load for longer:
//
//	A·(s·Δθ - Δx) = (V/β)·Δp
//
// with V = A·x (cap) or A·(stroke - x) (rod), and s the stroke per turn seen, so that an
// error of the nameplate does not become compression; the area cancels. Dead volume
// is left out, which makes the result too small by up to a half.
func (v *view) modulus() (float64, trace.Channel, bool) {
	dx, n := v.change(trace.RodPosition), v.motorSpeed()
	stroke := v.m.Cylinder.Stroke
	if dx == nil || n == nil {
		return 0, 0, false
	}
	if stroke <= 0 {
		_, stroke = extremes(v.frame[trace.RodPosition])
	}
	first, second := v.perTurnByHighSide(n)
	best, bestCount, bestChannel := 0.0, int(5/v.dt), trace.NoChannel
	for _, c := range []trace.Channel{trace.CapPressure, trace.RodPressure} {
		other, sign, perTurn := trace.RodPressure, 1.0, first
		if c == trace.RodPressure {
			other, sign, perTurn = trace.CapPressure, -1, second
		}
		if perTurn == 0 {
			perTurn = v.motion.StrokePerTurn
		}
		p, q := v.frame[c], v.frame[other]
		// High is what belongs to the upper part of the difference, in whatever unit.
		limit := 0.3 * (quantile(p, 0.99) - quantile(q, 0.5))
		dp := v.change(c)
		var fp, pp, length float64
		count := 0
		for k := range dp {
			if !v.good[k] || limit <= 0 || p[k]-q[k] < limit || v.kind[k] == motion.Rest {
				continue
			}
			fp += sign * (n[k]*v.dt*perTurn - dx[k]) * dp[k]
			pp += dp[k] * dp[k]
			x := v.frame[trace.RodPosition][k]
			if c == trace.RodPressure {
				x = stroke - x
			}
			length += math.Min(math.Max(x, 0.1*stroke), stroke)
			count++
		}
		if count > bestCount && pp > 0 && fp > 0 {
			best, bestCount, bestChannel = length/float64(count)*pp/fp, count, c
		}
	}
	return best, bestChannel, best > 0
}

// slipShare returns the slip at 100 bar as a share of full speed, from rests: the motor
// turns to hold the rod, or the rod creeps while the motor stands.
func (v *view) slipShare() (float64, bool) {
	n, dx := v.motorSpeed(), v.change(trace.RodPosition)
	full := math.Max(v.m.Motor.MaxSpeed, v.motion.TopSpeed)
	s := v.motion.StrokePerTurn
	if n == nil || dx == nil || s == 0 || full == 0 || v.m.Valve.Holding {
		return 0, false
	}
	p1, p2 := v.frame[trace.CapPressure], v.frame[trace.RodPressure]
	var slips []float64
	for _, g := range v.motion.Segments {
		if g.Kind != motion.Rest || float64(g.Span.Len())*v.t.Period() < 0.4 {
			continue
		}
		from, to := (g.Span.From+g.Span.To)/2/v.step, g.Span.To/v.step-1
		if to-from < 3 {
			continue
		}
		speed := math.Abs(mean(n[from:to]) - mean(dx[from:to])/v.dt/s)
		across := math.Abs(mean(p1[from:to]) - mean(p2[from:to]))
		if speed > 5e-4*full && across > clearlyHigh {
			slips = append(slips, speed/across*100e5/full)
		}
	}
	return median(slips), len(slips) >= 3
}
