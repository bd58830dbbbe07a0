package tuning

import (
	"math"
	"sort"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/loop"
)

// slowShare is the share of full speed of the slow travel that loops are linearised in.
const slowShare = 0.06

// assumedMassRange are the masses, as factors of the one found, that the loops
// hold for where no range is stated.
var assumedMassRange = [2]float64{0.6, 1.6}

// corner is one point of the design grid.
type corner struct {
	place loop.Place
	delay float64 // s, outer delay
	load  float64 // N, axial load there
	mode  mode
}

// mode is how far the resonance may be from the model's: factors on its
// frequency and on what damps it.
type mode struct{ frequency, damping float64 }

// sureMode is the model's own mode.
var sureMode = mode{1, 1}

// Where a resonance was never excited the logs bound it: it may lie as low as
// half of what the model takes and be damped half as much (common practice, no
// source). A weak estimate is taken at the ends of its interval.
const (
	unseenFrequency = 0.5
	unseenDamping   = 0.5
	// A weak damping is doubted less than its interval says: on simulated machines
	// the model erred to too little damping, and with a low-pass on the demand the
	// margins hardly hang on it.
	weakDamping = 0.75
)

// modes returns the modes to hold for.
func (d *design) modes() []mode {
	low, high := d.reach(plant.HydraulicFrequency, unseenFrequency)
	calm, _ := d.reach(plant.HydraulicDamping, unseenDamping)
	if d.p.Est(plant.HydraulicDamping).Status != plant.Missing {
		calm = max(calm, weakDamping)
	}
	list := []mode{sureMode}
	if low < 1 || calm < 1 {
		list = append(list, mode{low, calm})
	}
	if high > 1 {
		list = append(list, mode{high, calm})
	}
	return list
}

// reach returns the factors on the model's value that the parameter's interval
// reaches to: 1 where it is identified, the fallback and 1 where it is missing.
func (d *design) reach(param plant.Param, fallback float64) (low, high float64) {
	e := d.p.Est(param)
	switch e.Status {
	case plant.Identified, plant.Given:
		return 1, 1
	case plant.Missing:
		return fallback, 1
	}
	if !(e.Value > 0) {
		return fallback, 1
	}
	return min(max(e.Low/e.Value, fallback/2), 1), min(max(e.High/e.Value, 1), 2)
}

// corners returns the grid for one direction of travel: both ends and the middle
// of the stroke, the masses, the process loads and the band of the outer delay, each
// with the chamber that carries, or with both where that is not sure.
func (d *design) corners(m *plant.Model, dir plant.Direction, delays []float64) []corner {
	modes := []mode{sureMode}
	if m == &d.model { // models that are drawn hold their own doubt
		modes = d.modes()
	}
	var all []corner
	for _, x := range d.places {
		for _, factor := range d.factors {
			seen := map[loop.Place]bool{}
			for _, process := range d.process {
				load := d.loadAt(m, x, factor) + process
				for _, place := range d.carried(m, dir, x, factor, load) {
					if seen[place] {
						continue
					}
					seen[place] = true
					for _, delay := range delays {
						for _, mode := range modes {
							all = append(all, corner{place, delay, load, mode})
						}
					}
				}
			}
		}
	}
	return all
}

// loadAt returns the axial load (N) at x with the mass factor: the model's, with
// its departure along the stroke as the load map has it.
func (d *design) loadAt(m *plant.Model, x, factor float64) float64 {
	load := m.LoadAt(factor)
	if lm := d.p.LoadMap; len(lm.Position) > 1 && len(lm.AxialLoad) == len(lm.Position) {
		load += interpolate(lm.Position, lm.AxialLoad, x) - d.p.Model.AxialLoad
	}
	return load
}

// carried returns the places, one per chamber that can carry in slow travel.
func (d *design) carried(m *plant.Model, dir plant.Direction, x, factor, load float64) []loop.Place {
	force := dir.Sign()*(m.Coulomb.At(dir)+m.Viscous*d.slow) - load
	center := (m.Area.Cap - m.Area.Rod) * m.LowPressure
	main := m.Carrier(force)
	chambers := []plant.Chamber{main}
	if math.Abs(force-center) < 0.25*m.Coulomb.At(dir) {
		chambers = append(chambers, main.Other())
	}
	var places []loop.Place
	for _, c := range chambers {
		pressure := max(m.PressureFor(c, force), m.LowPressure+0.25*m.Coulomb.At(dir)/m.Area.At(c))
		places = append(places, loop.Place{Direction: dir, Chamber: c, Position: x, Pressure: pressure, MassFactor: factor})
	}
	return places
}

// positions returns the ends of the usable stroke and its middle (m).
func positions(m *plant.Model, margin float64) []float64 {
	margin = min(max(margin, 0.02*m.Stroke), 0.3*m.Stroke)
	return []float64{margin, m.Stroke / 2, m.Stroke - margin}
}

// massFactors returns the masses to hold for as factors of the model's, the model's own among them.
func massFactors(limits [2]float64, mass float64, inKilograms bool) []float64 {
	low, high := assumedMassRange[0], assumedMassRange[1]
	if limits[1] > 0 {
		low, high = limits[0], limits[1]
		if inKilograms {
			low, high = low/mass, high/mass
		}
	}
	factors := []float64{low, 1, high}
	sort.Float64s(factors)
	return distinct(factors)
}

// distinct drops neighbours that are equal.
func distinct(sorted []float64) []float64 {
	kept := sorted[:1]
	for _, v := range sorted[1:] {
		if v-kept[len(kept)-1] > 1e-9*math.Abs(v) {
			kept = append(kept, v)
		}
	}
	return kept
}
