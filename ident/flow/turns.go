package flow

import (
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/window"
)

// turns is the regression from travel to motor turns, in turns:
//
//	dθ - ∫|Δp|/B dθ_p = A_h/D·(dx + d f(x)) + a ∫c dθ_p + s ∫Δp·(1 + r|n|/N) dt + s·d·dt
//	                    ± (c0 + c1·x) d(p_h) + τ dn
//
// with the unknowns 1/D (or A_h/D of each chamber where areas are unknown),
// air a, slip s (rad/s per Pa), its rise r up to the fastest speed N (rad/s),
// relative offset d of the pressure sensors (Pa),
// compliance over displacement c0, c1 of each chamber, transducer delay τ (s)
// and the curve f. θ_p counts turns against pressure only.
type turns struct {
	moves []move
	time  float64                   // s, of the moves before they were thinned
	areas plant.PerChamber[float64] // m²; 1 where unknown
	known bool
	// What the previous pass found, for the columns that are products.
	ratio  plant.PerChamber[float64] // rad/m
	slip   float64
	share  float64      // of free air
	speed  float64      // rad/s, the fastest mean speed of the moves
	offset window.Prior // of d (Pa)
	air    window.Prior
	within map[string]window.Prior // of the unknowns that left what oil and pumps have
	warmth warmth
	curve  Curve // its span; no span before the first pass
	reach  float64
	fit    *window.Fit
	at     map[string]int // columns by name
}

type column struct {
	name  string
	prior window.Prior
	value func(v move) float64
}

// columns returns the unknowns that the moves can carry.
func (t *turns) columns() []column {
	var c []column
	add := func(name string, prior window.Prior, value func(v move) float64) {
		c = append(c, column{name, prior, value})
	}
	if t.known {
		add("ratio", window.Prior{}, func(v move) float64 { return t.areas.At(chamberOf(v.side)) * v.travel() })
	}
	for _, side := range []int{1, -1} {
		chamber := chamberOf(side)
		if !t.carries(side) {
			continue
		}
		if !t.known {
			add("ratio "+chamber.String(), window.Prior{}, func(v move) float64 {
				if v.side != side {
					return 0
				}
				return v.travel()
			})
		}
		store := t.ratio.At(chamber) / oilModulus
		gain := func(v move) float64 {
			if v.side != side {
				return 0
			}
			return float64(side) * v.pressureGain
		}
		add("store "+chamber.String(), window.Prior{Sigma: 3 * store * t.reach}, gain)
		add("walls "+chamber.String(), window.Prior{Sigma: wallsSpan * store}, func(v move) float64 { return gain(v) * t.length(v) })
		add("dead air "+chamber.String(), window.Prior{Mean: deadLength * airShare, Sigma: airShare}, func(v move) float64 {
			if v.side != side {
				return 0
			}
			return float64(side) * t.ratio.At(chamber) * t.reach * v.airGain
		})
	}
	add("air", t.air, func(v move) float64 {
		return v.airLost + float64(v.side)*t.ratio.At(chamberOf(v.side))*t.length(v)*v.airGain
	})
	add("oil", window.Prior{Mean: 1, Sigma: oilModulusSpan}, func(v move) float64 {
		return (v.driven + float64(v.side)*t.ratio.At(chamberOf(v.side))*t.length(v)*v.pressureGain) / oilModulus
	})
	add("pump air", t.held("pump air", window.Prior{Sigma: pumpAirSpan * t.share}), func(v move) float64 { return v.airLost })
	// 20 % of 3000 rpm at 100 bar would be a pump beyond use.
	add("slip", window.Prior{Sigma: 60 / 1e7}, func(v move) float64 { return v.leaked * t.warmth.thinned(v) })
	if t.warmth.varies && t.slip > 0 {
		prior := window.Prior{Mean: usualThinning - t.warmth.perKelvin, Sigma: thinningSpan}
		add("thinning", prior, func(v move) float64 {
			return t.slip * (v.warmth - t.warmth.mean) * v.leaked * t.warmth.thinned(v)
		})
	}
	if t.slip > 0 && t.speed > 0 {
		add("leak rise", t.held("leak rise", window.Prior{Mean: leakRise, Sigma: leakRiseSpan}), func(v move) float64 {
			return t.slip / t.speed * v.leakedFast * t.warmth.thinned(v)
		})
	}
	add("delay", window.Prior{Sigma: 0.02}, func(v move) float64 { return v.speedGain })
	if t.curve.To > t.curve.From {
		offset := window.Prior{Mean: t.slip * t.offset.Mean, Sigma: math.Abs(t.slip) * t.offset.Sigma}
		add("offset", offset, func(v move) float64 { return v.duration })
		for j := range innerKnots {
			add(knotName(j), window.Prior{Sigma: curveSpan * t.reach}, func(v move) float64 {
				gain := hat(t.curve.From, t.curve.To, j, v.to) - hat(t.curve.From, t.curve.To, j, v.from)
				return t.ratio.At(chamberOf(v.side)) * gain
			})
		}
	}
	return c
}

// length is that of the oil column that carries (m), mid-move.
func (t *turns) length(v move) float64 {
	if v.side < 0 {
		return t.reach - v.middle()
	}
	return v.middle()
}

func knotName(j int) string { return "curve " + string(rune('1'+j)) }

// carries reports whether the chamber of the side is alone under pressure for
// enough travel to fit anything to it.
func (t *turns) carries(side int) bool {
	return travelBy(t.moves, side, plant.Extend, math.Inf(-1), math.Inf(1))+
		travelBy(t.moves, side, plant.Retract, math.Inf(-1), math.Inf(1)) > sideTravel*moveTime/meanTime
}

// solve runs one pass and keeps what the next one needs.
func (t *turns) solve() error {
	cols := t.columns()
	t.at = make(map[string]int, len(cols))
	p := window.Problem{Y: make([]float64, len(t.moves)), Block: make([]int, len(t.moves))}
	for i, v := range t.moves {
		p.Y[i], p.Block[i] = v.turn, v.block
	}
	for j, c := range cols {
		t.at[c.name] = j
		x := make([]float64, len(t.moves))
		for i, v := range t.moves {
			x[i] = c.value(v)
		}
		p.X, p.Priors = append(p.X, x), append(p.Priors, c.prior)
	}
	fit, err := window.Solve(p)
	if err != nil {
		return err
	}
	t.fit = fit
	t.slip = t.number("slip").Value
	t.share = math.Min(math.Max(t.number("air").Value, airLow), airHigh)
	t.warmth.perKelvin += t.number("thinning").Value
	for _, chamber := range []plant.Chamber{plant.Cap, plant.Rod} {
		if r, ok := t.ratioOf(chamber); ok {
			t.ratio.Set(chamber, r.Value)
		}
	}
	return nil
}

// across returns the mean pressure across the pump (Pa).
func (t *turns) across() float64 {
	var sum float64
	for _, v := range t.moves {
		sum += math.Abs(v.across) / float64(len(t.moves))
	}
	return sum
}

// acrossInTravel returns the mean pressure across the pump (Pa) over the travel.
func (t *turns) acrossInTravel() float64 {
	var sum, way float64
	for _, v := range t.moves {
		sum += math.Abs(v.across * v.travel())
		way += math.Abs(v.travel())
	}
	return sum / math.Max(way, math.SmallestNonzeroFloat64)
}

// storedShare returns how much of the turns of the travel the chambers take up for
// good beside it, as a share of these: under a load that grows with the travel, most
// of all where the rod presses. Fits of the compliance can be wrong by complianceDoubt of it.
func (t *turns) storedShare() float64 {
	var stored, travelled float64
	for _, v := range t.moves {
		chamber := chamberOf(v.side)
		gain := float64(v.side) * v.pressureGain
		takes := t.number("store "+chamber.String()).Value*gain + t.ratio.At(chamber)/oilModulus*t.length(v)*gain
		stored += takes * math.Copysign(1, v.travel())
		travelled += t.ratio.At(chamber) * math.Abs(v.travel())
	}
	return math.Abs(stored) / math.Max(travelled, math.SmallestNonzeroFloat64)
}

// fastest returns the largest mean motor speed of the moves (rad/s).
func fastest(moves []move) float64 {
	most := 0.0
	for _, v := range moves {
		most = math.Max(most, math.Abs(v.speed))
	}
	return most
}

// number returns the unknown of that name, zero where it was not fitted.
func (t *turns) number(name string) Number {
	j, ok := t.at[name]
	if !ok {
		return Number{}
	}
	return Number{t.fit.Coef[j], t.fit.Sigma(j)}
}

// ratioOf returns turns per travel (rad/m) of the chamber and whether the moves tell it.
func (t *turns) ratioOf(c plant.Chamber) (Number, bool) {
	if t.known {
		q := t.number("ratio")
		return Number{q.Value * t.areas.At(c), q.Sigma * t.areas.At(c)}, true
	}
	_, ok := t.at["ratio "+c.String()]
	return t.number("ratio " + c.String()), ok
}

// hold narrows the priors of the unknowns that left the range that oil in use and
// pumps have: pressing and friction push them there, where they say nothing of oil or
// pump. It reports whether any did.
func (t *turns) hold() bool {
	t.within = map[string]window.Prior{}
	if a := t.number("air").Value; a < airLow || a > airHigh {
		t.air = window.Prior{Mean: math.Min(math.Max(a, airLow), airHigh), Sigma: airSpan / 10}
		t.within["air"] = t.air
	}
	for name, p := range map[string]window.Prior{"pump air": {Sigma: pumpAirSpan * t.share}, "leak rise": {Mean: leakRise, Sigma: leakRiseSpan}} {
		if away := t.number(name).Value - p.Mean; math.Abs(away) > mostSigmas*p.Sigma {
			t.within[name] = window.Prior{Mean: p.Mean + math.Copysign(p.Sigma, away), Sigma: p.Sigma / 20}
		}
	}
	return len(t.within) > 0
}

// mostSigmas is how far from its usual value an unknown is believed; one that lies
// further away is held at one standard deviation.
const mostSigmas = 2.0

// held returns the prior of the unknown, the one it was narrowed to if it was.
func (t *turns) held(name string, usual window.Prior) window.Prior {
	if p, narrowed := t.within[name]; narrowed {
		return p
	}
	return usual
}

// run makes the passes: a first one without the curve and the sensors' offset,
// whose columns need its result, two with them, and one more with what
// left the range that oil in use and pumps have held there.
func (t *turns) run() error {
	if err := t.solve(); err != nil {
		return err
	}
	t.curve.From, t.curve.To = span(t.moves)
	for range 2 {
		if err := t.solve(); err != nil {
			return err
		}
	}
	if t.hold() {
		if err := t.solve(); err != nil {
			return err
		}
	}
	t.curve.Add = make([]float64, innerKnots+2)
	for j := range innerKnots {
		t.curve.Add[j+1] = t.number(knotName(j)).Value
	}
	return nil
}
