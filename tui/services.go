package tui

import (
	"context"
	"time"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quality"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tuning"
	"eha/strokewise/tuning/job"
	"eha/strokewise/tuning/law"
)

// Services are what the screens ask of the rest of the program: everything that
// touches files or takes time. They are called outside the screens' own
// goroutine and must give up soon once ctx is done: a later call may begin before they have.
type Services struct {
	// Load reads and judges logs. An error is shown with the advice of hint.go.
	Load func(ctx context.Context, req Request, progress Progress) (*Logs, error)
	// Look reads one log of a request as a table, whether it can be read as a log or not,
	// and returns what the machine file and the request state of its columns.
	Look func(ctx context.Context, req Request, path string, progress Progress) (*trace.Sheet, map[trace.Channel]trace.Column, error)
	// Fit fits the plant. It returns a plant even where little could be found.
	Fit func(ctx context.Context, logs *Logs, progress Progress) (*plant.Plant, error)
	// Propose designs the loops; a knob that is turned on ends it and calls it again.
	Propose func(ctx context.Context, p *plant.Plant, o tuning.Options) (*tuning.Proposal, error)
	// QuickLook judges the proposal made with the options was under the options now, at
	// once, with the response of the scenario id. Nil leaves the screens to wait for Propose.
	QuickLook func(p *plant.Plant, proposal *tuning.Proposal, was, now tuning.Options, id string) (*tuning.Proposal, *Response, error)
	// Scenarios lists what can be simulated for a proposal, the usual one first.
	Scenarios func(p *plant.Plant, proposal *tuning.Proposal) []Scenario
	// Respond simulates a scenario with the proposed and, where not nil, the as-found settings.
	Respond func(ctx context.Context, p *plant.Plant, proposal *tuning.Proposal, asFound *law.Loops, id string) (*Response, error)
	// Replay runs a log's commands through the plant under the settings in use then.
	Replay func(p *plant.Plant, found law.Loops, t *trace.Trace) ([]plant.Overlay, error)
	// Curve returns the open loop of a proposal at a point of its grid over
	// omega (rad/s), for the Nyquist plane. Nil leaves the plane out.
	Curve func(p *plant.Plant, proposal *tuning.Proposal, at tuning.Margin) (omega []float64, open []complex128, err error)
	// Folder lists the logs and machine files of a folder and its subfolders' names.
	Folder func(dir string) ([]File, error)
	// The savers write one file whole or not at all. A nil one is not offered.
	SaveProposal func(path string, p *plant.Plant, proposal *tuning.Proposal) error
	SavePlant    func(path string, p *plant.Plant) error
	SaveInUse    func(path string, l *law.Loops) error
	// SaveColumns writes the columns corrected into the machine file at path, everything
	// else in it as it stands there; one that is not there yet begins as from ("" for one to fill in).
	SaveColumns func(path, from string, columns map[trace.Channel]trace.Column) error
	// Compare reads and fits another set of logs and compares the bench's with it.
	// Nil does not offer it. logs is nil where only a plant is on the bench.
	Compare func(ctx context.Context, other Request, logs *Logs, p *plant.Plant, progress Progress) (*Comparison, error)
	// SaveComparison writes the comparison of the plant on the bench as text, or as JSON
	// where the name ends so.
	SaveComparison func(path string, p *plant.Plant, c *Comparison, system quantity.System) error
	SaveRecord     func(ctx context.Context, path string, w *Work, system quantity.System) error
}

// Progress is told what is being done and which share of it is done: 0 to 1,
// negative where unknown. It may be called from any goroutine.
type Progress = job.Progress

// Request says which logs to read and how.
type Request struct {
	Demo        bool // the demo machine's logs, whatever Paths says
	Paths       []string
	MachineFile string // "" for none
	AsFound     string // file of the settings in use when the logs were made; "" for none
	// Columns are corrections made on screen; they go before the machine file's.
	Columns map[trace.Channel]trace.Column
	// LeftOut are the stretches of a log to leave out, by its path.
	LeftOut map[string][]trace.Stretch
	// InUse are the settings in use when the logs were made, as typed; they go before AsFound's.
	InUse *law.Loops
	// Period is the logs' sample period (s) where they hold no time; 0 otherwise.
	Period float64
}

// Logs are recordings that were read and judged, or a plant file in their place.
type Logs struct {
	*job.Job
	Paths  []string // one per reading
	Report quality.Report
}

// stop returns the finding that forbids to go on, if there is one.
func (l *Logs) stop() (quality.Finding, bool) {
	for _, f := range l.Report.Findings {
		if f.Severity == quality.Stop {
			return f, true
		}
	}
	return quality.Finding{}, false
}

// stops counts such findings.
func (l *Logs) stops() (n int) {
	for _, f := range l.Report.Findings {
		if f.Severity == quality.Stop {
			n++
		}
	}
	return n
}

// unlogged names what a fit builds on and no log holds.
func (l *Logs) unlogged() []string {
	held := map[trace.Channel]bool{}
	for _, r := range l.Readings {
		for _, c := range []trace.Channel{trace.MotorPosition, trace.RodPosition, trace.SpeedCommand, trace.CapPressure, trace.RodPressure} {
			held[c] = held[c] || r.Trace.Has(c)
		}
	}
	var names []string
	for _, c := range []trace.Channel{trace.MotorPosition, trace.RodPosition, trace.SpeedCommand} {
		if !held[c] {
			names = append(names, c.Words())
		}
	}
	if !held[trace.CapPressure] || !held[trace.RodPressure] {
		names = append(names, "both pressures")
	}
	return names
}

// spare reports whether a log holds columns that nothing is read from.
func (l *Logs) spare() bool {
	for _, r := range l.Readings {
		if len(r.Unused) > 0 {
			return true
		}
	}
	return false
}

// ability says whether the logs can tell a parameter.
type ability struct {
	param plant.Param
	quality.Identifiable
}

// abilities lists what was judged, what cannot be told first, else in the parameters' order.
func (l *Logs) abilities() []ability {
	var no, yes []ability
	for _, p := range plant.Params() {
		switch i, ok := l.Report.Identifiable[p]; {
		case ok && i.Can:
			yes = append(yes, ability{p, i})
		case ok:
			no = append(no, ability{p, i})
		}
	}
	return append(no, yes...)
}

// File is an entry of a folder.
type File struct {
	Name    string
	Path    string
	Kind    FileKind
	Size    int64
	Changed time.Time
}

// FileKind says what a file is taken for by its name.
type FileKind int

// The kinds of file.
const (
	FolderFile FileKind = iota
	LogFile
	MachineFile
	PlantFile    // a fitted plant, in place of logs
	SettingsFile // settings in use when the logs were made
)

// What is simulated and what came of it, as package tuning has it.
type (
	Scenario = tuning.Scenario
	Response = tuning.Response
	Course   = tuning.Course
	Figure   = tuning.Figure
)

// Work is all that is on the bench.
type Work struct {
	Demo  bool
	Logs  *Logs
	Plant *plant.Plant
	// Options start from tuning's defaults; the knobs turn them. AsFound in them
	// are the settings in use when the logs were made.
	Options  tuning.Options
	Proposal *tuning.Proposal
	Response *Response
	// Comparison is with another set of logs of the machine; nil for none.
	Comparison *Comparison
}
