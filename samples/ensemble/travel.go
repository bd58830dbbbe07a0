package main

import (
	"math"

	"eha/strokewise/ident"
	"eha/strokewise/ident/plant"
	"eha/strokewise/samples/twin"
)

// The unseen stroke runs from one end of the stroke to the other, but for these
// shares, at a share of full speed that no survey plays.
const (
	strokeMargin = 0.06
	strokeSpeed  = 0.28
)

// strokeError plays a full stroke out that no log holds and returns by what share
// of the stroke the travel computed from turns and pressures is off the rod's true
// one; NaN where the plant has no pressures.
func strokeError(m *twin.Machine, p *plant.Plant) float64 {
	if m.Sensors.NoPressures || !p.PressuresSeen {
		return math.NaN()
	}
	low, high := strokeMargin*m.Stroke, (1-strokeMargin)*m.Stroke
	if c := m.Contact; c != nil && c.Sign > 0 {
		high = c.Position - strokeMargin*m.Stroke
	} else if c != nil {
		low = c.Position + strokeMargin*m.Stroke
	}
	log, seen := twin.PlaySpeed(m, low, strokeTable(m, high-low))
	t, err := traceOf(log)
	if err != nil {
		return math.NaN()
	}
	travel, ok := ident.TravelFromTurns(p, t)
	if !ok {
		return math.NaN()
	}
	return math.Abs(travel-(seen.End-low)) / m.Stroke
}

// strokeTable commands the way (m) at strokeSpeed with ramps of 0.2 s, rest before and after.
func strokeTable(m *twin.Machine, way float64) []float64 {
	const rest, ramp = 0.3, 0.2
	perTurn := m.Displacement / m.AreaCap()
	if twin.TravelSlowly(m, 1).Chamber == "rod" {
		perTurn = m.Displacement / m.AreaRod()
	}
	speed := strokeSpeed * m.MaxSpeed
	steady := math.Max(way/(perTurn*speed)-ramp, 0)
	var table []float64
	for t := 0.0; t < 2*rest+2*ramp+steady; t += m.ControlPeriod {
		share := math.Min((t-rest)/ramp, (rest+2*ramp+steady-t)/ramp)
		table = append(table, speed*math.Max(0, math.Min(1, share)))
	}
	return table
}
