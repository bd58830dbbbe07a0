package flow

import (
	"math"

	"eha/strokewise/ident/window"
)

// lowSpread is what the low side's pressure may differ by between the chamber
// that discharges and the one that is made up, though both stand at the
// reservoir (Pa, one standard deviation).
const lowSpread = 0.6e5

// lowReadings returns the pressures that a chamber's sensor shows while the
// other one carries and the rod moves slowly.
func lowReadings(logs []*means, level float64, side int) []float64 {
	var readings []float64
	for _, m := range logs {
		var fastest float64
		for _, v := range m.travel {
			fastest = math.Max(fastest, math.Abs(v))
		}
		for i := range m.x {
			across := (m.cap[i] - m.rod[i]) * float64(side)
			if m.bad[i] || across < level || math.Abs(m.travel[i]) > 0.2*fastest {
				continue
			}
			p := m.rod[i]
			if side < 0 {
				p = m.cap[i]
			}
			readings = append(readings, p)
		}
	}
	return readings
}

// lowOffset returns what is known beforehand of the pressure sensors' relative
// offset, to be added to p_cap - p_rod. Where both chambers are seen as the low
// side, both sensors read the reservoir's pressure there.
func lowOffset(logs []*means, level float64) window.Prior {
	rod, cap := lowReadings(logs, level, 1), lowReadings(logs, level, -1)
	if float64(min(len(rod), len(cap)))*meanTime < 0.5 {
		return window.Prior{Sigma: offsetSpan}
	}
	return window.Prior{Mean: median(rod) - median(cap), Sigma: lowSpread}
}

// reservoirPressure returns the pressure (Pa) of the low side in slow travel as
// the sensors read it. Its interval is the spread of the readings.
func reservoirPressure(logs []*means, level float64) Number {
	readings := append(lowReadings(logs, level, 1), lowReadings(logs, level, -1)...)
	if len(readings) == 0 {
		return Number{}
	}
	middle := median(readings)
	return Number{middle, math.Max((quantile(readings, 0.84)-quantile(readings, 0.16))/2, lowSpread)}
}
