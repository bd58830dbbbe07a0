package flow

import (
	"fmt"
	"math"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/ident/window"
)

// Stroke is what the turns equation gives.
type Stroke struct {
	// Areas are those of bore and rod (m²) if AreasKnown; otherwise they are
	// scaled such that Displacement is the nameplate's, or 1e-6 m³/rad without one.
	Areas        plant.PerChamber[float64]
	AreasKnown   bool
	Pressures    bool    // whether pressures were logged; without, only PerTurn, Curve and Delay are real
	Displacement Number  // m³/rad
	Slip         Number  // rad/s per Pa, near rest
	LeakRise     float64 // s/rad, share of itself by which slip grows per motor speed
	Thinning     plant.SlipThinning
	Air          Number  // share of free air at atmospheric pressure
	Delay        Number  // s, of the transducer behind the encoder
	Offset       Number  // Pa, to be added to p_cap - p_rod as logged
	Reservoir    Number  // Pa gauge, of the low side in slow travel
	Travel       float64 // m, the stroke of the machine file or the travel logged
	PerTurn      plant.PerDirection[Number]
	// Carrier is the side that carries mid-stroke in each direction of these
	// logs: +1 the cap side, -1 the rod side, 0 where the logs do not show it.
	Carrier plant.PerDirection[int]
	// mixed says of each direction that the other side carries over much of its travel too.
	mixed plant.PerDirection[bool]
	Curve Curve
	// Map is the travel per turn along the stroke as the transducer reads it.
	Map          plant.StrokeMap
	SlipPoints   []plant.Point // pressure across the pump (Pa) against motor speed lost (rad/s)
	MismatchRate float64       // m/s, 99.9 % of encoder against transducer over moveTime, slip taken out
	Params       map[plant.Param]plant.Estimate
	Warnings     []string
}

// Leakage returns the leakage across the pump (m³/(s·Pa)).
func (s *Stroke) Leakage() float64 { return s.Slip.Value * s.Displacement.Value }

// FitStroke fits turns to stroke, slip and the transducer's delay and curve from
// all logs together; each must be of the same machine. The logs need motor
// position and rod position; pressures tell which chamber carries and take slip
// and compression out. Bore and rod diameter of m make both chambers' ratios one.
//
// FitStroke returns ErrNoMotion if no log holds both positions and ErrTooLittle
// if there is too little travel.
func FitStroke(logs []*trace.Trace, m *machine.Machine) (*Stroke, error) {
	held := hold(logs)
	if len(held) == 0 {
		return nil, ErrNoMotion
	}
	var pressed, blind []*means
	for _, c := range held {
		if a := average(c, m.Limits.Relief); c.pressures() {
			pressed = append(pressed, a)
		} else {
			blind = append(blind, a)
		}
	}
	if len(pressed) == 0 {
		return fitBlind(blind, m)
	}
	return fitPressed(pressed, m)
}

// areasOf returns the chambers' areas (m²) and whether bore and rod are stated.
func areasOf(m *machine.Machine) (plant.PerChamber[float64], bool) {
	cap := math.Pi / 4 * m.Cylinder.Bore * m.Cylinder.Bore
	rod := cap - math.Pi/4*m.Cylinder.Rod*m.Cylinder.Rod
	if !(cap > 0 && rod > 0 && m.Cylinder.Rod > 0) {
		return plant.PerChamber[float64]{Cap: 1, Rod: 1}, false
	}
	return plant.PerChamber[float64]{Cap: cap, Rod: rod}, true
}

// maxMoves bounds the rows of the regression: overlapping windows beyond it add nothing.
const maxMoves = 6000

func fitPressed(logs []*means, m *machine.Machine) (*Stroke, error) {
	level := sideLevel(logs)
	moves := collectMoves(logs, level)
	t := &turns{time: float64(len(moves)) * meanTime}
	moves = thin(moves, maxMoves)
	t.moves, t.air, t.warmth = moves, window.Prior{Mean: airShare, Sigma: airSpan}, warmthOf(moves)
	t.speed, t.share = fastest(moves), airShare
	t.areas, t.known = areasOf(m)
	ratio, ok := roughRatio(moves)
	if !ok {
		return nil, ErrTooLittle
	}
	if freeTravel(moves) < sideTravel*moveTime/meanTime {
		return nil, ErrTooLittle
	}
	t.ratio = plant.PerChamber[float64]{Cap: ratio, Rod: ratio}
	t.reach = travelOf(moves, m)
	t.offset = lowOffset(logs, level)
	if err := t.run(); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrTooLittle, err)
	}
	s := &Stroke{Pressures: true, Travel: t.reach, Curve: t.curve}
	s.fill(t, m)
	s.Reservoir = reservoirPressure(logs, level)
	s.Carrier = carriers(moves)
	s.guessCarriers(logs)
	s.ratios(t)
	s.estimates(t, m)
	s.drawMap()
	s.evidence(t)
	return s, nil
}

// sideLevel returns the pressure difference (Pa) beyond which one chamber
// carries: oneSided, or less on machines that hardly reach it.
func sideLevel(logs []*means) float64 {
	var across []float64
	for _, m := range logs {
		for i := range m.x {
			if !m.bad[i] {
				across = append(across, math.Abs(m.cap[i]-m.rod[i]))
			}
		}
	}
	return math.Min(oneSided, 0.4*quantile(across, 0.9))
}

// roughRatio returns the turns per travel (rad/m) of the longer moves.
func roughRatio(moves []move) (float64, bool) {
	var longest float64
	for _, v := range moves {
		longest = math.Max(longest, math.Abs(v.travel()))
	}
	var ratios []float64
	for _, v := range moves {
		if math.Abs(v.travel()) > 0.1*longest && v.turn*v.travel() > 0 {
			ratios = append(ratios, v.turn/v.travel())
		}
	}
	return median(ratios), len(ratios) >= 20
}

// steadyGain is the share of the largest change of pressure in a move up to which it
// counts as travel with the load as it is, not as pressing.
const steadyGain = 0.2

// freeTravel returns the travel (m) of the moves, overlapping as they are, in which
// the pressure hardly changes. Where the rod presses on something the turns go into
// oil and contact, in proportion to the travel, and tell no ratio.
func freeTravel(moves []move) float64 {
	var largest, sum float64
	for _, v := range moves {
		largest = math.Max(largest, math.Abs(v.pressureGain))
	}
	for _, v := range moves {
		if math.Abs(v.pressureGain) < steadyGain*largest {
			sum += math.Abs(v.travel())
		}
	}
	return sum
}

// travelOf returns the stroke of the machine file, or the travel that the moves cover.
func travelOf(moves []move, m *machine.Machine) float64 {
	if m.Cylinder.Stroke > 0 {
		return m.Cylinder.Stroke
	}
	low, high := span(moves)
	return high - low
}

// fill takes over what does not depend on the direction of travel.
func (s *Stroke) fill(t *turns, m *machine.Machine) {
	s.AreasKnown, s.Areas = t.known, t.areas
	s.Slip, s.Air, s.Delay = t.number("slip"), t.number("air"), t.number("delay")
	s.Thinning = t.thinning()
	if t.speed > 0 {
		s.LeakRise = t.number("leak rise").Value / t.speed
	}
	if k := t.number("offset"); t.slip != 0 {
		s.Offset = Number{k.Value / t.slip, k.Sigma / math.Abs(t.slip)}
	}
	if t.known {
		q := t.number("ratio")
		s.Displacement = Number{1 / q.Value, s.ratioSigma(t, q) / (q.Value * q.Value)}
		return
	}
	scale := 1e-6
	if m.Pump.Displacement > 0 {
		scale = m.Pump.Displacement
	}
	s.Displacement = Number{Value: scale}
	s.Areas = plant.PerChamber[float64]{Cap: t.ratio.Cap * scale, Rod: t.ratio.Rod * scale}
}

// ratioSigma returns the standard deviation of a ratio with what the regression
// cannot see: the mean slope of the transducer's curve and the model's own error.
func (s *Stroke) ratioSigma(t *turns, q Number) float64 {
	unseen := unseenSlope * t.curve.RMS() / (t.curve.To - t.curve.From)
	// The model's own error averages out over as many moves as a survey holds.
	few := math.Sqrt(math.Min(math.Max(surveyTime/t.time, 1), 9))
	// Near zero load the valves are half open and take part of the oil.
	across := t.acrossInTravel()
	light := math.Min(math.Max(lowAcross/across, 1), 3)
	// Under a load that changes along the stroke the oil taken up goes with the
	// travel, and an error in the compliance is one in the ratio.
	model := math.Hypot(few*light*ratioFloor/1.96, complianceDoubt*t.storedShare())
	return math.Hypot(q.Sigma, math.Abs(q.Value)*math.Hypot(unseen, model))
}

// carriers returns the side that carries in each direction, by travel in the
// middle half of what was travelled, or anywhere if the middle shows none.
func carriers(moves []move) plant.PerDirection[int] {
	low, high := span(moves)
	quarter := (high - low) / 4
	var c plant.PerDirection[int]
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		for _, part := range [][2]float64{{low + quarter, high - quarter}, {low, high}} {
			cap, rod := travelBy(moves, 1, d, part[0], part[1]), travelBy(moves, -1, d, part[0], part[1])
			if cap+rod > sideTravel {
				c.Set(d, map[bool]int{true: 1, false: -1}[cap >= rod])
				break
			}
		}
	}
	return c
}

// mixedShare is the share of the travel in a direction from which on the other
// side counts as carrying there too: which of the two a move meets hangs on load and speed.
const mixedShare = 0.25

// guessCarriers fills in the directions in which no move was surely one-sided,
// as near zero load: the chamber that stands higher over most of the travel. It
// marks the directions in which the other stands higher over much of it too.
func (s *Stroke) guessCarriers(logs []*means) {
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		var cap, rod float64
		for _, m := range logs {
			for i, v := range m.travel {
				if m.bad[i] || v*d.Sign() <= 0 {
					continue
				}
				if m.cap[i]-m.rod[i]+s.Offset.Value > 0 {
					cap += math.Abs(v) * m.dt
				} else {
					rod += math.Abs(v) * m.dt
				}
			}
		}
		s.mixed.Set(d, min(cap, rod) > mixedShare*(cap+rod))
		switch {
		case s.Carrier.At(d) != 0 || cap+rod <= sideTravel:
		case cap >= rod:
			s.Carrier.Set(d, 1)
		default:
			s.Carrier.Set(d, -1)
		}
	}
}
