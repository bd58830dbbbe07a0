package tui

import (
	"math"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/tui/chart"
)

// lens is the cursor and the zoom of a large plot.
type lens struct {
	cursor, from, to float64
	active           bool // the cursor has been set
}

// keysOfLens are the keys of a large plot.
var keysOfLens = []key.Binding{shown(keyLeft, "left/right", "cursor"), shown(keyIn, "+ - 0", "zoom, all"), keyLarge}

// axis turns abscissae into what cursor steps are even in, and back.
func axis(p *chart.Plot) (to, back func(float64) float64) {
	if p.X.Log {
		return math.Log10, func(v float64) float64 { return math.Pow(10, v) }
	}
	same := func(v float64) float64 { return v }
	return same, same
}

// press moves the cursor or zooms; it reports whether the key was one of the lens's.
func (l *lens) press(p *chart.Plot, msg tea.KeyMsg) bool {
	to, back := axis(p)
	whole0, whole1 := p.Range()
	lo, hi := to(whole0), to(whole1)
	from, until := lo, hi
	if l.from < l.to {
		from, until = to(l.from), to(l.to)
	}
	at := (from + until) / 2
	if l.active {
		at = math.Min(math.Max(to(l.cursor), from), until)
	}
	zoom := func(factor float64) {
		width := (until - from) * factor
		if width >= 0.999*(hi-lo) {
			l.from, l.to = 0, 0
			return
		}
		start := math.Min(math.Max(at-width*(at-from)/(until-from), lo), hi-width)
		l.from, l.to = back(start), back(start+width)
	}
	switch {
	case key.Matches(msg, keyLeft):
		l.cursor, l.active = back(math.Max(at-(until-from)/60, from)), true
	case key.Matches(msg, keyRight):
		l.cursor, l.active = back(math.Min(at+(until-from)/60, until)), true
	case key.Matches(msg, keyIn):
		zoom(0.5)
	case key.Matches(msg, keyOut):
		zoom(2)
	case key.Matches(msg, keyWhole):
		*l = lens{}
	default:
		return false
	}
	return true
}

// apply shows the plot through the lens.
func (l *lens) apply(p *chart.Plot) {
	if l.from < l.to {
		p.X.Min, p.X.Max = l.from, l.to
	}
	if l.active {
		p.Cursor = &l.cursor
	}
}

// read lists what the cursor is on.
func (l *lens) read(p *chart.Plot) string {
	if !l.active {
		return "left/right sets the cursor, + and - zoom, z goes back"
	}
	text := p.X.Label + " " + digits(l.cursor, 4)
	for i := range p.Series {
		if y, ok := p.Series[i].Nearest(l.cursor); ok && p.Series[i].Name != "" {
			text += ";  " + p.Series[i].Name + " " + digits(y, 4)
		}
	}
	return text
}

// large draws a plot over the whole body with the reading under it.
func (l *lens) large(a *App, p chart.Plot, width, height int) []string {
	l.apply(&p)
	return append(splitLines(p.Render(width, height-1, a.styles.paint)), a.styles.strong.draw(cell(l.read(&p), width)))
}
