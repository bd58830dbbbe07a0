package tuning

import (
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/tuning/law"
)

// SettingForm is one setting in a form that another controller asks for.
type SettingForm struct {
	Loop string // "position" or "force"
	Form string // "rpm per kN"
	Text string // the number or numbers to enter, with units
	Law  string // what the number multiplies, so that it cannot be taken for another
}

// settingForms lists the gains of the loops in the forms in general use.
func (d *design) settingForms(l law.Loops) []SettingForm {
	var forms []SettingForm
	if l.Position != nil {
		forms = d.positionForms(l.Position)
	}
	if l.Force != nil {
		forms = append(forms, d.forceForms(l.Force)...)
	}
	return forms
}

func (d *design) positionForms(s *law.Position) []SettingForm {
	both := func(unit string, value func(dir plant.Direction) float64) string {
		return fmt.Sprintf("extend %s, retract %s %s", three(value(plant.Extend)), three(value(plant.Retract)), unit)
	}
	turns := func(dir plant.Direction) float64 { // rad/m
		if s.Table != nil || s.ByChamber {
			return 1 / d.travelPerTurn(dir)
		}
		return s.Turns.At(dir)
	}
	top := d.topSpeed()
	list := []SettingForm{
		{Form: "1/s", Law: "speed demand = gain x error", Text: both("1/s", s.Kp.At)},
		{Form: "(m/min)/mm", Law: "speed demand in m/min = gain x error in mm", Text: both("(m/min)/mm", func(dir plant.Direction) float64 { return 0.06 * s.Kp.At(dir) })},
		{Form: "(in/min)/mil", Law: "speed demand in in/min = gain x error in thousandths of an inch", Text: both("(in/min)/mil", func(dir plant.Direction) float64 { return 0.06 * s.Kp.At(dir) })},
		{Form: "rpm/mm", Law: "motor speed in rpm = gain x error in mm; scale included", Text: both("rpm/mm", func(dir plant.Direction) float64 { return s.Kp.At(dir) * turns(dir) * inRPM / inMM })},
		{Form: "%/mm", Law: fmt.Sprintf("motor speed in %% of %.0f rpm = gain x error in mm; scale included", top*inRPM),
			Text: both("%/mm", func(dir plant.Direction) float64 { return 100 * s.Kp.At(dir) * turns(dir) / top / inMM })},
	}
	if s.Ki.Extend > 0 && s.Ki.Retract > 0 {
		list = append(list, SettingForm{Form: "integral time", Law: "speed demand = gain x (error + integral of error / time)",
			Text: both("ms", func(dir plant.Direction) float64 { return 1e3 * s.Kp.At(dir) / s.Ki.At(dir) })})
	}
	speed := s.SpeedLimit / max(turns(plant.Extend), turns(plant.Retract)) / 2
	list = append(list, SettingForm{Form: "following error", Law: "error in steady travel = speed / gain; with the proposed feed-forward only what slip and lags leave of it",
		Text: both(fmt.Sprintf("mm at %s mm/s without feed-forward", three(speed*inMM)), func(dir plant.Direction) float64 { return speed / s.Kp.At(dir) * inMM })})
	for i := range list {
		list[i].Loop = "position"
	}
	return list
}

// forceForms holds the pressure forms on the chamber that presses: with the load
// pressure p_L = p_cap - p_rod A_rod/A_cap the force is A_cap p_L, and the mirror image when pulling.
func (d *design) forceForms(s *law.Force) []SettingForm {
	area, load := d.model.Area.Cap, "p_cap - p_rod A_rod/A_cap"
	if s.Presses == plant.Retract {
		area, load = d.model.Area.Rod, "p_rod - p_cap A_cap/A_rod, sign of speed turned"
	}
	ratio := d.model.Area.Rod / d.model.Area.Cap
	if s.Presses == plant.Retract {
		ratio = 1 / ratio
	}
	limit, top := d.forceLimit(s.Presses), d.topSpeed()
	list := []SettingForm{
		{Form: "rpm/kN", Law: "motor speed in rpm = gain x force error in kN", Text: fmt.Sprintf("%s rpm/kN, integral %s rpm/(kN s)", three(1e3*s.Kp*inRPM), three(1e3*s.Ki*inRPM))},
		{Form: "rpm/bar", Law: fmt.Sprintf("motor speed in rpm = gain x error in bar of the load pressure %s, area ratio %.4f", load, ratio),
			Text: fmt.Sprintf("%s rpm/bar, integral %s rpm/(bar s); 1 kN is %.4g bar", three(1e5*area*s.Kp*inRPM), three(1e5*area*s.Ki*inRPM), 1e3/area*1e-5)},
		{Form: "%/%", Law: fmt.Sprintf("motor speed in %% of %.0f rpm = gain x force error in %% of %s kN", top*inRPM, three(limit*1e-3)), Text: fmt.Sprintf("%s %%/%%", three(s.Kp*limit/top))},
	}
	if s.Ki > 0 {
		list = append(list, SettingForm{Form: "integral time", Law: "motor speed = gain x (error + integral of error / time)", Text: quantity.Digits(1e3*s.Kp/s.Ki, 4) + " ms"})
	}
	if !math.IsInf(s.SpeedLimit, 0) {
		list = append(list, SettingForm{Form: "speed limit at the rod", Law: "rod speed at the speed limit of force mode, slip left out", Text: three(s.SpeedLimit*d.model.StrokePerTurn(carries(s.Presses))*inMM) + " mm/s"})
	}
	for i := range list {
		list[i].Loop = "force"
	}
	return list
}

// three prints a number to type: three digits, no exponent.
func three(v float64) string { return quantity.Digits(v, 3) }
