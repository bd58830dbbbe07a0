package tui

import (
	"context"

	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/compare"
)

// Comparison is the bench beside another set of logs of the same machine.
type Comparison struct {
	Other      *Logs
	OtherPlant *plant.Plant
	// BenchBefore says that the bench is what was before; else it came after.
	BenchBefore bool
	// The reports with the other set as what was before, and as what came after.
	OtherBefore, OtherAfter *compare.Report
}

// Report is the comparison the way round that it is looked at.
func (c *Comparison) Report() *compare.Report {
	if c.BenchBefore {
		return c.OtherAfter
	}
	return c.OtherBefore
}

const stepCompare = "comparing"

// comparedMsg is another set read, fitted and compared with a bench.
type comparedMsg struct {
	bench      int
	req        Request
	comparison *Comparison
}

// openOther offers the files of the folder as the set to compare with.
func (a *App) openOther() tea.Cmd {
	switch {
	case a.services.Compare == nil:
		a.notice = "There is nothing to compare with: o opens logs of your machine first"
		return nil
	case a.work.Demo && a.work.Logs == nil:
		a.notice = "The demo's logs are still being read: press a again in a moment"
		return nil
	case a.work.Demo:
		return a.compareWith(Request{Demo: true})
	case a.work.Plant == nil:
		a.notice = "First load logs of one state of the machine: o opens them"
		return nil
	}
	return a.browse(a.folder, true)
}

// compareWith reads another set and compares the bench with it. The bench's
// machine file and corrected columns serve it too where it has none of its own.
func (a *App) compareWith(req Request) tea.Cmd {
	if req.MachineFile == "" {
		req.MachineFile = a.request.MachineFile
	}
	req.Columns, req.Period = a.request.Columns, a.request.Period
	a.show(compareTab)
	return a.compare(req)
}

// compare compares the bench with another set, the way round that it was before.
func (a *App) compare(req Request) tea.Cmd {
	bench, logs, p, run := a.bench, a.work.Logs, a.work.Plant, a.services.Compare
	delete(a.failures, stepCompare)
	return a.begin(stepCompare, func(ctx context.Context, progress Progress) tea.Msg {
		c, err := run(ctx, req, logs, p, progress)
		if err != nil {
			return failedMsg{stepCompare, err}
		}
		return comparedMsg{bench, req, c}
	})
}

// compareAgain compares anew with the other set where the bench was read or fitted
// again; nil where nothing was compared.
func (a *App) compareAgain() tea.Cmd {
	if len(a.other.Paths) == 0 || a.work.Plant == nil || a.services.Compare == nil {
		return nil
	}
	return a.compare(a.other)
}

// compared puts a comparison on the bench that it is of.
func (a *App) compared(msg comparedMsg) {
	if msg.bench != a.bench {
		return
	}
	if a.work.Comparison != nil {
		msg.comparison.BenchBefore = a.work.Comparison.BenchBefore
	} else {
		a.screens[compareTab] = newCompare()
		msg.comparison.BenchBefore = a.work.Demo // its other log was made after tuning
	}
	a.work.Comparison, a.other = msg.comparison, msg.req
}
