package quality

import (
	"fmt"
	"math"
	"strings"

	"eha/strokewise/ident/lsq"
	"eha/strokewise/ident/trace"
)

// wireNames are the faults in words.
var wireNames = map[wire]string{
	command: "the speed command's sign", encoder: "the motor position's sign", rod: "the rod position's sign",
	swapped: "the two pressure columns", current: "the motor current's sign",
}

// wiringFindings words the faults that judgeWiring found.
func (v *view) wiringFindings() []Finding {
	w := &v.wiring
	var found []Finding
	doubt := w.doubt()
	for _, c := range []struct {
		fault   wire
		channel trace.Channel
	}{{rod, trace.RodPosition}, {encoder, trace.MotorPosition}, {command, trace.SpeedCommand}} {
		if !w.has(c.fault) {
			continue
		}
		f := v.finding(WrongSign, Stop, c.channel, join(strokeParams, forceParams, driveParams),
			fmt.Sprintf("%s has the wrong sign: %s%s.", c.channel.Words(), w.evidence(c.fault), doubt),
			fmt.Sprintf("Check the %s on the machine: jog slowly and watch that it rises while the rod moves out. Reverse it in the controller, or state sign = -1 for %s in the machine file.", c.channel.Words(), c.channel))
		found = append(found, f.turned())
	}
	if w.has(swapped) {
		found = append(found, v.finding(SwappedPressures, Stop, trace.CapPressure, join(strokeParams, forceParams, oilParams, waveParams),
			fmt.Sprintf("cap-side and rod-side pressure are swapped: %s%s.", w.evidence(swapped), doubt),
			"Check which sensor is at which port; exchange the two columns in the machine file or the plugs on the machine.").exchanged(trace.RodPressure))
	}
	if w.has(current) {
		c := trace.MotorCurrent
		if !v.has(c) {
			c = trace.MotorTorque
		}
		found = append(found, v.finding(WrongSign, Harm, c, driveParams[:1],
			fmt.Sprintf("%s has the wrong sign: %s.", c.Words(), w.evidence(current)), fmt.Sprintf("State sign = -1 for %s in the machine file.", c)).turned())
	}
	return append(found, v.followerSigns()...)
}

// evidence lists what speaks for a fault.
func (w *wiring) evidence(fault wire) string {
	var texts []string
	for _, vt := range w.votes {
		if vt.wires&fault != 0 && vt.weight < 0 {
			texts = append(texts, vt.text)
		}
	}
	if len(texts) == 0 {
		return "the other channels agree on it"
	}
	return strings.Join(texts, "; ")
}

// doubt says how sure the judgement is and what else would explain what was seen.
func (w *wiring) doubt() string {
	if w.sure > 0.98 {
		return fmt.Sprintf(" (sure by %d pieces of evidence)", len(w.votes))
	}
	var others []string
	for _, f := range []wire{rod, encoder, command, swapped} {
		if w.next&f != 0 {
			others = append(others, wireNames[f])
		}
	}
	if len(others) == 0 {
		return fmt.Sprintf(" (%.0f %% sure)", 100*w.sure)
	}
	return fmt.Sprintf(" (%.0f %% sure; else %s)", 100*w.sure, strings.Join(others, " and "))
}

// followerSigns checks the channels that only repeat another: the speed that the
// drive reports, the position command and the load cell.
func (v *view) followerSigns() []Finding {
	var found []Finding
	sign := func(fault wire) float64 {
		if v.wiring.has(fault) {
			return -1
		}
		return 1
	}
	check := func(c trace.Channel, r float64, s Severity, text string) {
		if r < -0.5 {
			found = append(found, v.finding(WrongSign, s, c, nil, fmt.Sprintf("%s has the wrong sign: %s.", c.Words(), text),
				fmt.Sprintf("State sign = -1 for %s in the machine file.", c)).turned())
		}
	}
	if v.has(trace.MotorSpeed, trace.MotorPosition) {
		check(trace.MotorSpeed, sign(encoder)*correlation(v.motorSpeed(), v.frame[trace.MotorSpeed], v.good), Harm, "it falls while the motor position rises faster")
	}
	if v.has(trace.PositionCommand, trace.RodPosition) {
		r := v.frame[trace.PositionCommand]
		x := v.frame[trace.RodPosition]
		check(trace.PositionCommand, sign(rod)*correlation(centred(r), centred(x), nil), Stop, "the rod moves away from it")
	}
	if v.has(trace.Force, trace.CapPressure, trace.RodPressure) {
		check(trace.Force, sign(swapped)*v.cellSign(), Stop, "it falls while the pressures push the rod out harder")
	}
	return found
}

// cellSign is +1 or -1 where the load cell surely follows the pressures or goes against
// them, friction taken out, and 0 where neither is sure.
func (v *view) cellSign() float64 {
	n := v.motorSpeed()
	columns := make([][]float64, 4)
	var y []float64
	for k := 0; k < len(v.good); k++ {
		if !v.good[k] {
			continue
		}
		way := 0.0
		if n != nil {
			way = clip(n[k] / (0.02*v.motion.TopSpeed + 1e-9))
		}
		y = append(y, v.frame[trace.Force][k])
		for j, x := range []float64{v.frame[trace.CapPressure][k], v.frame[trace.RodPressure][k], way, 1} {
			columns[j] = append(columns[j], x)
		}
	}
	fit, err := lsq.Linear{Columns: columns, Y: y}.SolveRobust(2)
	if err != nil {
		return 0
	}
	up, down := fit.X[0]/fit.StdDev(0), -fit.X[1]/fit.StdDev(1)
	switch {
	case up+down > 50 && math.Min(up, down) > -10:
		return 1
	case up+down < -50 && math.Max(up, down) < 10:
		return -1
	}
	return 0
}

// centred takes the mean off.
func centred(y []float64) []float64 {
	m := mean(y)
	out := make([]float64, len(y))
	for k, s := range y {
		out[k] = s - m
	}
	return out
}
