package tui

import (
	"context"
	"math"
	"strings"
	"testing"

	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning"
)

// kp is the gain in view.
func kp(a *App) float64 { return a.shown().Loops.Position.Kp.Extend }

// A held knob takes one quick look at a time, the next of the newest question, and
// the search that follows is that of the last turn. Nothing queues up.
func TestHeldKnob(t *testing.T) {
	a := own(t, "3")
	var looks []tea.Cmd
	for range 3 {
		if _, cmd := a.Update(keyOf("left")); cmd != nil {
			looks = append(looks, cmd)
		}
	}
	if len(looks) != 1 {
		t.Fatalf("%d quick looks at once, want 1", len(looks))
	}
	_, second := a.Update(looks[0]())
	if !strings.Contains(a.View(), "QUICK LOOK, WAIT") || strings.Contains(a.View(), "TYPE THESE") {
		t.Error("a quick look is offered for typing")
	}
	_, search := a.Update(second())
	if math.Abs(kp(a)-11*0.65) > 1e-9 {
		t.Errorf("gain %g in the quick look, want that of the newest share, %g", kp(a), 11*0.65)
	}
	hit(a, "s")
	if s, offers := a.over.(*saver); offers && s.items[0].what == "proposal" || !offers && !strings.Contains(a.notice, "searched for") {
		t.Error("settings can be saved before they are the answer")
	}
	hit(a, "esc")
	settle(a, search)
	if a.glance != nil || a.searching() || math.Abs(kp(a)-11*0.65) > 1e-9 || !strings.Contains(a.View(), "TYPE THESE") {
		t.Errorf("gain %g after the search, quick look still there: %v", kp(a), a.glance != nil)
	}
}

// A turn ends the search of the turn before; its late answer counts for nothing.
func TestTurnEndsTheSearchBefore(t *testing.T) {
	a := own(t, "3")
	ended := false
	a.services.Propose = func(ctx context.Context, p *plant.Plant, o tuning.Options) (*tuning.Proposal, error) {
		ended = ctx.Err() != nil
		return fakePropose(ctx, p, o)
	}
	_, look := a.Update(keyOf("left"))
	_, search := a.Update(look())
	late := search()
	_, look = a.Update(keyOf("left"))
	a.Update(late)
	if a.glance == nil || math.Abs(a.work.Proposal.Loops.Position.Kp.Extend-8.8) > 1e-9 {
		t.Error("the late answer of the search before was taken")
	}
	_, next := a.Update(look())
	_, look = a.Update(keyOf("left"))
	if msg := next(); msg != nil {
		t.Errorf("a search that was ended before it began gave %T (context ended: %v)", msg, ended)
	}
	settle(a, look)
	if math.Abs(kp(a)-11*0.65) > 1e-9 || a.searching() {
		t.Errorf("gain %g at the end", kp(a))
	}
}

// Where a look is not to be had the search answers alone.
func TestNoQuickLook(t *testing.T) {
	a := own(t, "3")
	a.services.QuickLook = func(*plant.Plant, *tuning.Proposal, tuning.Options, tuning.Options, string) (*tuning.Proposal, *Response, error) {
		panic("index out of range")
	}
	hit(a, "left")
	if math.Abs(kp(a)-11*0.75) > 1e-9 || len(a.failures) > 0 {
		t.Errorf("gain %g, failures %v", kp(a), a.failures)
	}
}
