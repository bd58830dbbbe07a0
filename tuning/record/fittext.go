package record

import (
	"fmt"
	"io"
	"math"
	"strings"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
)

// WriteFit prints the plant for a technician to read: what was found with its
// interval and status, what is missing and which move to log, how far to trust
// it. It returns the writer's error.
func WriteFit(w io.Writer, p *plant.Plant, system quantity.System) error {
	page := &page{system: system}
	page.head("Plant", p)
	page.refitted(p)
	page.parameters(p)
	page.validation(p)
	page.minds(p.Warnings)
	return page.writeText(w)
}

// parameters lists what was found and, by what would supply it, what is missing.
func (p *page) parameters(source *plant.Plant) {
	var rows [][]string
	missing := map[string][]string{}
	var order []string
	for _, param := range plant.Params() {
		e := source.Est(param)
		if !e.Known() {
			if _, seen := missing[e.From]; !seen {
				order = append(order, e.From)
			}
			missing[e.From] = append(missing[e.From], words(param.String()))
			continue
		}
		rows = append(rows, parameterRow(param, e, p.system))
	}
	p.table([]string{"parameter", "value", "95 % interval", "unit", "status", "from"}, rows)
	if len(order) > 0 {
		p.heading("Missing, and what would supply it")
		for _, from := range order {
			p.list("-", []string{strings.Join(missing[from], ", ") + ": " + from})
		}
	}
}

// refitted says what moved since an earlier plant.
func (p *page) refitted(source *plant.Plant) {
	if len(source.Changes) == 0 {
		return
	}
	p.heading("Since the earlier plant")
	var rows [][]string
	var kept []string
	for _, c := range source.Changes {
		if !c.Moved {
			kept = append(kept, words(c.Param.String()))
			continue
		}
		before, after := parameterRow(c.Param, c.Before, p.system), parameterRow(c.Param, c.After, p.system)
		rows = append(rows, []string{before[0], before[1], before[2], after[1], after[2], after[3]})
	}
	if len(rows) == 0 {
		p.line("Nothing moved beyond both intervals.")
	}
	p.table([]string{"moved", "before", "95 % interval", "now", "95 % interval", "unit"}, rows)
	if len(kept) > 0 {
		p.list("-", []string{"not moved, kept as known best: " + strings.Join(kept, ", ")})
	}
}

// minds lists warnings.
func (p *page) minds(warnings ...[]string) {
	var all []string
	seen := map[string]bool{}
	for _, list := range warnings {
		for _, w := range list {
			if !seen[w] {
				seen[w] = true
				all = append(all, w)
			}
		}
	}
	if len(all) > 0 {
		p.heading("Mind")
		p.list("!", all)
	}
}

func (p *page) head(title string, source *plant.Plant) {
	if source.Demo {
		p.loud(DemoMark)
	}
	p.line("%s: %s", title, orUnnamed(source.Machine.Name))
	for _, l := range source.Logs {
		p.line("  %s  %.1f s at %s, %d rows, sha256 %.12s", l.File, l.Duration, milliseconds(l.Period), l.Rows, l.SHA256)
	}
	p.line("")
}

// parameterRow shows value and interval in the same unit and to the digits that the interval supports.
func parameterRow(param plant.Param, e plant.Estimate, system quantity.System) []string {
	unit, scale := displayUnit(param, system)
	digits := digitsFor(e)
	show := func(v float64) string { return quantity.Digits(scale(v), digits) }
	return []string{words(param.String()), show(e.Value), show(e.Low) + " .. " + show(e.High), unit, e.Status.String(), e.From}
}

// displayUnit returns the unit to show a parameter in and the conversion from SI.
func displayUnit(param plant.Param, system quantity.System) (string, func(float64) float64) {
	info := param.Info()
	unit, convert := quantity.Shown(info.Unit, system)
	if unit == "1" {
		unit = ""
	}
	return unit, func(v float64) float64 { return convert(v * info.Factor) }
}

// digitsFor returns the significant digits of a value whose interval makes
// more of them meaningless: one digit finer than the half-width.
func digitsFor(e plant.Estimate) int {
	if e.HalfWidth() <= 0 || e.Value == 0 {
		return 4
	}
	d := 2 + int(math.Ceil(math.Log10(math.Abs(e.Value)/e.HalfWidth())))
	return min(max(d, 2), 6)
}

// words turns an identifier into words.
func words(id string) string { return strings.ReplaceAll(id, "_", " ") }

func (p *page) validation(source *plant.Plant) {
	v := source.Validation
	p.heading("How far to trust it")
	if v.Verdict != "" {
		p.list(" ", []string{v.Verdict})
	}
	if v.Refinement != "" {
		p.list(" ", []string{v.Refinement})
	}
	if !(v.HeldOut > 0) {
		return
	}
	parts := []string{fmt.Sprintf("rod speed %.0f %%", 100*v.RodSpeed)}
	if source.PressuresSeen {
		parts = append(parts, fmt.Sprintf("cap pressure %.0f %%", 100*v.CapPressure), fmt.Sprintf("rod pressure %.0f %%", 100*v.RodPressure))
	}
	p.line("  On %.0f s that the fit did not see, left unexplained: %s.", v.HeldOut, strings.Join(parts, ", "))
	if !math.IsNaN(v.StrokeFromTurns) {
		p.line("  Rod travel computed from turns is off by %s rms there.", p.show(v.StrokeFromTurns, quantity.Length))
	}
}
