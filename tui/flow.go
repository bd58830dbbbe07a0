package tui

import (
	"context"
	"errors"
	"slices"

	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tui/chart"
	"eha/strokewise/tuning"
	"eha/strokewise/tuning/job"
)

// The way through: logs are loaded, then fitted, then loops proposed, then a
// response simulated. Each step starts the next; a step that fails says so on its
// screen and leaves what came before in place.

type (
	loadedMsg struct {
		logs      *Logs
		req       Request
		summaries summaries
	}
	fittedMsg  struct{ plant *plant.Plant }
	glancedMsg struct {
		bench    int
		glance   *tuning.Proposal
		response *Response
		err      error
	}
	proposedMsg struct {
		id       int
		options  tuning.Options
		proposal *tuning.Proposal
		scenes   []Scenario
		err      error
	}
	respondedMsg struct {
		id       int
		response *Response
		err      error
	}
	savedMsg struct {
		what, path string
		columns    map[trace.Channel]trace.Column // said on the screens when it was saved
		err        error
	}
	// failedMsg says that a step of the way through failed.
	failedMsg struct {
		step string
		err  error
	}
)

// The steps, as they are named where one fails.
const (
	stepLoad    = "reading the logs"
	stepFit     = "fitting the plant"
	stepPropose = "proposing the loops"
	stepRespond = "simulating the response"
	stepSave    = "saving"
)

// load reads logs in place of what is on the bench.
func (a *App) load(req Request) tea.Cmd {
	load := a.services.Load
	if load == nil {
		return nil
	}
	if !req.Demo {
		a.tried = req
	}
	return a.begin(stepLoad, func(ctx context.Context, progress Progress) tea.Msg {
		logs, err := load(ctx, req, progress)
		if err != nil {
			return failedMsg{stepLoad, err}
		}
		return loadedMsg{logs, req, summarise(logs)}
	})
}

// summaries let long logs be drawn quickly, by trace and channel.
type summaries map[*trace.Trace]map[trace.Channel]*chart.Summary

func summarise(logs *Logs) summaries {
	all := summaries{}
	for _, r := range logs.Readings {
		all[r.Trace] = map[trace.Channel]*chart.Summary{}
		for _, c := range r.Trace.Channels() {
			y, _ := r.Trace.Samples(c)
			all[r.Trace][c] = chart.Summarise(y)
		}
	}
	return all
}

// loadDemo fetches the demo machine's logs for the Traces screen.
func (a *App) loadDemo() tea.Cmd { return a.load(Request{Demo: true}) }

func (a *App) reload() tea.Cmd {
	if len(a.tried.Paths) == 0 {
		a.notice = "No logs of your own to read again: o opens some"
		return nil
	}
	return a.load(a.tried)
}

// outcome answers the end of a step.
func (a *App) outcome(msg tea.Msg) tea.Cmd {
	switch msg := msg.(type) {
	case loadedMsg:
		return a.loaded(msg)
	case fittedMsg:
		return a.fitted(msg.plant)
	case glancedMsg:
		return a.glanced(msg)
	case proposedMsg:
		return a.proposed(msg)
	case respondedMsg:
		a.responded(msg)
	case replayedMsg:
		a.replayed(msg)
	case savedMsg:
		a.saved(msg)
	case comparedMsg:
		a.compared(msg)
	case filesMsg:
		a.opened(msg)
	case lookedMsg:
		return a.tabled(msg)
	case triedMsg:
		return a.heard(msg)
	case failedMsg:
		if !errors.Is(msg.err, context.Canceled) {
			return a.failed(msg)
		}
	}
	return nil
}

// failed shows a failure where its result would be. A log that could not be read may
// be one whose columns nobody could tell: then it is looked at as a table.
func (a *App) failed(msg failedMsg) tea.Cmd {
	if msg.step == stepLoad {
		var file *job.FileError
		var read *trace.ReadError
		if errors.As(msg.err, &file) && errors.As(msg.err, &read) && a.services.Look != nil {
			return a.lookAt(lookedMsg{req: a.tried, path: file.Path, fault: msg.err})
		}
		a.unread(msg.err)
		return nil
	}
	a.failures[msg.step] = msg.err
	a.show(map[string]int{stepFit: 1, stepCompare: compareTab}[msg.step])
	return nil
}

// unread says that logs could not be read, above what is on the bench if that stays.
func (a *App) unread(err error) {
	a.table = nil
	drop := a.tried.toBlame(err)
	if !a.empty() || drop != "" {
		a.over = &fault{"The logs could not be read.", advise(err), timeless(err), drop}
	}
	if !a.empty() {
		return
	}
	a.failures[stepLoad] = err
	a.show(0)
}

// empty reports whether nothing is on the bench.
func (a *App) empty() bool { return a.work.Logs == nil && a.work.Plant == nil }

// loaded puts logs on the bench. The demo's own join its plant; others replace everything.
func (a *App) loaded(msg loadedMsg) tea.Cmd {
	delete(a.failures, stepLoad)
	a.table = nil
	a.screens[0], a.summaries = tracesOn(msg.logs), msg.summaries
	if msg.req.Demo && a.work.Plant != nil {
		a.work.Logs = msg.logs
		if a.work.Options.AsFound == nil && msg.logs.AsFound != nil {
			a.work.Options.AsFound = msg.logs.AsFound
			return a.propose(0)
		}
		return nil
	}
	if msg.req.InUse != nil {
		msg.logs.AsFound = msg.req.InUse
	}
	fresh := Work{Demo: msg.req.Demo, Logs: msg.logs, Options: a.defaults}
	fresh.Options.AsFound = msg.logs.AsFound
	// Read again, a bench keeps what it is compared with; other logs do not.
	if slices.Equal(msg.req.Paths, a.request.Paths) {
		fresh.Comparison = a.work.Comparison
		fresh.Options = a.work.Options
		fresh.Options.AsFound = msg.logs.AsFound
	} else {
		a.other, a.aside, a.undo, a.kept = Request{}, nil, nil, msg.req.Columns
	}
	a.work, a.request = fresh, msg.req
	a.bench++
	a.glance, a.scenes, a.replay = nil, nil, nil
	a.proposing.stop()
	a.answering.stop()
	a.failures = map[string]error{}
	delete(a.unsaved, "proposal")
	if msg.logs.Plant != nil {
		a.show(1)
		return a.fitted(msg.logs.Plant)
	}
	if _, stopped := msg.logs.stop(); stopped {
		a.show(0)
		return nil
	}
	return a.fit()
}

func (a *App) fit() tea.Cmd {
	fit, logs := a.services.Fit, a.work.Logs
	return a.begin(stepFit, func(ctx context.Context, progress Progress) tea.Msg {
		p, err := fit(ctx, logs, progress)
		if err != nil {
			return failedMsg{stepFit, err}
		}
		return fittedMsg{p}
	})
}

func (a *App) fitted(p *plant.Plant) tea.Cmd {
	a.work.Plant = p
	a.screens[1] = newPlant()
	return tea.Batch(a.propose(0), a.compareAgain())
}
