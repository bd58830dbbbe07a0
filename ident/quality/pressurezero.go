package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/trace"
)

const (
	// usualZero (Pa) is the zero error that a pressure sensor may have unnoticed (common practice, no source).
	usualZero = 1e5
	// zeroShare is the share of the carried pressure from which that error is worth asking for: below it
	// the axial load is hardly ever known better.
	zeroShare = 0.03
	// zeroTime (s) is how long a chamber must be relieved for its zero to be seen.
	zeroTime = 1.0
)

// unseenZero asks for the zero of a pressure that carries the load in all the logs,
// which cannot be told from the load; empty where there is none. Logs with a pressure in doubt are not given to it.
func unseenZero(views []*view) string {
	var across []float64 // cap less rod side
	var relieved [2]float64
	var last *view
	for _, v := range views {
		p1, p2 := v.frame[trace.CapPressure], v.frame[trace.RodPressure]
		if p1 == nil || p2 == nil {
			continue
		}
		last = v
		for k := range p1 {
			d := p1[k] - p2[k]
			if d < clearlyHigh {
				relieved[0] += v.dt
			}
			if d > -clearlyHigh {
				relieved[1] += v.dt
			}
			if v.kind[k] != motion.Accelerating {
				across = append(across, d)
			}
		}
	}
	if last == nil || len(across) == 0 {
		return ""
	}
	areaCap, areaRod := last.areas()
	carried := median(across)
	c, area := trace.CapPressure, areaCap
	if carried < 0 {
		c, area = trace.RodPressure, areaRod
	}
	// Without areas no load is found, and beside a high pressure the error is small.
	if area == 0 || relieved[int(c-trace.CapPressure)] >= zeroTime || usualZero < zeroShare*math.Abs(carried) {
		return ""
	}
	return fmt.Sprintf("Is the zero of %s right? It carries the load throughout, %s above the other at the median, so no log shows it, and 1 bar of error is %.2g kN of axial load. "+
		"Log the rod at rest with the load taken off it for %.0f s or more, or compare the reading with a gauge, and state what it reads too little as offset of %s.",
		c.Words(), inUnit(c, math.Abs(carried)), 1e-3*usualZero*area, 2*zeroTime, c)
}
