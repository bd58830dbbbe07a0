package tui

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tui/chart"
	"eha/strokewise/tuning"
)

// A replay is a scenario of its own on the Response screen: a closed-loop log's
// commands run again through the fitted plant under the settings in use then, laid
// over what was recorded.

// replay is a log beside its replay.
type replay struct {
	log    string
	belief tuning.Belief
	tracks []track
}

// track is one channel: what was recorded, what was replayed, what was wanted.
type track struct {
	name               string
	quantity           Quantity
	recorded, replayed chart.Series
	wanted             *chart.Series
	off, worst         float64 // SI, rms and largest of the difference
}

const replayMark = "replay:"

func replayID(log int) string { return replayMark + strconv.Itoa(log) }

// replaying returns which log the scenario in view replays.
func (a *App) replaying() (log int, ok bool) {
	s, _ := a.scene()
	number, ok := strings.CutPrefix(s.ID, replayMark)
	log, err := strconv.Atoi(number)
	return log, ok && err == nil && a.work.Logs != nil && log < len(a.work.Logs.Readings)
}

// closedLoop lists the logs that can be replayed.
func (a *App) closedLoop() []int {
	var list []int
	if a.work.Logs == nil {
		return nil
	}
	for i, r := range a.work.Logs.Readings {
		if r.Trace.Has(trace.PositionCommand, trace.RodPosition) {
			list = append(list, i)
		}
	}
	return list
}

// replayScenes are the replays offered behind what is simulated.
func (a *App) replayScenes() []Scenario {
	var list []Scenario
	for _, i := range a.closedLoop() {
		list = append(list, Scenario{ID: replayID(i), Title: "replay of " + a.work.Logs.Readings[i].Trace.Name()})
	}
	return list
}

// replayedMsg is a log replayed.
type replayedMsg struct {
	id     int
	replay *replay
	err    error
}

// runReplay replays a log under the settings in use, where they are given.
func (a *App) runReplay(log int) tea.Cmd {
	a.replay = nil
	found := a.work.Options.AsFound
	if found == nil || a.services.Replay == nil {
		return nil
	}
	id, _ := a.answering.begin(a.ctx)
	p, t, u, run := a.work.Plant, a.work.Logs.Readings[log].Trace, a.units, a.services.Replay
	return func() tea.Msg {
		r, err := guarded(func() (*replay, error) {
			overlays, err := run(p, *found, t)
			if err != nil {
				return nil, err
			}
			return newReplay(u, t, overlays), nil
		})
		return replayedMsg{id, r, err}
	}
}

func (a *App) replayed(msg replayedMsg) {
	if !a.answering.done(msg.id) {
		return
	}
	delete(a.failures, stepRespond)
	if a.replay = msg.replay; msg.err != nil {
		a.failures[stepRespond] = msg.err
	}
}

// newReplay makes what the screen draws, once; logs are long.
func newReplay(u units, t *trace.Trace, overlays []plant.Overlay) *replay {
	r := &replay{log: t.Name(), belief: tuning.Believe(t, overlays)}
	for i, o := range overlays {
		c, ok := trace.ParseChannel(o.Channel)
		if !ok {
			continue
		}
		k := track{name: c.Words(), quantity: c.Dimension()}
		k.fill(u, o.Measured, o.Modeled, o.Start, o.Period)
		r.tracks = append(r.tracks, k)
		if command, ok := t.Samples(trace.PositionCommand); ok && i == 0 {
			wanted := u.series("wanted", command[:len(o.Measured)], quantity.Length, o.Start, o.Period, chart.Dotted, chart.InkText)
			r.tracks[0].wanted = &wanted
			r.tracks = append(r.tracks, followingTrack(u, o, command))
		}
	}
	return r
}

// followingTrack is how far the rod was from its reference, which shows what the travel hides.
func followingTrack(u units, o plant.Overlay, command []float64) track {
	recorded, replayed := make([]float64, len(o.Measured)), make([]float64, len(o.Measured))
	for i := range recorded {
		recorded[i], replayed[i] = command[i]-o.Measured[i], command[i]-o.Modeled[i]
	}
	k := track{name: "following error", quantity: quantity.Length}
	k.fill(u, recorded, replayed, o.Start, o.Period)
	return k
}

func (k *track) fill(u units, recorded, replayed []float64, start, step float64) {
	k.recorded = u.series("recorded", recorded, k.quantity, start, step, chart.Solid, chart.InkA)
	k.replayed = u.series("replayed", replayed, k.quantity, start, step, chart.Dashed, chart.InkB)
	for i := range recorded {
		d := math.Abs(recorded[i] - replayed[i])
		k.off, k.worst = k.off+d*d, max(k.worst, d)
	}
	k.off = math.Sqrt(k.off / float64(max(len(recorded), 1)))
}

// series is a long course in the units of display, quick to draw.
func (u units) series(name string, y []float64, d Quantity, start, step float64, shape chart.Shape, ink chart.Ink) chart.Series {
	unit := quantity.Display(d, u.system)
	return chart.Series{Name: name, Y: y, Start: start, Step: step, Shape: shape, Ink: ink,
		Gain: 1 / unit.Factor, Offset: -unit.Zero / unit.Factor, Summary: chart.Summarise(y)}
}

// plots are the channels, each with what was recorded and replayed.
func (r *replay) plots(u units) []chart.Plot {
	var list []chart.Plot
	for i := range r.tracks {
		k := &r.tracks[i]
		p := chart.Plot{X: chart.Axis{Label: "time (s)"}, Y: chart.Axis{Label: u.label(k.name, k.quantity)}, Series: []chart.Series{k.recorded, k.replayed}}
		if k.wanted != nil {
			p.Series = append([]chart.Series{*k.wanted}, p.Series...)
		}
		list = append(list, p)
	}
	return list
}

// table lists by how much the replay is off, channel by channel.
func (r *replay) table(a *App, width int) []string {
	column := min((width-20)/2, 24)
	lines := []string{a.styles.strong.draw(cell(cell("replay is off by", 20)+cell("rms", column)+cell("at most", column), width))}
	for i := range r.tracks {
		k := &r.tracks[i]
		if k.name == "following error" {
			continue // off by the same as the position
		}
		lines = append(lines, cell(cell(k.name, 20)+cell(a.units.rounded(k.off, k.quantity), column)+cell(a.units.rounded(k.worst, k.quantity), column), width))
	}
	return append(lines, a.styles.faint.draw(cell("The fit has seen this log too: it shows whether model and settings agree.", width)))
}

// rounded is a difference with two digits and its unit.
func (u units) rounded(si float64, d Quantity) string {
	unit := quantity.Display(d, u.system)
	return fmt.Sprintf("%s %s", digits(si/unit.Factor, 2), unit.Symbol)
}

// replaySays is how far to believe the simulation, as a sentence.
func (a *App) replaySays() string {
	switch {
	case a.work.Options.AsFound == nil:
		return "A replay needs the settings that were in use when this log was made: i asks for them."
	case a.replay == nil:
		return "Replaying the log under the settings in use then."
	}
	verdict, _ := a.replay.belief.Words()
	return verdict
}

func (a *App) replayNext() string {
	switch {
	case a.work.Options.AsFound == nil:
		return "i types the settings in use then; c takes another scenario"
	case a.replay == nil:
		return "a moment; it appears here"
	}
	if _, advice := a.replay.belief.Words(); advice != "" {
		return "i changes the settings. " + advice
	}
	return "tab shows the following error and more; z large; c takes another scenario"
}
