package tui

import (
	"context"
	"errors"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/tuning"
)

// A turn of a knob is answered twice: at once by a quick look at the settings at
// hand, and by a search for the best ones, which begins when the knob rests and is
// ended by the next turn. Nothing queues up behind a held key.

// usualPatience is how long a knob rests before the search begins: longer than the
// pause between the repeats of a held key, so that only its last turn starts one.
const usualPatience = 120 * time.Millisecond

// searching reports whether the settings in view are not the answer yet.
func (a *App) searching() bool { return a.looking.busy || a.proposing.busy() }

// shown returns the proposal in view: the quick look while there is one.
func (a *App) shown() *tuning.Proposal {
	if a.glance != nil {
		return a.glance
	}
	return a.work.Proposal
}

// turned answers a changed option.
func (a *App) turned() tea.Cmd {
	t := a.work.Proposal
	if t == nil || t.Loops.Position == nil || a.services.QuickLook == nil {
		return a.propose(0)
	}
	a.proposing.stop()
	a.answering.stop()
	return a.glimpse()
}

// glimpse takes a quick look, or once more when the one in progress is done.
func (a *App) glimpse() tea.Cmd {
	if !a.looking.want() {
		return nil
	}
	bench, p, t, was, now, id := a.bench, a.work.Plant, a.work.Proposal, a.made, a.work.Options, a.scenario
	if t == nil {
		a.looking.done()
		return a.propose(0)
	}
	return func() tea.Msg {
		msg := glancedMsg{bench: bench}
		_, msg.err = guarded(func() (none struct{}, err error) {
			msg.glance, msg.response, err = a.services.QuickLook(p, t, was, now, id)
			return none, err
		})
		return msg
	}
}

// glanced shows a quick look. The search follows it, so that the two do not compete.
func (a *App) glanced(msg glancedMsg) tea.Cmd {
	again, current := a.looking.done(), msg.bench == a.bench
	if current && msg.err == nil {
		a.glance, a.work.Response = msg.glance, msg.response
		delete(a.failures, stepPropose)
		delete(a.failures, stepRespond)
	}
	switch {
	case again:
		return a.glimpse()
	case current:
		return a.propose(a.patience)
	}
	return nil // another bench has its own search
}

// propose searches for loops with the options as they are now, after a while.
func (a *App) propose(after time.Duration) tea.Cmd {
	if a.work.Plant == nil || a.services.Propose == nil {
		return nil
	}
	a.answering.stop()
	id, ctx := a.proposing.begin(a.ctx)
	p, o := a.work.Plant, a.work.Options
	return func() tea.Msg {
		if !wait(ctx, after) {
			return nil
		}
		msg := proposedMsg{id: id, options: o}
		_, msg.err = guarded(func() (none struct{}, err error) {
			if msg.proposal, err = a.services.Propose(ctx, p, o); err == nil && a.services.Scenarios != nil {
				msg.scenes = a.services.Scenarios(p, msg.proposal)
			}
			return none, err
		})
		return msg
	}
}

// wait returns after the time; false if ctx has ended before.
func wait(ctx context.Context, d time.Duration) bool {
	if d <= 0 {
		return ctx.Err() == nil
	}
	select {
	case <-time.After(d):
		return true
	case <-ctx.Done():
		return false
	}
}

// proposed puts the search's outcome in place of the quick look.
func (a *App) proposed(msg proposedMsg) tea.Cmd {
	if !a.proposing.done(msg.id) || errors.Is(msg.err, context.Canceled) {
		return nil
	}
	a.glance = nil
	if msg.err != nil {
		a.failures[stepPropose] = msg.err
		return nil
	}
	delete(a.failures, stepPropose)
	a.work.Proposal, a.made, a.scenes = msg.proposal, msg.options, append(msg.scenes, a.replayScenes()...)
	a.unsaved["proposal"] = !a.work.Demo && msg.proposal != nil
	return a.respond()
}

// respond simulates the chosen scenario for the proposal, or replays the log chosen.
func (a *App) respond() tea.Cmd {
	s, ok := a.scene()
	if !ok || a.services.Respond == nil {
		return nil
	}
	if log, replays := a.replaying(); replays {
		return a.runReplay(log)
	}
	id, ctx := a.answering.begin(a.ctx)
	p, proposal, found := a.work.Plant, a.work.Proposal, a.work.Options.AsFound
	return func() tea.Msg {
		r, err := guarded(func() (*Response, error) { return a.services.Respond(ctx, p, proposal, found, s.ID) })
		return respondedMsg{id, r, err}
	}
}

func (a *App) responded(msg respondedMsg) {
	switch {
	case !a.answering.done(msg.id) || errors.Is(msg.err, context.Canceled):
	case msg.err != nil:
		a.failures[stepRespond] = msg.err
	default:
		delete(a.failures, stepRespond)
		a.work.Response = msg.response
	}
}
