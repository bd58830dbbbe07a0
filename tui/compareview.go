package tui

import (
	"fmt"
	"math"

	"eha/strokewise/ident/quantity"
	"eha/strokewise/tuning/compare"
)

const lengthOf = quantity.Length

// moves lists the common moves and, of the one in view, the figures beside the
// courses laid over each other.
func (s *compareScreen) moves(a *App, r *compare.Report, width, height int) []string {
	if len(r.Moves) == 0 {
		return prose("The two sets have no repeated move in common: same start, same end, same time. The Machine part still compares the plants.", width)
	}
	at := min(s.at[movePart], len(r.Moves)-1)
	rows := min(len(r.Moves), max(3, height-13))
	from := keep(at, len(r.Moves), rows)
	var lines []string
	for i := from; i < from+rows; i++ {
		text := s.moveLine(a, r.Moves[i])
		if i == at {
			lines = append(lines, a.styles.strong.draw(cell("> "+text, width)))
		} else {
			lines = append(lines, cell("  "+text, width))
		}
	}
	const table = 50
	left := s.figures(a, r.Moves[at], table)
	plot := s.plot(a, r)
	right := splitLines(plot.Render(width-table-1, height-len(lines), a.styles.paint))
	return append(lines, beside(left, table, " ", right)...)
}

// moveLine is a move in a line: what it is, its repeats and how it fared.
func (s *compareScreen) moveLine(a *App, m compare.Move) string {
	counts := map[compare.Verdict]int{}
	for _, d := range m.Figures {
		counts[d.Verdict]++
	}
	return fmt.Sprintf("%-11s %9s to %-9s  %2d and %2d repeats  %2d better %2d worse", m.Kind, a.units.show(m.From, lengthOf), a.units.show(m.To, lengthOf),
		m.Before, m.After, counts[compare.Better], counts[compare.Worse])
}

// shortFigure names the figures in the table's first column.
var shortFigure = map[compare.Figure]string{compare.Rise: "rise", compare.Settling: "settling", compare.Overshoot: "overshoot",
	compare.FollowingPeak: "error, peak", compare.FollowingRMS: "error, rms", compare.FinalError: "error left",
	compare.Hunting: "hunting", compare.PeakPressure: "pressure", compare.PeakSpeed: "motor speed", compare.OilWork: "oil work"}

func (s *compareScreen) figures(a *App, m compare.Move, width int) []string {
	lines := []string{a.styles.strong.draw(cell(cell("figure", 13)+flush("before", 11)+flush("after", 11)+"  verdict", width))}
	for _, d := range m.Figures {
		dim := d.Figure.Info().Dimension
		line := cell(shortFigure[d.Figure], 13) + flush(figureText(a.units, d.Before, dim), 11) + flush(figureText(a.units, d.After, dim), 11) + "  "
		verdict := cell(d.Verdict.String(), width-37)
		if d.Verdict == compare.Better || d.Verdict == compare.Worse {
			verdict = a.styles.strong.draw(verdict)
		}
		lines = append(lines, line+verdict)
	}
	return lines
}

// figureText is a figure with its unit; one never reached has no number.
func figureText(u units, v float64, d Quantity) string {
	if math.IsNaN(v) {
		return "never"
	}
	return shownTo(u.from(v, d), 3) + " " + u.symbol(d)
}

// machine lists the parameters, and of the one in view what its change means.
func (s *compareScreen) machine(a *App, r *compare.Report, width, height int) []string {
	if len(r.Plant) == 0 {
		return prose("The two fits have no parameter in common that was found in both.", width)
	}
	at := min(s.at[machinePart], len(r.Plant)-1)
	below := s.meaning(a, r.Plant[at], width)
	rows := min(len(r.Plant), height-len(below)-1)
	from := keep(at, len(r.Plant), rows)
	lines := []string{a.styles.strong.draw(cell("  "+cell("parameter", 22)+flush("before", 17)+flush("after", 17)+"  after / before", width))}
	for i := from; i < from+rows; i++ {
		c := r.Plant[i]
		said := "not shown"
		if c.Changed {
			said = "CHANGED"
		}
		line := cell(words(c.Param.String()), 22) + flush(a.units.brief(c.Param, c.Before), 17) + flush(a.units.brief(c.Param, c.After), 17) +
			"  " + cell(ratioText(a.units, c), 10) + said
		switch {
		case i == at:
			lines = append(lines, a.styles.here.draw(cell("> "+line, width)))
		case c.Changed:
			lines = append(lines, a.styles.strong.draw(cell("  "+line, width)))
		default:
			lines = append(lines, cell("  "+line, width))
		}
	}
	return append(lines, below...)
}

// ratioText says how a parameter went.
func ratioText(u units, c compare.Change) string {
	if math.IsNaN(c.Ratio) {
		symbol, shown := u.param(c.Param)
		return fmt.Sprintf("%+.3g %s", shown(c.Difference), symbol)
	}
	return "x " + shownTo(c.Ratio, 3)
}

// meaning is the interval of a change and, where it is shown, what it often means.
func (s *compareScreen) meaning(a *App, c compare.Change, width int) []string {
	name := upper(words(c.Param.String()))
	span := fmt.Sprintf("%s: after / before %s (95 %%).", name, between(c.RatioLow, c.RatioHigh))
	if math.IsNaN(c.Ratio) {
		symbol, shown := a.units.param(c.Param)
		span = fmt.Sprintf("%s: after less before %s %s (95 %%).", name, between(shown(c.DiffLow), shown(c.DiffHigh)), symbol)
	}
	lines := wrap(span, width)
	if !c.Changed {
		return append(lines, wrap("The logs do not show a change.", width)...)
	}
	lines = append(lines, hang("often means: ", a.units.say(c.OftenMeans), width)...)
	return append(lines, hang("could also be: ", a.units.say(c.CouldAlsoBe), width)...)
}

// notes lists what could not be compared and how far the words hold.
func (s *compareScreen) notes(a *App, r *compare.Report, width, height int) []string {
	var lines []string
	for _, n := range r.Notes {
		lines = append(lines, hang("! ", a.units.say(n), width)...)
	}
	lines = append(lines, hang("- ", fmt.Sprintf("Better, worse, no difference and changed hold jointly: at most %.0f %% of such comparisons hold any false word. Too few means that the repeats cannot tell.", 100*compare.Risk), width)...)
	return window(lines, s.at[notePart], height)
}
