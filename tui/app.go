// Package tui is the terminal program: it shows the work on the bench and turns
// keys into questions to Services. It computes no physics and opens no files.
//
// Each screen answers one question of the job and is arranged for it; the frame
// around it says where one is, what the screen says, and what to do next.
package tui

import (
	"context"
	"time"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
	// For its effect: no question to a terminal that may not answer.
	_ "eha/strokewise/tui/start"
	"eha/strokewise/tuning"
)

// Start is how the program opens.
type Start struct {
	Work    Work            // what is on the bench at once: the demo machine as a rule
	Request Request         // logs to load at once; none if Paths is empty
	Folder  string          // offered for opening and watched; "" for none
	Units   quantity.System // of display
}

// screen is one of the program's screens. view is pure: the same screen, bench
// and size give the same text.
type screen interface {
	title() string
	// says returns the screen's answer in one sentence, next what to do now.
	says(a *App) string
	next(a *App) string
	keys(a *App) []key.Binding
	press(a *App, msg tea.KeyMsg) tea.Cmd
	// click answers a press of the left button at a cell of the body.
	click(a *App, x, y, width, height int) tea.Cmd
	view(a *App, width, height int) []string
}

// overlay is something that takes the keys until it is left.
type overlay interface {
	title() string
	keys(a *App) []key.Binding
	press(a *App, msg tea.KeyMsg) tea.Cmd
	click(a *App, x, y, width, height int) tea.Cmd
	view(a *App, width, height int) []string
}

// App is the root model.
type App struct {
	ctx           context.Context
	services      Services
	styles        *Styles
	units         units
	width, height int

	work     Work
	defaults tuning.Options // what the knobs go back to
	screens  []screen
	active   int
	over     overlay // nil for none
	large    bool    // the screen's plot takes the whole body
	form     form    // that gains are shown in
	task     *task
	taskID   int
	notice   string
	failures map[string]error               // by step: load, fit, propose, respond, save
	bench    int                            // counts the benches, so that answers for an earlier one are dropped
	scenario string                         // the one chosen, by its ID
	scenes   []Scenario                     // what can be simulated for the proposal, and the logs that can be replayed
	replay   *replay                        // the log replayed, nil for none
	table    *lookedMsg                     // of a log that could not be read but looked at, nil for none
	aside    *mapper                        // what was said of columns and not used, nil for nothing
	trying   latest                         // logs read with what is said of their columns
	ahead    chase                          // one such reading at a time
	kept     map[trace.Channel]trace.Column // what is said of columns and need not be saved
	undo     []Request                      // before each correction of the logs on the bench, the last one at the end

	glance    *tuning.Proposal // the quick look in view while a search goes on, nil for none
	made      tuning.Options   // what the proposal was made with
	looking   chase
	proposing latest
	answering latest
	patience  time.Duration // between a quick look and the search after it

	summaries summaries
	folder    string
	files     []File
	fresh     []File          // new or changed since last looked at
	written   map[string]bool // by this program, so no news
	unsaved   map[string]bool
	request   Request
	stated    Request // what the program was started with; it holds for files opened later
	tried     Request // the last one made, whether it succeeded or not
	other     Request // of the set that the bench is compared with; no paths for none
}

// New returns the program's model. It starts nothing.
func New(ctx context.Context, services Services, start Start) *App {
	a := &App{
		ctx: ctx, services: services, styles: newStyles(), units: units{start.Units}, width: 80, height: 24,
		work: start.Work, folder: start.Folder, request: start.Request, stated: start.Request,
		kept: start.Request.Columns, failures: map[string]error{}, unsaved: map[string]bool{}, written: map[string]bool{}, patience: usualPatience,
	}
	a.defaults = start.Work.Options
	a.defaults.AsFound = nil
	a.screens = []screen{newTraces(), newPlant(), newLoops(), newResponse(), newCompare()}
	if a.work.Plant != nil {
		a.active = 1
	}
	return a
}

// Run shows the program on the terminal until the user leaves it or ctx is done.
func Run(ctx context.Context, services Services, start Start) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	// Whoever owns ctx watches for signals. Two watchers deadlock in the library, where
	// its own sends to a loop that the context has ended.
	p := tea.NewProgram(New(ctx, services, start), tea.WithContext(ctx), tea.WithoutSignalHandler(), tea.WithAltScreen(), tea.WithMouseCellMotion())
	_, err := p.Run()
	return err
}

// Init starts what the opening bench needs.
func (a *App) Init() tea.Cmd {
	cmds := []tea.Cmd{a.look(0)}
	switch {
	case len(a.request.Paths) > 0:
		cmds = append(cmds, a.load(a.request))
	case a.work.Demo:
		cmds = append(cmds, a.loadDemo())
		if a.work.Plant != nil {
			cmds = append(cmds, a.propose(0))
		}
	}
	return tea.Batch(cmds...)
}

// Update answers one message.
func (a *App) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	switch msg := msg.(type) {
	case tea.WindowSizeMsg:
		a.width, a.height = msg.Width, msg.Height
	case tea.KeyMsg:
		return a, a.arrived(msg)
	case tea.MouseMsg:
		return a, a.mouse(msg)
	case taskMoved:
		if a.task != nil && a.task.id == msg.id {
			a.task.share, a.task.doing = a.task.latest.read()
			return a, listen(a.ctx, msg.id, a.task.latest)
		}
	case taskDone:
		if a.task != nil && a.task.id == msg.id {
			a.task = nil
			return a, a.outcome(msg.outcome)
		}
	case folderMsg:
		return a, a.looked(msg)
	default:
		return a, a.outcome(msg)
	}
	return a, nil
}

// arrived answers keys that came in one piece, as they do over a slow line, one by
// one. What was pasted stays whole.
func (a *App) arrived(msg tea.KeyMsg) tea.Cmd {
	if msg.Type != tea.KeyRunes || msg.Paste || len(msg.Runes) < 2 {
		return a.press(msg)
	}
	var cmds []tea.Cmd
	for _, r := range msg.Runes {
		cmds = append(cmds, a.press(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune{r}, Alt: msg.Alt}))
	}
	return tea.Batch(cmds...)
}

// press routes a key: an overlay first, then the program's own keys, then the screen.
func (a *App) press(msg tea.KeyMsg) tea.Cmd {
	if a.over != nil {
		return a.over.press(a, msg)
	}
	a.notice = ""
	if n := int(msg.String()[0] - '1'); len(msg.String()) == 1 && n >= 0 && n < len(a.screens) {
		a.show(n)
		return nil
	}
	switch {
	case key.Matches(msg, keyHelp):
		a.over = &help{}
	case key.Matches(msg, keyNext):
		a.show((a.active + 1) % len(a.screens))
	case key.Matches(msg, keyBack):
		a.show((a.active + len(a.screens) - 1) % len(a.screens))
	case key.Matches(msg, keyOpen):
		return a.openFiles(a.folder)
	case key.Matches(msg, keySave):
		a.save()
	case key.Matches(msg, keyLarge):
		a.large = !a.large
	case key.Matches(msg, keyReload):
		return a.reload()
	case key.Matches(msg, keyCancel):
		a.cancel()
	case key.Matches(msg, keyQuit):
		return a.leave()
	default:
		return a.screens[a.active].press(a, msg)
	}
	return nil
}

func (a *App) show(n int) { a.active, a.large = n, false }

// cancel ends the running task, or leaves the large plot.
func (a *App) cancel() {
	switch {
	case a.task != nil:
		a.notice = upper(a.task.title) + ": cancelled. r begins again"
		a.abandon()
	case a.large:
		a.large = false
	}
}

// look asks for the folder's files after a while.
func (a *App) look(after time.Duration) tea.Cmd {
	if a.folder == "" || a.services.Folder == nil {
		return nil
	}
	dir, list := a.folder, a.services.Folder
	read := func() tea.Msg {
		files, err := guarded(func() ([]File, error) { return list(dir) })
		return folderMsg{dir, files, err}
	}
	if after == 0 {
		return read
	}
	return tea.Tick(after, func(time.Time) tea.Msg { return read() })
}

// folderMsg is what a folder holds.
type folderMsg struct {
	dir   string
	files []File
	err   error
}
