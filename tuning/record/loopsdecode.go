package record

import (
	"encoding/json"
	"fmt"
	"math"

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
	s.ByChamber, s.ChamberBand = d.ChamberScale, float64(d.ChamberBand)*1e3
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
