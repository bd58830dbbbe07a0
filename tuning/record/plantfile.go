package record

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
)

// EncodePlant returns the plant document: what other programs read, and beside it
// all that reading it back needs.
func EncodePlant(p *plant.Plant) ([]byte, error) {
	d := plantDocument{
		Format: PlantFormat, Demo: p.Demo, Machine: p.Machine.Name,
		Logs:       []logEntry{},
		Parameters: map[plant.Param]estimate{},
		StrokeMap: strokeMap{numbers(p.StrokeMap.Position, 1e3),
			numbers(p.StrokeMap.PerTurn.Extend, perTurn), numbers(p.StrokeMap.PerTurn.Retract, perTurn)},
		LoadMap: loadMap{numbers(p.LoadMap.Position, 1e3), numbers(p.LoadMap.AxialLoad, 1e-3),
			numbers(p.LoadMap.Friction.Extend, 1e-3), numbers(p.LoadMap.Friction.Retract, 1e-3)},
		Change:   numbers(p.ChamberChange, 1e3),
		Warnings: append([]string{}, p.Warnings...),
	}
	for _, l := range p.Logs {
		d.Logs = append(d.Logs, logEntry{l.File, l.SHA256, l.Rows, number(l.Duration), number(l.Period)})
	}
	for _, param := range plant.Params() {
		d.Parameters[param] = encodeEstimate(param, p.Est(param))
	}
	for _, c := range p.Changes {
		d.Changes = append(d.Changes, refitEntry{c.Param, encodeEstimate(c.Param, c.Before), encodeEstimate(c.Param, c.After), c.Moved})
	}
	v := p.Validation
	d.Validation = validation{HeldOut: number(v.HeldOut), Verdict: v.Verdict, Refinement: v.Refinement}
	if v.HeldOut > 0 {
		d.Validation.RodSpeed, d.Validation.Stroke = optional(100*v.RodSpeed), optional(1e3*v.StrokeFromTurns)
		if p.PressuresSeen {
			d.Validation.CapPressure, d.Validation.RodPressure = optional(100*v.CapPressure), optional(100*v.RodPressure)
		}
	}
	if w := p.SlipThinning; w.PerKelvin.Known() {
		d.Thinning = &thinning{number(w.Temperature - freezing), optional(w.PerKelvin.Value), optional(w.PerKelvin.Low), optional(w.PerKelvin.High)}
	}
	if p.Model.Check() == nil {
		d.Model = encodeModel(p)
	}
	return encode(d)
}

const freezing = 273.15 // K, of water

const perTurn = 2 * math.Pi * 1e3 // m/rad -> mm/rev

func optional(v float64) *number {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	n := number(v)
	return &n
}

func encodeEstimate(param plant.Param, e plant.Estimate) estimate {
	info := param.Info()
	out := estimate{Unit: info.Unit, Status: e.Status.String(), From: e.From}
	if e.Known() {
		out.Value, out.Low, out.High = optional(e.Value*info.Factor), optional(e.Low*info.Factor), optional(e.High*info.Factor)
	}
	return out
}

func encodeModel(p *plant.Plant) *modelPart {
	e := p.Evidence
	m := &modelPart{
		Model: p.Model, AreasKnown: p.AreasKnown, MassKnown: p.MassKnown, PressuresSeen: p.PressuresSeen,
		Seen: p.Seen, Machine: encodeMachine(p.Machine),
		Friction: e.Friction, Slip: e.Slip, Resonance: e.Resonance, LostMotion: e.LostMotion, LostForce: numbers(e.LostMotionForce, 1), Pressing: e.Pressing,
		MapResidual: number(p.StrokeMap.ResidualWorst), Transducer: numbers(p.StrokeMap.TransducerCurve, 1),
	}
	for _, o := range e.HoldOut {
		m.HoldOut = append(m.HoldOut, thinned(o))
	}
	for _, r := range e.Responses {
		part := responsePart{From: r.From, To: r.To, Position: r.Position, Chamber: r.Chamber, Chambers: r.Chambers, Direction: r.Direction, Directed: r.Directed,
			Omega: r.Omega, Coherence: r.Coherence, RelError: r.RelError}
		part.Re, part.Im = split(r.Measured)
		part.FitRe, part.FitIm = split(r.Fitted)
		m.Responses = append(m.Responses, part)
	}
	return m
}

type overlayPart struct {
	Channel           string
	Period, Start     number
	Measured, Modeled []number
}

// overlayPoints is as many points of a stretch held out as a plot can show.
const overlayPoints = 800

// thinned keeps every so many samples of a stretch, as many as a plot can show.
func thinned(o plant.Overlay) overlayPart {
	n := min(len(o.Measured), len(o.Modeled))
	step := max(1, (n+overlayPoints-1)/overlayPoints)
	part := overlayPart{Channel: o.Channel, Period: number(o.Period * float64(step)), Start: number(o.Start)}
	for i := 0; i < n; i += step {
		part.Measured = append(part.Measured, number(roundTo(o.Measured[i], 5)))
		part.Modeled = append(part.Modeled, number(roundTo(o.Modeled[i], 5)))
	}
	return part
}

func split(z []complex128) (re, im []float64) {
	for _, v := range z {
		re, im = append(re, real(v)), append(im, imag(v))
	}
	return re, im
}

func join(re, im []float64) []complex128 {
	if len(re) != len(im) {
		return nil
	}
	var z []complex128
	for i := range re {
		z = append(z, complex(re[i], im[i]))
	}
	return z
}

// DecodePlant reads a plant document that EncodePlant wrote. The file's name
// stands in the error, which says what was expected: another format, a document
// without its model (nothing could be fitted), or numbers that no machine has.
func DecodePlant(data []byte, file string) (*plant.Plant, error) {
	var d plantDocument
	if err := json.Unmarshal(data, &d); err != nil {
		return nil, fmt.Errorf("%s: not a plant file: %w", file, err)
	}
	if d.Format != PlantFormat {
		return nil, fmt.Errorf("%s: format is %.40q, expected %q: write it anew with fit --json -o FILE", file, d.Format, PlantFormat)
	}
	if d.Model == nil {
		return nil, fmt.Errorf("%s: the fit behind this plant file found no plant: fit logs that hold more", file)
	}
	m := machine.Machine(d.Model.Machine)
	for _, check := range []func() error{func() error { return audit(data) }, d.Model.Model.Check, m.Check} {
		if err := check(); err != nil {
			return nil, fmt.Errorf("%s: %w: write it anew with fit --json -o FILE", file, err)
		}
	}
	p := &plant.Plant{
		Machine: m, Demo: d.Demo, Model: d.Model.Model,
		AreasKnown: d.Model.AreasKnown, MassKnown: d.Model.MassKnown, PressuresSeen: d.Model.PressuresSeen,
		Seen: d.Model.Seen, Params: map[plant.Param]plant.Estimate{},
		ChamberChange: floats(d.Change, 1e3), Warnings: d.Warnings,
	}
	for _, l := range d.Logs {
		p.Logs = append(p.Logs, plant.Log{File: l.File, SHA256: l.SHA256, Rows: l.Rows, Duration: float64(l.Duration), Period: float64(l.Period)})
	}
	for param, e := range d.Parameters {
		decoded, err := decodeEstimate(param, e)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", file, err)
		}
		p.Params[param] = decoded
	}
	if err := decodeMaps(p, &d); err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	decodeEvidence(p, d.Model)
	p.Validation = decodeValidation(d.Validation)
	if w := d.Thinning; w != nil && w.Value != nil && w.Low != nil && w.High != nil {
		p.SlipThinning = plant.SlipThinning{Temperature: float64(w.Temperature) + freezing, PerKelvin: plant.Estimate{
			Value: float64(*w.Value), Low: float64(*w.Low), High: float64(*w.High), Status: plant.Identified}}
	}
	return p, nil
}

func decodeEstimate(param plant.Param, e estimate) (plant.Estimate, error) {
	out := plant.Estimate{From: e.From}
	for s := plant.Missing; s <= plant.Identified; s++ {
		if s.String() == e.Status {
			out.Status = s
		}
	}
	if out.Status == plant.Missing {
		return out, nil
	}
	if e.Value == nil || e.Low == nil || e.High == nil || !(*e.Low <= *e.High) {
		return out, fmt.Errorf("parameter %s: status %s needs value, low and high with low not above high", param, e.Status)
	}
	switch param {
	case plant.StrokePerTurnExtend, plant.StrokePerTurnRetract, plant.StrokePerTurnCap, plant.StrokePerTurnRod:
		if !perTurnCanBe(*e.Value) {
			return out, fmt.Errorf("parameter %s: %g mm/rev is no travel per turn", param, *e.Value)
		}
	}
	f := param.Info().Factor
	out.Value, out.Low, out.High = float64(*e.Value)/f, float64(*e.Low)/f, float64(*e.High)/f
	return out, nil
}

// perTurnCanBe reports whether a machine can travel so far a turn (mm/rev): its inverse is typed.
func perTurnCanBe(v number) bool { return v >= 1e-6 && v <= 1e6 }

func decodeMaps(p *plant.Plant, d *plantDocument) error {
	s, l := d.StrokeMap, d.LoadMap
	if len(s.Extend) != len(s.Position) || len(s.Retract) != len(s.Position) {
		return fmt.Errorf("stroke_map: its lists have %d, %d and %d numbers, expected as many of each", len(s.Position), len(s.Extend), len(s.Retract))
	}
	if len(l.Load) != len(l.Position) || len(l.Extend) != len(l.Position) || len(l.Retract) != len(l.Position) {
		return fmt.Errorf("load_map: its lists differ in length, expected as many of each")
	}
	for _, list := range [][]number{s.Position, s.Extend, s.Retract, l.Position, l.Load, l.Extend, l.Retract, d.Model.Transducer} {
		if slices.ContainsFunc(list, func(n number) bool { return math.IsInf(float64(n), 0) }) {
			return fmt.Errorf("stroke_map and load_map: null stands for a number")
		}
	}
	for _, list := range [][]number{s.Extend, s.Retract} {
		// A direction that no log showed stands at zero throughout.
		if slices.ContainsFunc(list, func(n number) bool { return n != 0 && !perTurnCanBe(n) }) || slices.Contains(list, 0) && slices.Max(list) > 0 {
			return fmt.Errorf("stroke_map: a number is no travel per turn (mm/rev)")
		}
	}
	if !increases(s.Position) || !increases(l.Position) {
		return fmt.Errorf("stroke_map and load_map: position_mm must increase")
	}
	p.StrokeMap = plant.StrokeMap{Position: floats(s.Position, 1e3),
		PerTurn:       plant.PerDirection[[]float64]{Extend: floats(s.Extend, perTurn), Retract: floats(s.Retract, perTurn)},
		ResidualWorst: float64(d.Model.MapResidual), TransducerCurve: floats(d.Model.Transducer, 1)}
	p.LoadMap = plant.LoadMap{Position: floats(l.Position, 1e3), AxialLoad: floats(l.Load, 1e-3),
		Friction: plant.PerDirection[[]float64]{Extend: floats(l.Extend, 1e-3), Retract: floats(l.Retract, 1e-3)}}
	return nil
}

func decodeEvidence(p *plant.Plant, m *modelPart) {
	e := &p.Evidence
	e.Friction, e.Slip, e.Resonance, e.LostMotion, e.Pressing = m.Friction, m.Slip, m.Resonance, m.LostMotion, m.Pressing
	if len(m.LostForce) > 0 && len(m.LostForce) == len(m.LostMotion) {
		e.LostMotionForce = floats(m.LostForce, 1)
	}
	for _, o := range m.HoldOut {
		if len(o.Measured) == len(o.Modeled) && float64(o.Period) > 0 {
			e.HoldOut = append(e.HoldOut, plant.Overlay{Channel: o.Channel, Period: float64(o.Period), Start: float64(o.Start), Measured: floats(o.Measured, 1), Modeled: floats(o.Modeled, 1)})
		}
	}
	for _, r := range m.Responses {
		n := len(r.Omega)
		if r.Chamber != plant.Cap && r.Chamber != plant.Rod || r.Direction != plant.Extend && r.Direction != plant.Retract {
			continue
		}
		if len(r.Re) != n || len(r.Im) != n || len(r.Coherence) != n || len(r.RelError) != n {
			continue
		}
		fitted := join(r.FitRe, r.FitIm)
		if len(fitted) != n {
			fitted = nil
		}
		e.Responses = append(e.Responses, plant.FrequencyResponse{From: r.From, To: r.To, Position: r.Position, Chamber: r.Chamber,
			Chambers: r.Chambers, Direction: r.Direction, Directed: r.Directed, Omega: r.Omega, Measured: join(r.Re, r.Im), Coherence: r.Coherence, RelError: r.RelError, Fitted: fitted})
	}
}

func decodeValidation(v validation) plant.Validation {
	value := func(n *number, factor float64) float64 {
		if n == nil {
			return math.NaN()
		}
		return float64(*n) / factor
	}
	return plant.Validation{HeldOut: float64(v.HeldOut), RodSpeed: value(v.RodSpeed, 100), CapPressure: value(v.CapPressure, 100),
		RodPressure: value(v.RodPressure, 100), StrokeFromTurns: value(v.Stroke, 1e3), Verdict: v.Verdict, Refinement: v.Refinement}
}
