package tui

import (
	"fmt"
	"math"
	"strings"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/quality"
	"eha/strokewise/ident/trace"
)

// tracesScreen asks: can these recordings be trusted, and what can they tell?
// The channels run along the screen like the pens of a recorder, all over one time.
type tracesScreen struct {
	log, lane int
	cursor    float64 // s
	from, to  float64 // s, the stretch in view; equal for the whole log
	list      int     // which list is below
	inList    bool    // the arrows move in the list
	at        int     // entry of the list
}

// The lists under the lanes.
const (
	findingList = iota
	abilityList
	questionList
	lists
)

func newTraces() *tracesScreen { return &tracesScreen{cursor: math.NaN()} }

// tracesOn is the screen on new logs, at the channel that stops them if one does.
func tracesOn(l *Logs) *tracesScreen {
	s := newTraces()
	f, stopped := l.stop()
	for i, r := range l.Readings {
		if !stopped || r.Trace.Name() != f.Log {
			continue
		}
		for k, ln := range lanes(r) {
			if ln.channel == f.Channel {
				s.log, s.lane = i, k
				return s
			}
		}
	}
	return s
}

func (s *tracesScreen) title() string { return "Traces" }

func (s *tracesScreen) says(a *App) string {
	l := a.work.Logs
	switch {
	case a.failures[stepLoad] != nil:
		return "The logs could not be read."
	case l == nil && a.task != nil:
		return "The logs are being read."
	case l == nil:
		return "No logs on the bench."
	case len(l.Readings) == 0:
		return "A plant file stands in place of logs: there are no traces to judge."
	}
	if f, ok := l.stop(); ok {
		if s.inList {
			return fmt.Sprintf("STOP: %s to clear before anything is fitted.", plural(l.stops(), "fault"))
		}
		if n := l.stops(); n > 1 {
			return fmt.Sprintf("STOP, %d faults. The first: %s", n, a.units.say(f.Text))
		}
		return "STOP: " + a.units.say(f.Text)
	}
	harm, can := 0, 0
	for _, f := range l.Report.Findings {
		if f.Severity == quality.Harm {
			harm++
		}
	}
	for _, i := range l.Report.Identifiable {
		if i.Can {
			can++
		}
	}
	of := len(l.Report.Identifiable)
	switch {
	case can == 0:
		return "Nothing is wrong with what was logged, but too little was: not one parameter can be told."
	case harm == 0:
		return fmt.Sprintf("Fit for use: no fault found. These logs can tell %d of %d parameters.", can, of)
	}
	return fmt.Sprintf("Usable, with %s: see below. These logs can tell %d of %d parameters.", plural(harm, "harmful finding"), can, of)
}

func (s *tracesScreen) next(a *App) string {
	l := a.work.Logs
	switch {
	case a.table != nil && (s.reading(a) == nil || a.aside != nil):
		return "m shows the file's columns, to say which is which; r reads it again, o opens others"
	case timeless(a.failures[stepLoad]):
		return "t types the sample period; o opens others"
	case a.failures[stepLoad] != nil:
		return "put the file right and press r, or o to open others"
	case l == nil:
		return "o opens logs of your machine"
	case a.stopped():
		return s.clear(a)
	case a.work.Demo:
		return "2 shows what was fitted from these; o opens logs of your own machine"
	}
	lacking := l.unlogged()
	asked := 0
	for _, q := range l.questions() {
		if q.channel != trace.NoChannel {
			asked++
		}
	}
	switch {
	case len(lacking) > 0 && asked > 0:
		return fmt.Sprintf("no column was taken for the %s; m shows the columns, to say which is which (%s, tab)", strings.Join(lacking, ", "), plural(asked, "question"))
	case len(lacking) > 0 && l.spare():
		return fmt.Sprintf("no column was taken for the %s; m shows the columns, to say which is which, else log it too", strings.Join(lacking, ", "))
	case len(lacking) > 0:
		return "log " + strings.Join(lacking, ", ") + " too"
	}
	if a.nameless() {
		return "2 shows the plant fitted from these. No bore and rod, so no forces: s writes a machine file to fill them in"
	}
	return "2 shows the plant fitted from these; m corrects a wrong column"
}

// clear says how what stops the work is cleared.
func (s *tracesScreen) clear(a *App) string {
	f, _ := a.work.Logs.stop()
	do := strings.TrimSuffix(a.units.say(f.Do), ".") + "."
	if c, ok := a.cureOf(f); ok {
		return "c: " + c.what + ", here only. " + do
	}
	return "m changes how it is read here. " + do
}

func (s *tracesScreen) keys(a *App) []key.Binding {
	switch {
	case s.reading(a) == nil && a.table != nil:
		return []key.Binding{keyMap, keyReload, keyPeriod}
	case s.reading(a) == nil && timeless(a.failures[stepLoad]):
		return []key.Binding{keyPeriod, keyReload}
	case s.reading(a) == nil:
		return []key.Binding{keyReload}
	}
	tab, arrows := shown(keyTab, "tab", "to the lists"), shown(keyUp, "arrows", "channel, cursor")
	rest := []key.Binding{shown(keyIn, "+ - 0", "zoom, whole log"), keyNextLog, keyUndo, keyLeaveOut, keyPeriod, keyDrop, shown(keyEnter, "enter", "show the finding's stretch, answer the question"), keyLarge}
	correct := keyCorrect
	if f, ok := s.finding(a); ok {
		if _, ok := a.cureOf(f); ok {
			return append([]key.Binding{correct, keyMap, tab, arrows}, rest...)
		}
	}
	if a.stopped() {
		return append([]key.Binding{keyMap, tab, arrows, correct}, rest...)
	}
	return append([]key.Binding{arrows, tab, keyMap, correct}, rest...)
}

func (s *tracesScreen) press(a *App, msg tea.KeyMsg) tea.Cmd {
	if key.Matches(msg, keyPeriod) {
		a.askPeriod()
		return nil
	}
	if key.Matches(msg, keyMap) {
		return s.mapColumns(a)
	}
	r := s.reading(a)
	if r == nil {
		return nil
	}
	from, to := s.span(r.Trace)
	switch {
	case key.Matches(msg, keyTab):
		s.nextList(1)
	case key.Matches(msg, keyTabBack):
		s.nextList(-1)
	case key.Matches(msg, keyUp):
		s.move(a, -1)
	case key.Matches(msg, keyDown):
		s.move(a, 1)
	case key.Matches(msg, keyLeft):
		s.slide(r.Trace, -(to-from)/50)
	case key.Matches(msg, keyRight):
		s.slide(r.Trace, (to-from)/50)
	case key.Matches(msg, keyIn):
		s.zoom(r.Trace, 0.5)
	case key.Matches(msg, keyOut):
		s.zoom(r.Trace, 2)
	case key.Matches(msg, keyWhole):
		s.from, s.to = 0, 0
	case key.Matches(msg, keyEnter) && s.inList && s.list == questionList:
		return s.reply(a)
	case key.Matches(msg, keyEnter):
		s.jump(a)
	case key.Matches(msg, keyCorrect):
		return s.correct(a)
	case key.Matches(msg, keyLeaveOut):
		return s.leaveOut(a)
	case key.Matches(msg, keyNextLog):
		*s = tracesScreen{log: (s.log + 1) % len(a.work.Logs.Readings), cursor: math.NaN()}
	case key.Matches(msg, keyDrop):
		return s.drop(a)
	case key.Matches(msg, keyUndo):
		return a.takeBack()
	}
	return nil
}

// nextList goes round: lanes, findings, what can be told, what is asked.
func (s *tracesScreen) nextList(n int) {
	at := 0
	if s.inList {
		at = 1 + s.list
	}
	at = turnRound(at, n, 1+lists)
	s.inList, s.at = at > 0, 0
	if at > 0 {
		s.list = at - 1
	}
}

// move goes up or down in whatever the arrows move.
func (s *tracesScreen) move(a *App, n int) {
	if !s.inList {
		s.lane = min(max(s.lane+n, 0), max(len(lanes(s.reading(a)))-1, 0))
		return
	}
	s.at = min(max(s.at+n, 0), max(s.entries(a.work.Logs)-1, 0))
}

// entries counts what the list below holds.
func (s *tracesScreen) entries(l *Logs) int {
	switch s.list {
	case abilityList:
		return len(l.Report.Identifiable)
	case questionList:
		return len(l.questions())
	}
	return len(l.Report.Findings)
}

// jump shows the stretch of the finding under the arrow, in its log and channel.
func (s *tracesScreen) jump(a *App) {
	l := a.work.Logs
	if !s.inList || s.list != findingList || s.at >= len(l.Report.Findings) {
		return
	}
	f := l.Report.Findings[s.at]
	for i := range l.Readings {
		if l.Readings[i].Trace.Name() == f.Log {
			s.log = i
		}
	}
	r := s.reading(a)
	for i, ln := range lanes(r) {
		if ln.channel == f.Channel {
			s.lane = i
		}
	}
	margin := math.Max((f.To-f.From)/2, 50*r.Trace.Period())
	s.from, s.to = math.Max(f.From-margin, r.Trace.TimeAt(0)), math.Min(f.To+margin, r.Trace.TimeAt(r.Trace.Len()-1))
	s.cursor = f.From
}

// reply opens the columns of the log that a question is about, at one that may answer it.
func (s *tracesScreen) reply(a *App) tea.Cmd {
	list := a.work.Logs.questions()
	if s.at >= len(list) || list[s.at].channel == trace.NoChannel || a.work.Demo {
		a.notice = "That is answered at the machine and with the next log, not here"
		return nil
	}
	return a.lookAt(lookedMsg{req: a.request, path: parts(a.work.Logs.Paths[list[s.at].log])[0], hand: list[s.at].channel})
}

// drop reads the logs again without the one in view.
func (s *tracesScreen) drop(a *App) tea.Cmd {
	if a.work.Demo || len(a.request.Paths) < 2 {
		a.notice = "This is the only log; o opens others"
		return nil
	}
	return a.load(a.request.without(a.work.Logs.Paths[s.log]))
}

func (s *tracesScreen) click(a *App, x, y, width, height int) tea.Cmd {
	r := s.reading(a)
	if r == nil || a.large {
		return nil
	}
	rows := s.laneRows(a, len(lanes(r)), height)
	top := 1
	for i := rows.first; i < rows.first+rows.shown; i++ {
		h := rows.height(i, s.lane)
		if y >= top && y < top+h {
			s.lane, s.inList = i, false
			if x >= laneLabel {
				from, to := s.span(r.Trace)
				s.cursor = from + (to-from)*(float64(x-laneLabel)+0.5)/float64(width-laneLabel)
			}
		}
		top += h
	}
	return nil
}
