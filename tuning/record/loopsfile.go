package record

import (
	"encoding/json"
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning"
	"eha/strokewise/tuning/law"
)

// LoopsFormat names the settings document.
const LoopsFormat = "strokewise.loops/1"

const (
	rev  = 2 * math.Pi
	bar  = 1e5
	toMM = 1e3
	toHz = 1 / (2 * math.Pi)
)

type loopsDocument struct {
	Format      string            `json:"format"`
	Demo        bool              `json:"demo,omitempty"`
	Machine     string            `json:"machine,omitempty"`
	Position    *positionPart     `json:"position_loop"`
	Force       *forcePart        `json:"force_loop"`
	NotProposed map[string]string `json:"not_proposed,omitempty"`
	Targets     *targetsPart      `json:"targets,omitempty"`
	Guards      *guardsPart       `json:"guards,omitempty"`
	Margins     []marginPart      `json:"margins,omitempty"`
	Predicted   []stepPart        `json:"predicted,omitempty"`
	Limits      []limitPart       `json:"limits,omitempty"`
	Scales      []scalePart       `json:"scale_forms,omitempty"`
	BringUp     []bringUpPart     `json:"bring_up,omitempty"`
	Cautions    []string          `json:"cautions,omitempty"`
	Warnings    []string          `json:"warnings,omitempty"`
}

type positionPart struct {
	Period       number     `json:"period_s"`
	KpExtend     number     `json:"kp_extend_per_s"`
	KpRetract    number     `json:"kp_retract_per_s"`
	KiExtend     number     `json:"ki_extend_per_s2"`
	KiRetract    number     `json:"ki_retract_per_s2"`
	Feedforward  number     `json:"velocity_feedforward"`
	TurnsExtend  number     `json:"turns_per_mm_extend"`
	TurnsRetract number     `json:"turns_per_mm_retract"`
	Table        *tablePart `json:"table"`
	Damping      number     `json:"pressure_damping_rev_per_s_per_bar"`
	Highpass     number     `json:"pressure_highpass_hz"`
	Lowpass      number     `json:"speed_lowpass_hz"`
	SpeedLimit   number     `json:"speed_limit_rpm"`
	Window       number     `json:"window_mm"`
	WindowTime   number     `json:"window_time_s"`
	ChamberScale bool       `json:"scale_by_chamber,omitempty"`
}

type tablePart struct {
	Position []number `json:"position_mm"`
	Extend   []number `json:"turns_per_mm_extend"`
	Retract  []number `json:"turns_per_mm_retract"`
}

type forcePart struct {
	Presses         string `json:"presses"`
	ApproachSpeed   number `json:"approach_speed_mm_per_s"`
	TravelLimit     number `json:"travel_limit_mm"`
	Period          number `json:"period_s"`
	Kp              number `json:"kp_rev_per_s_per_kN"`
	Ki              number `json:"ki_rev_per_s2_per_kN"`
	RateFeedforward number `json:"rate_feedforward_rev_per_kN"`
	Lowpass         number `json:"force_lowpass_hz"`
	SpeedLimit      number `json:"speed_limit_rpm"`
}

type targetsPart struct {
	Sensitivity number `json:"sensitivity_peak"`
	GainMargin  number `json:"gain_margin_db"`
	PhaseMargin number `json:"phase_margin_deg"`
}

type guardsPart struct {
	Mismatch struct {
		Mismatch number `json:"mismatch_mm"`
		Over     number `json:"over_s"`
		SlipOut  bool   `json:"slip_taken_out"`
		Plain    number `json:"plain_mm_over_s"`
	} `json:"encoder_transducer"`
	Following [][2]number `json:"following_error_mm_at_speed"`
	Force     *number     `json:"force_limit_kN"`
	Pressure  *number     `json:"pressure_limit_bar"`
	Torque    *number     `json:"torque_limit_Nm"`
	SoftLow   number      `json:"soft_limit_low_mm"`
	SoftHigh  number      `json:"soft_limit_high_mm"`
	Why       []string    `json:"why"`
}

type marginPart struct {
	Loop        string  `json:"loop"`
	Direction   string  `json:"direction"`
	Chamber     string  `json:"chamber"`
	Position    number  `json:"position_mm"`
	Mass        *number `json:"mass_kg"`
	MassFactor  *number `json:"mass_factor,omitempty"`
	Stable      bool    `json:"stable"`
	GainMargin  number  `json:"gain_margin_db"`
	PhaseMargin number  `json:"phase_margin_deg"`
	Sensitivity number  `json:"sensitivity_peak"`
	DelayMargin number  `json:"delay_margin_ms"`
	Why         string  `json:"why,omitempty"`
}

type stepPart struct {
	Loop         string  `json:"loop"`
	Direction    string  `json:"direction"`
	From         number  `json:"from"`
	To           number  `json:"to"`
	Unit         string  `json:"unit"`
	Rise         number  `json:"rise_s"`
	Settling     number  `json:"settling_s"`
	Overshoot    number  `json:"overshoot_pct"`
	PeakSpeed    number  `json:"peak_speed_rpm"`
	PeakPressure *number `json:"peak_pressure_bar"`
	FinalError   number  `json:"final_error"`
	Band         struct {
		Rise         [2]number  `json:"rise_s"`
		Settling     [2]number  `json:"settling_s"`
		Overshoot    [2]number  `json:"overshoot_pct"`
		PeakSpeed    [2]number  `json:"peak_speed_rpm"`
		PeakPressure *[2]number `json:"peak_pressure_bar"`
		FinalError   [2]number  `json:"final_error"`
	} `json:"band"`
	History string `json:"history,omitempty"`
}

type limitPart struct {
	What   string `json:"what"`
	Remedy string `json:"remedy"`
	Gain   number `json:"gain_factor"`
}

type scalePart struct {
	Form  string `json:"form"`
	Text  string `json:"text"`
	PPM   number `json:"error_ppm"`
	Error number `json:"error_mm"`
	Note  string `json:"note"`
}

type bringUpPart struct {
	Title    string        `json:"title"`
	Position *positionPart `json:"position_loop,omitempty"`
	Force    *forcePart    `json:"force_loop,omitempty"`
	Do       []string      `json:"do"`
	Expect   []string      `json:"expect"`
	StopIf   []string      `json:"stop_if"`
	Back     string        `json:"back"`
}

// EncodeProposal returns the settings document of CONTRACT section 4.
// machineName may be empty. pressuresSeen and massKnown say which figures of the
// plant behind it are real; the others are null.
func EncodeProposal(p *tuning.Proposal, source *plant.Plant) ([]byte, error) {
	d := loopsDocument{
		Format: LoopsFormat, Demo: p.Demo, Machine: source.Machine.Name,
		Position: encodePosition(p.Loops.Position), Force: encodeForce(p.Loops.Force),
		NotProposed: p.NotProposed,
		Targets:     &targetsPart{number(p.Targets.SensitivityPeak), decibel(p.Targets.GainMargin), degrees(p.Targets.PhaseMargin)},
		Guards:      encodeGuards(&p.Guards, source.PressuresSeen),
		Cautions:    p.Cautions, Warnings: p.Warnings,
	}
	for _, m := range p.Margins {
		d.Margins = append(d.Margins, encodeMargin(m))
	}
	for _, s := range p.Predicted {
		d.Predicted = append(d.Predicted, encodeStep(s, source.PressuresSeen))
	}
	for _, l := range p.Limits {
		d.Limits = append(d.Limits, limitPart{l.What, l.Remedy, number(l.Gain)})
	}
	for _, s := range p.Scales {
		d.Scales = append(d.Scales, scalePart{s.Form, s.Text, number(s.ErrorPPM), number(s.Error * toMM), s.Note})
	}
	for _, b := range p.BringUp {
		part := bringUpPart{Title: b.Title, Do: b.Do, Expect: b.Expect, StopIf: b.StopIf, Back: b.Back}
		if b.Settings != nil {
			part.Position, part.Force = encodePosition(b.Settings.Position), encodeForce(b.Settings.Force)
		}
		d.BringUp = append(d.BringUp, part)
	}
	return encode(d)
}

// decibel and degrees give +Inf for no limit, which number writes as null.
func decibel(ratio float64) number { return number(20 * math.Log10(ratio)) }
func degrees(rad float64) number   { return number(rad * 180 / math.Pi) }

func encodePosition(s *law.Position) *positionPart {
	if s == nil {
		return nil
	}
	turns := func(v float64) number { return number(v / rev / toMM) }
	part := &positionPart{
		Period: number(s.Period), KpExtend: number(s.Kp.Extend), KpRetract: number(s.Kp.Retract),
		KiExtend: number(s.Ki.Extend), KiRetract: number(s.Ki.Retract), Feedforward: number(s.Feedforward),
		TurnsExtend: turns(s.Turns.Extend), TurnsRetract: turns(s.Turns.Retract),
		Damping: number(s.PressureDamping / rev * bar), Highpass: number(s.Highpass * toHz), Lowpass: number(s.Lowpass * toHz),
		SpeedLimit: number(s.SpeedLimit / rev * 60), Window: number(s.Window * toMM), WindowTime: number(s.WindowTime),
	}
	if s.Table != nil {
		part.Table = &tablePart{numbers(s.Table.Position, toMM), numbers(s.Table.Turns.Extend, 1/rev/toMM), numbers(s.Table.Turns.Retract, 1/rev/toMM)}
	}
	return part
}

func encodeForce(s *law.Force) *forcePart {
	if s == nil {
		return nil
	}
	return &forcePart{
		Presses: s.Presses.String(), ApproachSpeed: number(s.ApproachSpeed * toMM), TravelLimit: number(s.TravelLimit * toMM),
		Period: number(s.Period), Kp: number(s.Kp / rev * 1e3), Ki: number(s.Ki / rev * 1e3),
		RateFeedforward: number(s.RateFeedforward / rev * 1e3), Lowpass: number(s.Lowpass * toHz), SpeedLimit: number(s.SpeedLimit / rev * 60),
	}
}

func encodeGuards(g *tuning.Guards, pressures bool) *guardsPart {
	part := &guardsPart{SoftLow: number(g.SoftLow * toMM), SoftHigh: number(g.SoftHigh * toMM), Why: g.Why}
	part.Mismatch.Mismatch, part.Mismatch.Over = number(g.Mismatch*toMM), number(g.MismatchTime)
	part.Mismatch.SlipOut, part.Mismatch.Plain = pressures, number(g.PlainMismatch*toMM)
	for _, p := range g.FollowingError {
		part.Following = append(part.Following, [2]number{number(p.X * toMM), number(p.Y * toMM)})
	}
	known := func(v, factor float64) *number {
		if v <= 0 {
			return nil
		}
		return optional(v * factor)
	}
	part.Force, part.Pressure, part.Torque = known(g.ForceLimit, 1e-3), known(g.PressureLimit, 1/bar), known(g.TorqueLimit, 1)
	return part
}

func encodeMargin(m tuning.Margin) marginPart {
	part := marginPart{Loop: m.Loop, Direction: m.Direction.String(), Chamber: m.Chamber.String(), Position: number(m.Position * toMM),
		Stable: m.Stable, GainMargin: decibel(m.GainMargin), PhaseMargin: degrees(m.PhaseMargin), Sensitivity: number(m.Sensitivity),
		DelayMargin: number(m.DelayMargin * 1e3), Why: m.Why}
	if m.Mass > 0 {
		part.Mass = optional(m.Mass)
	} else {
		part.MassFactor = optional(m.MassFactor)
	}
	return part
}

func encodeStep(s tuning.Step, pressures bool) stepPart {
	unit, factor := "mm", toMM
	if s.Loop == "force" {
		unit, factor = "kN", 1e-3
	}
	part := stepPart{Loop: s.Loop, Direction: s.Direction.String(), From: number(s.From * factor), To: number(s.To * factor), Unit: unit,
		Rise: number(s.Rise.Value), Settling: number(s.Settling.Value), Overshoot: number(100 * s.Overshoot.Value),
		PeakSpeed: number(s.PeakSpeed.Value / rev * 60), FinalError: number(s.FinalError.Value * factor), History: s.History}
	band := func(r tuning.Range, f float64) [2]number { return [2]number{number(r.Low * f), number(r.High * f)} }
	part.Band.Rise, part.Band.Settling, part.Band.Overshoot = band(s.Rise, 1), band(s.Settling, 1), band(s.Overshoot, 100)
	part.Band.PeakSpeed, part.Band.FinalError = band(s.PeakSpeed, 60/rev), band(s.FinalError, factor)
	if pressures {
		pressure := band(s.PeakPressure, 1/bar)
		part.PeakPressure, part.Band.PeakPressure = optional(s.PeakPressure.Value/bar), &pressure
	}
	return part
}

// DecodeLoops reads the settings of a settings document: those proposed by
// tune, or those in use in a drive, typed in by hand. The error names the file and what is wrong.
func DecodeLoops(data []byte, file string) (*law.Loops, error) {
	var d loopsDocument
	if err := json.Unmarshal(data, &d); err != nil {
		return nil, fmt.Errorf("%s: not a settings file: %w", file, err)
	}
	if d.Format != LoopsFormat {
		return nil, fmt.Errorf("%s: format is %.40q, expected %q", file, d.Format, LoopsFormat)
	}
	if d.Position == nil && d.Force == nil {
		return nil, fmt.Errorf("%s: neither position_loop nor force_loop is there", file)
	}
	loops := &law.Loops{}
	if d.Position != nil {
		p, err := decodePosition(d.Position)
		if err != nil {
			return nil, fmt.Errorf("%s: position_loop: %w", file, err)
		}
		loops.Position = p
	}
	if d.Force != nil {
		f, err := decodeForce(d.Force)
		if err != nil {
			return nil, fmt.Errorf("%s: force_loop: %w", file, err)
		}
		loops.Force = f
	}
	return loops, nil
}

func decodePosition(d *positionPart) (*law.Position, error) {
	turns := func(n number) float64 { return float64(n) * rev * toMM }
	s := &law.Position{
		Period: float64(d.Period), Kp: plant.PerDirection[float64]{Extend: float64(d.KpExtend), Retract: float64(d.KpRetract)},
		Ki:          plant.PerDirection[float64]{Extend: float64(d.KiExtend), Retract: float64(d.KiRetract)},
		Feedforward: float64(d.Feedforward), Turns: plant.PerDirection[float64]{Extend: turns(d.TurnsExtend), Retract: turns(d.TurnsRetract)},
		PressureDamping: float64(d.Damping) * rev / bar, Highpass: float64(d.Highpass) / toHz, Lowpass: float64(d.Lowpass) / toHz,
		SpeedLimit: float64(d.SpeedLimit) * rev / 60, Window: float64(d.Window) / toMM, WindowTime: float64(d.WindowTime),
	}
	if err := finite(map[string]float64{"period_s": s.Period, "kp_extend_per_s": s.Kp.Extend, "kp_retract_per_s": s.Kp.Retract,
		"ki_extend_per_s2": s.Ki.Extend, "ki_retract_per_s2": s.Ki.Retract, "speed_limit_rpm": s.SpeedLimit}); err != nil {
		return nil, err
	}
	if t := d.Table; t != nil {
		if len(t.Position) < 2 || len(t.Extend) != len(t.Position) || len(t.Retract) != len(t.Position) {
			return nil, fmt.Errorf("table: needs at least two positions and as many turns_per_mm of each direction")
		}
		s.Table = &law.Table{Position: floats(t.Position, toMM), Turns: plant.PerDirection[[]float64]{
			Extend: floats(t.Extend, 1/rev/toMM), Retract: floats(t.Retract, 1/rev/toMM)}}
	} else if !(s.Turns.Extend > 0) || !(s.Turns.Retract > 0) {
		return nil, fmt.Errorf("turns_per_mm_extend and turns_per_mm_retract must be positive")
	}
	if !(s.Period > 0) || !(s.SpeedLimit > 0) {
		return nil, fmt.Errorf("period_s and speed_limit_rpm must be positive")
	}
	return s, nil
}

func decodeForce(d *forcePart) (*law.Force, error) {
	s := &law.Force{ApproachSpeed: float64(d.ApproachSpeed) / toMM, TravelLimit: float64(d.TravelLimit) / toMM, Period: float64(d.Period),
		Kp: float64(d.Kp) * rev / 1e3, Ki: float64(d.Ki) * rev / 1e3, RateFeedforward: float64(d.RateFeedforward) * rev / 1e3,
		Lowpass: float64(d.Lowpass) / toHz, SpeedLimit: float64(d.SpeedLimit) * rev / 60}
	switch d.Presses {
	case "extend", "":
	case "retract":
		s.Presses = plant.Retract
	default:
		return nil, fmt.Errorf("presses is %.20q, expected \"extend\" or \"retract\"", d.Presses)
	}
	if err := finite(map[string]float64{"kp_rev_per_s_per_kN": s.Kp, "ki_rev_per_s2_per_kN": s.Ki}); err != nil {
		return nil, err
	}
	if !(s.Period > 0) || !(s.SpeedLimit > 0) || math.IsInf(s.SpeedLimit, 0) {
		return nil, fmt.Errorf("period_s and speed_limit_rpm must be positive")
	}
	return s, nil
}

func finite(values map[string]float64) error {
	for name, v := range values {
		if math.IsInf(v, 0) || math.IsNaN(v) || v < 0 {
			return fmt.Errorf("%s must be a number, zero or more", name)
		}
	}
	return nil
}
