package record

import (
	"fmt"
	"io"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/tuning/compare"
)

// WriteComparison prints a comparison for a technician: what changed in the
// machine and what that often means, then how each common move went. It returns
// the writer's error.
func WriteComparison(w io.Writer, c *Comparison, system quantity.System) error {
	p := &page{system: system}
	if c.demo() {
		p.loud(DemoMark)
	}
	p.line("Compare: %s", orUnnamed(c.After.Machine.Name))
	p.logsOf("before", c.Before)
	p.logsOf("after", c.After)
	p.changes(c.Report.Plant)
	p.comparedMoves(c.Report.Moves)
	p.minds(c.Report.Notes)
	p.line("")
	p.list(" ", []string{fmt.Sprintf("What is called changed, better, worse or no difference holds jointly: at most %.0f %% of such reports hold any false statement. "+
		"The intervals are each figure's own 95 %%.", 100*compare.Risk)})
	return p.writeText(w)
}

func (p *page) logsOf(side string, source *plant.Plant) {
	for _, l := range source.Logs {
		p.line("  %-6s  %s  %.1f s at %s, %d rows, sha256 %.12s", side, l.File, l.Duration, milliseconds(l.Period), l.Rows, l.SHA256)
	}
}

// changes lists the plant's parameters and, for those that changed, what that often means.
func (p *page) changes(changes []compare.Change) {
	if len(changes) == 0 {
		return
	}
	p.heading("What changed in the machine")
	var rows [][]string
	var meanings []string
	for _, c := range changes {
		said := "not shown"
		if c.Changed {
			said = "changed"
			meanings = append(meanings, fmt.Sprintf("%s %s. Often means: %s. Could also be: %s.", words(c.Param.String()), wayOf(c), c.OftenMeans, c.CouldAlsoBe))
		}
		rows = append(rows, append(p.changeCells(c), said))
	}
	p.table([]string{"parameter", "before", "after", "unit", "after / before", "95 % interval", "change"}, rows)
	if len(meanings) == 0 {
		meanings = []string{"No parameter is shown to have changed."}
	}
	p.line("")
	p.list("-", meanings)
}

// wayOf says which way a parameter went.
func wayOf(c compare.Change) string {
	if math.IsNaN(c.Ratio) {
		return "changed"
	}
	if c.Ratio > 1 {
		return fmt.Sprintf("up, x %s", quantity.Digits(c.Ratio, 3))
	}
	return fmt.Sprintf("down, x %s", quantity.Digits(c.Ratio, 3))
}

func (p *page) changeCells(c compare.Change) []string {
	unit, scale := displayUnit(c.Param, p.system)
	show := func(e plant.Estimate) string { return quantity.Digits(scale(e.Value), digitsFor(e)) }
	ratio, interval := quantity.Digits(c.Ratio, 4), quantity.Digits(c.RatioLow, 4)+" .. "+quantity.Digits(c.RatioHigh, 4)
	if math.IsNaN(c.Ratio) {
		zero := scale(0)
		difference := func(v float64) string { return quantity.Digits(scale(v)-zero, 3) }
		ratio = difference(c.Difference) + " " + unit + " more"
		interval = difference(c.DiffLow) + " .. " + difference(c.DiffHigh)
	}
	return []string{words(c.Param.String()), show(c.Before), show(c.After), unit, ratio, interval}
}

// comparedMoves prints a table a move.
func (p *page) comparedMoves(moves []compare.Move) {
	for i, m := range moves {
		if i == 0 {
			p.heading("How the same moves went")
		} else {
			p.line("")
		}
		p.line("%s, %s to %s: %d before, %d after, over %s", m.Kind, p.show(m.From, quantity.Length), p.show(m.To, quantity.Length),
			m.Before, m.After, p.show(m.Window, quantity.Time))
		var rows [][]string
		header := []string{"figure", "before", "after", "difference", "95 % interval", "verdict"}
		if m.Before < 2 || m.After < 2 {
			header = header[:4]
			p.line("  One repeat on a side shows no scatter, so there are no verdicts.")
		}
		for _, d := range m.Figures {
			rows = append(rows, p.figureCells(d)[:len(header)])
		}
		p.table(header, rows)
		for k, side := range []string{"before", "after"} {
			if t := m.HuntingPeriod[k]; t > 0 {
				p.line("  hunting %s with a period of %s", side, p.show(t, quantity.Time))
			}
		}
	}
}

func (p *page) figureCells(d compare.Difference) []string {
	info := d.Figure.Info()
	show := func(v float64) string {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return "-"
		}
		// Differences of a thousandth of what is useful are noise.
		if math.Abs(v) < d.Useful/1000 {
			v = 0
		}
		return quantity.Format(roundTo(v, 3), info.Dimension, p.system)
	}
	verdict := d.Verdict.String()
	if d.Why != "" {
		verdict += ": " + d.Why
	}
	return []string{info.Words, show(d.Before), show(d.After), show(d.Difference), show(d.Low) + " .. " + show(d.High), verdict}
}
