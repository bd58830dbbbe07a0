package record

import (
	"encoding/json"
	"fmt"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
)

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
	if err := audit(data); err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
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

// bounded is a number of a settings document with the range, in its own unit, that a
// controller can hold; null decodes to infinity and lies outside.
type bounded struct {
	name      string
	value     number
	low, high float64
}

// inside returns an error that names the first number outside its range.
func inside(list []bounded) error {
	for _, b := range list {
		if v := float64(b.value); !(v >= b.low && v <= b.high) {
			return fmt.Errorf("%s must be a number from %g to %g", b.name, b.low, b.high)
		}
	}
	return nil
}

// Bounds of the settings: far wider than any in use, they tell a number in another
// unit, and keep simulations under the settings from running for ever.
const (
	leastPeriod, mostPeriod = plant.ShortestPeriod, 1.0 // s
	leastGain, mostGain     = 1e-6, 1e6                 // of 1/s and the other gains' units
	mostTurns, leastTurns   = 1e4, 1e-4                 // rev/mm
	mostRPM                 = 1e5
	mostHz                  = 1e5
	mostMM                  = 1e5
)

func decodePosition(d *positionPart) (*law.Position, error) {
	err := inside([]bounded{
		{"period_s", d.Period, leastPeriod, mostPeriod},
		{"kp_extend_per_s", d.KpExtend, leastGain, mostGain}, {"kp_retract_per_s", d.KpRetract, leastGain, mostGain},
		{"ki_extend_per_s2", d.KiExtend, 0, mostGain}, {"ki_retract_per_s2", d.KiRetract, 0, mostGain},
		{"velocity_feedforward", d.Feedforward, 0, 10}, {"pressure_damping_rev_per_s_per_bar", d.Damping, 0, mostGain},
		{"pressure_highpass_hz", d.Highpass, 0, mostHz}, {"speed_lowpass_hz", d.Lowpass, 0, mostHz},
		{"speed_limit_rpm", d.SpeedLimit, 1e-3, mostRPM}, {"window_mm", d.Window, 0, mostMM}, {"window_time_s", d.WindowTime, 0, 1e3},
		{"scale_chamber_band_kN", d.ChamberBand, 0, 1e6},
	})
	if err != nil {
		return nil, err
	}
	turns := func(n number) float64 { return float64(n) * rev * toMM }
	s := &law.Position{
		Period: float64(d.Period), Kp: plant.PerDirection[float64]{Extend: float64(d.KpExtend), Retract: float64(d.KpRetract)},
		Ki:          plant.PerDirection[float64]{Extend: float64(d.KiExtend), Retract: float64(d.KiRetract)},
		Feedforward: float64(d.Feedforward), Turns: plant.PerDirection[float64]{Extend: turns(d.TurnsExtend), Retract: turns(d.TurnsRetract)},
		PressureDamping: float64(d.Damping) * rev / bar, Highpass: float64(d.Highpass) / toHz, Lowpass: float64(d.Lowpass) / toHz,
		SpeedLimit: float64(d.SpeedLimit) * rev / 60, Window: float64(d.Window) / toMM, WindowTime: float64(d.WindowTime),
		ByChamber: d.ChamberScale, ChamberBand: float64(d.ChamberBand) * 1e3,
	}
	if d.Table != nil {
		s.Table, err = decodeTable(d.Table)
		return s, err
	}
	return s, inside([]bounded{{"turns_per_mm_extend", d.TurnsExtend, leastTurns, mostTurns}, {"turns_per_mm_retract", d.TurnsRetract, leastTurns, mostTurns}})
}

func decodeTable(t *tablePart) (*law.Table, error) {
	if len(t.Position) < 2 || len(t.Extend) != len(t.Position) || len(t.Retract) != len(t.Position) {
		return nil, fmt.Errorf("table: needs at least two positions and as many turns_per_mm of each direction")
	}
	for i, x := range t.Position {
		err := inside([]bounded{{"table: position_mm", x, -mostMM, mostMM},
			{"table: turns_per_mm_extend", t.Extend[i], leastTurns, mostTurns}, {"table: turns_per_mm_retract", t.Retract[i], leastTurns, mostTurns}})
		if err != nil {
			return nil, err
		}
	}
	if !increases(t.Position) {
		return nil, fmt.Errorf("table: position_mm must increase from one entry to the next")
	}
	return &law.Table{Position: floats(t.Position, toMM), Turns: plant.PerDirection[[]float64]{
		Extend: floats(t.Extend, 1/rev/toMM), Retract: floats(t.Retract, 1/rev/toMM)}}, nil
}

// increases reports whether each number is above the one before it.
func increases(list []number) bool {
	for i := 1; i < len(list); i++ {
		if !(list[i] > list[i-1]) {
			return false
		}
	}
	return true
}

func decodeForce(d *forcePart) (*law.Force, error) {
	err := inside([]bounded{
		{"period_s", d.Period, leastPeriod, mostPeriod}, {"kp_rev_per_s_per_kN", d.Kp, 0, mostGain}, {"ki_rev_per_s2_per_kN", d.Ki, 0, mostGain},
		{"rate_feedforward_rev_per_kN", d.RateFeedforward, 0, mostGain}, {"force_lowpass_hz", d.Lowpass, 0, mostHz}, {"speed_limit_rpm", d.SpeedLimit, 1e-3, mostRPM},
		{"approach_speed_mm_per_s", d.ApproachSpeed, 0, mostMM}, {"travel_limit_mm", d.TravelLimit, 0, mostMM},
	})
	if err != nil {
		return nil, err
	}
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
	return s, nil
}
