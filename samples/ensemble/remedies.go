package main

import (
	"fmt"
	"math"
	"strings"

	"eha/strokewise/samples/twin"
	"eha/strokewise/tuning"
)

// remedied returns the machine with a remedy that a proposal speaks of; nil for
// one that is none of the machine's.
func remedied(m *twin.Machine, text string) *twin.Machine {
	c := *m
	less := 0.0
	switch {
	case text == "half the hose and dead volume":
		c.DeadCap, c.DeadRod, c.LineVolume, c.WallCap, c.WallRod = m.DeadCap/2, m.DeadRod/2, m.LineVolume/2, m.WallCap/2, m.WallRod/2
	case text == "a drive half as fast again":
		c.DriveFreq *= 1.5
	case text == "half the air in the oil":
		c.Air /= 2
	case text == "half the controller's period and outer delay":
		c.ControlPeriod, c.OuterDelay = m.ControlPeriod/2, m.OuterDelay/2
		base := *m.Loops.Position
		base.Period = c.ControlPeriod
		c.Loops.Position = &base
	case strings.HasSuffix(text, "less delay in the outer loop"):
		if _, err := fmt.Sscanf(text, "%g ms", &less); err != nil {
			return nil
		}
		c.OuterDelay = math.Max(m.OuterDelay-less*1e-3, 0)
	default:
		return nil
	}
	return &c
}

// judgeRemedies compares what the proposal promises of each remedy with the gain
// that the machine with it allows, both as a factor.
func (v *loopsVerdict) judgeRemedies(m *twin.Machine, t *tuning.Proposal) {
	before := 0.0
	for _, l := range t.Limits {
		better := remedied(m, l.Remedy)
		if better == nil {
			continue
		}
		if before == 0 {
			before = twin.GainLimit(m, twin.UsualTargets(), massFactors)
		}
		after := twin.GainLimit(better, twin.UsualTargets(), massFactors)
		v.remedies.add(within(l.Gain, after/before, 0.1))
	}
}
