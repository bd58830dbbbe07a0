package main

import (
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/samples/twin"
)

// outcome is one parameter of one machine against its truth, in the unit of the
// JSON results. Errors and widths are shares of the true value.
type outcome struct {
	param      plant.Param
	known      bool    // there is a number
	identified bool    // and its status says so
	strict     float64 // error against the definition's own value
	near       float64 // against the nearest value that the definition lets one defend
	half       float64 // half-width
	covered    bool    // the interval holds a defensible value
	far        bool    // identified, yet more than three half-widths off
}

// scoreOf compares an estimate with the truth. A parameter whose truth may be
// about zero is compared with floor in place of it.
func scoreOf(p plant.Param, e plant.Estimate, truth twin.True, floor float64) outcome {
	o := outcome{param: p, known: e.Known()}
	if !o.known {
		return o
	}
	factor := p.Info().Factor
	value, low, high := e.Value*factor, e.Low*factor, e.High*factor
	size := math.Max(math.Abs(truth.Value), floor)
	nearest := math.Max(truth.Range[0], math.Min(truth.Range[1], value))
	o.identified = e.Status == plant.Identified
	o.strict = math.Abs(value-truth.Value) / size
	o.near = math.Abs(value-nearest) / size
	o.half = (high - low) / 2 / size
	o.covered = low <= truth.Range[1] && high >= truth.Range[0]
	o.far = o.identified && o.near > 3*o.half
	return o
}

// floorOf returns the size (JSON unit) below which an error is not counted as a
// share of the value: 1 % of the working pressure on the cap side for forces
// that may be zero, half a bar for line loss.
func floorOf(p plant.Param, m *twin.Machine) float64 {
	switch p {
	case plant.AxialLoad:
		return 0.01 * twin.WorkingPressure * m.AreaCap() * 1e-3
	case plant.LineLoss:
		return 0.5
	}
	return 0
}

// informed reports whether the machine's logs hold what the parameter needs, so
// that a missing one counts against the fit. Outer delay and acceleration limit
// show in closed loop only.
func informed(p plant.Param, m *twin.Machine, closedLoop bool) bool {
	if p == plant.OuterDelay || p == plant.AccelerationLimit {
		return closedLoop
	}
	if !m.Sensors.NoPressures {
		return true
	}
	switch p {
	case plant.StrokePerTurnExtend, plant.StrokePerTurnRetract, plant.DriveBandwidth, plant.DriveDamping,
		plant.DeadTime, plant.HydraulicFrequency, plant.HydraulicDamping:
		return true
	}
	return false
}

// score compares every parameter of the plant with the machine's truth.
func score(m *twin.Machine, p *plant.Plant, closedLoop bool) []outcome {
	truth := twin.TruthOf(m)
	if w := p.SlipThinning; w.PerKelvin.Known() {
		truth = truth.AtTemperature(m, w.Temperature)
	}
	var all []outcome
	for _, param := range plant.Params() {
		want, ok := truth.Params[param.String()]
		if !ok || !informed(param, m, closedLoop) {
			continue
		}
		all = append(all, scoreOf(param, p.Est(param), want, floorOf(param, m)))
	}
	return all
}
