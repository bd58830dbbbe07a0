package ident

import (
	"fmt"
	"math"
	"strings"

	"eha/strokewise/ident/lsq"
	"eha/strokewise/ident/outputerror"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// mostStretches are taken of all logs together, leastStretches of each of many; every
// tryEvery-th, from the tryFirst-th on, is not fitted to but tried.
const (
	mostStretches  = 20
	leastStretches = 5
	tryEvery       = 5
	tryFirst       = 3
)

// What the model's own shortcomings leave open of what output error finds, as
// standard deviations in shares of the value: bristles, valves that take time,
// oil that is not alike along the stroke. Where they show, in what is left of the
// stretches tried, they count for more. spreadFactor goes to the spread over
// stretches, which are few and not all independent.
var (
	lacksFrequency = shortcoming{0.01, 0.2}
	lacksDamping   = shortcoming{0.10, 1.5}
)

const (
	spreadFactor = 2.0
	lacksDelay   = 1.5e-4 // s, the same of the transducer's delay
)

// shortcoming is a standard deviation as a share of the value: its least, and how
// it grows with the share of the stretches tried that is left unexplained.
type shortcoming struct{ least, growth float64 }

// clearLoad (Pa) is how far the chamber that carries must stand above the
// reservoir for the model to hold through the ringing: nearer, both chambers and
// their valves have a part in it.
const clearLoad = 8e5

// refine fits the dynamics by output error from the model that stands on the
// balances of flow and force, sets frequency and damping beside those, and takes
// the narrower where stretches not fitted to are explained better. Mass, friction
// and compliances, which the search moves too, stay: the balances tell them several
// times better, and so they do damping with pressures. It reports whether a
// parameter changed.
func (f *fitting) refine(m *plant.Model) bool {
	if f.stroke == nil || !f.params[plant.HydraulicFrequency].Known() {
		return false
	}
	if f.stroke.Pressures && !(f.stroke.AreasKnown && f.params[plant.MovingMass].Known()) {
		return false // the model's forces are not those of the pressures logged
	}
	c, x, p := f.softest(m)
	if f.stroke.Pressures && p < m.LowPressure+clearLoad {
		f.refinement = "Not refined by output error: near zero load both chambers have a part in the resonance."
		return false
	}
	problem := outputerror.Problem{Model: *m, Chamber: c, At: x, Pressure: p, TopSpeed: f.topSpeed()}
	f.pickStretches(&problem, m.Resonance(c, x, p, 1).NaturalFreq)
	r, err := outputerror.Fit(problem)
	if err != nil {
		f.refinement = "Not refined by output error: too few stretches of travel with changing speed."
		return false
	}
	f.refinement = ending(&r)
	for _, u := range r.LeftOut {
		f.warnings = append(f.warnings, fmt.Sprintf("%s: the model cannot explain the motion from %.1f to %.1f s (%.0f %% of it is left), which was left out of the refinement: the rod rang by itself or was pushed; look at that move", u.Log, u.Start, u.Start+u.Duration(), 100*u.Share))
	}
	from := fmt.Sprintf("output error on %d stretches with changing speed", r.Used)
	better := r.Ending == lsq.Converged && len(r.AtBound) == 0 && r.After < r.Before
	a := f.setBeside(plant.HydraulicFrequency, r.Frequency, lacksFrequency.of(&r), better, from)
	// Where the pump's ripple meets the resonance it looks like less damping: what
	// the balances tell well stands.
	told := f.stroke.Pressures && f.params[plant.HydraulicDamping].Status == plant.Identified
	b := !told && f.setBeside(plant.HydraulicDamping, r.Damping, lacksDamping.of(&r), better, from)
	d := !f.stroke.Pressures && r.Delay.Value > 0 && f.setBeside(plant.TransducerDelay, r.Delay, lacksDelay/r.Delay.Value, better, from)
	return a || b || d
}

// pickStretches fills in what to fit to and what to try the fit on.
func (f *fitting) pickStretches(p *outputerror.Problem, omega float64) {
	for i, t := range f.logs {
		if t.Has(trace.CapPressure, trace.RodPressure) != f.stroke.Pressures || len(p.Stretches) > 2*mostStretches {
			continue
		}
		var pressing []trace.Span
		for _, press := range f.presses(i) {
			pressing = append(pressing, press.Span)
		}
		for k, s := range outputerror.Pick(t.WithGaps(pressing), omega, max(mostStretches/len(f.logs), leastStretches)) {
			if k%tryEvery == tryFirst {
				p.Tried = append(p.Tried, s)
			} else {
				p.Stretches = append(p.Stretches, s)
			}
		}
	}
}

func (s shortcoming) of(r *outputerror.Result) float64 {
	if math.IsNaN(r.After) {
		return s.least
	}
	return math.Hypot(s.least, s.growth*r.After)
}

// setBeside sets what output error found of a parameter beside what stands. The
// narrower is kept if better says that the refined model does better where it was
// not fitted; two that exclude each other are both doubtful, and the interval spans
// both. It reports whether the estimate changed.
func (f *fitting) setBeside(p plant.Param, found outputerror.Number, lacks float64, better bool, from string) bool {
	half := 1.96 * math.Hypot(spreadFactor*found.Sigma, lacks*found.Value)
	refined := p.Found(found.Value, found.Value-half, found.Value+half, from)
	stands := f.params[p]
	switch {
	case !better:
		return false
	case stands.Known() && (refined.Low > stands.High || stands.Low > refined.High):
		k := p.Info().Factor
		f.warnings = append(f.warnings, fmt.Sprintf("%s (%s): %.3g from %s, %.3g by output error; the interval spans both", p, p.Info().Unit, k*stands.Value, stands.From, k*refined.Value))
		stands.Low, stands.High = math.Min(stands.Low, refined.Low), math.Max(stands.High, refined.High)
		stands.Status = plant.Weak
		f.params[p] = stands
	case stands.Known() && refined.HalfWidth() >= stands.HalfWidth():
		return false
	default:
		f.params[p] = refined
	}
	return true
}

// ending says how the search ended.
func ending(r *outputerror.Result) string {
	text := fmt.Sprintf("Output error on %d stretches with changing speed: %s after %d steps", r.Used, r.Ending, r.Steps)
	if n := len(r.LeftOut); n > 0 {
		text += fmt.Sprintf(", %d left out as not explained", n)
	}
	if len(r.AtBound) > 0 {
		text += ", at its limit: " + strings.Join(r.AtBound, ", ")
	}
	if !math.IsNaN(r.After) {
		text += fmt.Sprintf("; on stretches not fitted to it leaves %.1f %% of the motion, %.1f %% before", 100*r.After, 100*r.Before)
	}
	return text + "."
}
