package tui

import (
	"fmt"
	"path/filepath"
	"reflect"
	"strings"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"
)

// saver offers what can be saved, each with a file name that can be edited.
type saver struct {
	items []saveItem
	at    int
	waits bool // the settings are still being searched for
	// problem is why the last try failed
	problem string
}

type saveItem struct {
	what, path string
	note       string
	save       func(path string) error
}

const machineFileItem = "machine file"

// nameless reports whether logs of the user's own lie on the bench without bore and
// rod, which a machine file gives.
func (a *App) nameless() bool {
	l := a.work.Logs
	return l != nil && l.Job != nil && !a.work.Demo && len(l.Readings) > 0 && a.request.MachineFile == "" && l.Machine.Cylinder.Bore == 0
}

// save offers what can be saved; the settings only once those in view are the answer.
func (a *App) save() {
	s := newSaver(a)
	if s.waits && len(s.items) == 0 {
		a.notice = "The settings are still being searched for: press s again in a moment"
		return
	}
	for i := range s.items {
		if a.active == compareTab && s.items[i].what == "comparison" {
			s.at = i
		}
	}
	a.over = s
}

func newSaver(a *App) *saver {
	s := &saver{waits: a.searching()}
	sv, w := a.services, a.work
	// The savers run later, on the bench as it is now.
	if w.Proposal != nil && sv.SaveProposal != nil && !s.waits {
		s.items = append(s.items, saveItem{"proposal", "loops.json", "settings with margins (JSON), for tune and the record", func(p string) error { return sv.SaveProposal(p, w.Plant, w.Proposal) }})
	}
	if w.Plant != nil && sv.SavePlant != nil {
		s.items = append(s.items, saveItem{"plant", "plant.json", "the fitted plant (JSON), to come back to without the logs", func(p string) error { return sv.SavePlant(p, w.Plant) }})
	}
	if w.Proposal != nil && sv.SaveRecord != nil && !s.waits {
		s.items = append(s.items, saveItem{"record", "record.html", "the commissioning record, to print or mail (HTML)", func(p string) error { return sv.SaveRecord(a.ctx, p, &w, a.units.system) }})
	}
	if w.Comparison != nil && sv.SaveComparison != nil {
		c := *w.Comparison
		s.items = append(s.items, saveItem{"comparison", "compare.txt", "before and after as text; a name ending in .json gives JSON", func(p string) error { return sv.SaveComparison(p, w.Plant, &c, a.units.system) }})
	}
	if found := a.request.InUse; found != nil && sv.SaveInUse != nil {
		s.items = append(s.items, saveItem{"settings in use", "asfound.json", "as typed here (JSON), for --as-found", func(p string) error { return sv.SaveInUse(p, found) }})
	}
	if columns := a.request.Columns; (len(columns) > 0 || a.nameless()) && sv.SaveColumns != nil {
		from := a.request.MachineFile
		path, note := from, "with columns and sample period as corrected here (TOML)"
		if path == "" {
			path, note = "machine.toml", "to fill in bore, rod and stroke, with the columns said here (TOML)"
		}
		s.items = append(s.items, saveItem{machineFileItem, path, note, func(p string) error { return sv.SaveColumns(p, from, columns) }})
	}
	for i := range s.items {
		if w.Demo && !filepath.IsAbs(s.items[i].path) {
			s.items[i].path = "demo-" + s.items[i].path
		}
		if !filepath.IsAbs(s.items[i].path) && a.folder != "" && filepath.Dir(s.items[i].path) == "." {
			s.items[i].path = filepath.Join(a.folder, s.items[i].path)
		}
	}
	return s
}

func (s *saver) title() string {
	if len(s.items) == 0 {
		return "There is nothing to save yet: load logs first."
	}
	return "Save what, and where to? Type to change the name."
}

func (s *saver) keys(*App) []key.Binding {
	return []key.Binding{shown(keyUp, "up/down", "choose"), shown(keyEnter, "enter", "save this"), shown(keyErase, "backspace", "erase"), shown(keyCancel, "esc", "back")}
}

func (s *saver) press(a *App, msg tea.KeyMsg) tea.Cmd {
	switch {
	case key.Matches(msg, keyCancel), msg.Type == tea.KeyCtrlC:
		a.over = nil
	case len(s.items) == 0:
		a.over = nil
	case key.Matches(msg, keyUp):
		s.at = max(s.at-1, 0)
	case key.Matches(msg, keyDown):
		s.at = min(s.at+1, len(s.items)-1)
	case key.Matches(msg, keyEnter):
		item := s.items[s.at]
		if strings.TrimSpace(item.path) == "" {
			return nil
		}
		a.over = nil
		columns := a.request.Columns
		return func() tea.Msg {
			_, err := guarded(func() (struct{}, error) { return struct{}{}, item.save(item.path) })
			return savedMsg{item.what, item.path, columns, err}
		}
	default:
		s.items[s.at].path, s.problem = edit(s.items[s.at].path, msg), ""
	}
	return nil
}

// click goes to what is to be saved.
func (s *saver) click(a *App, x, y, width, height int) tea.Cmd {
	if i := y / 2; i < len(s.items) {
		s.at = i
	}
	return nil
}

// edit applies a key to a line of text that is typed at its end.
func edit(text string, msg tea.KeyMsg) string {
	switch {
	case key.Matches(msg, keyErase):
		if r := []rune(text); len(r) > 0 {
			return string(r[:len(r)-1])
		}
	case msg.Type == tea.KeyRunes || msg.Type == tea.KeySpace:
		return text + clean(string(msg.Runes))
	}
	return text
}

func (s *saver) view(a *App, width, height int) []string {
	var lines []string
	for i, item := range s.items {
		head := fmt.Sprintf("  %-15s %s", item.what, item.note)
		if i == s.at {
			lines = append(lines, a.styles.strong.draw(cell(">"+head[1:], width)), "     to "+a.styles.here.draw(clean(item.path)+"_"))
		} else {
			lines = append(lines, cell(head, width), cell("     to "+item.path, width))
		}
	}
	lines = append(lines, "")
	for _, l := range hang("! ", s.problem, width) {
		lines = append(lines, a.styles.strong.draw(l))
	}
	lines = append(lines, wrap("A file of that name is replaced, whole or not at all; in a machine file the columns alone are.", width)...)
	if s.waits {
		lines = append(lines, "The settings and the record can be saved once the search has ended.")
	}
	if a.invented() {
		lines = append(lines, a.styles.strong.draw("These are the DEMO MACHINE's: nothing in them fits a real machine."))
	}
	return lines
}

// saved notes the outcome of saving.
func (a *App) saved(msg savedMsg) {
	if msg.err != nil {
		a.notSaved(msg)
		return
	}
	a.notice = fmt.Sprintf("Saved the %s to %s", msg.what, msg.path)
	a.written[filepath.Clean(msg.path)] = true
	switch msg.what {
	case "proposal", "record":
		delete(a.unsaved, "proposal")
	case "settings in use":
		delete(a.unsaved, "in use")
	case machineFileItem:
		if a.nameless() {
			a.notice += ". Fill in bore, rod and stroke there, then r reads the logs again with it"
		}
		a.kept, a.undo = msg.columns, nil
		// The file now says what the screens said; what others change in it counts too.
		for _, req := range []*Request{&a.request, &a.tried} {
			req.MachineFile = msg.path
		}
	}
}

// notSaved says why, and where nothing else is in hand offers to save once more under
// the name that was typed.
func (a *App) notSaved(msg savedMsg) {
	why := strings.Join(advise(msg.err), " ")
	a.notice = why
	if a.over != nil {
		return
	}
	s := newSaver(a)
	for i := range s.items {
		if s.items[i].what == msg.what {
			s.items[i].path, s.at, s.problem = msg.path, i, "Not saved: "+why
			a.over, a.notice = s, ""
		}
	}
}

// leaver asks before something is lost.
type leaver struct {
	lost    []string
	other   string // what is done instead of leaving the program: "open the others"; "" to leave
	proceed func() tea.Cmd
}

// losses says what of the user's work on the logs is in no file.
func (a *App) losses() []string {
	var lost []string
	if a.mappingUnsaved() {
		lost = append(lost, "The corrected columns or period have not been saved to the machine file.")
	}
	if a.unsaved["in use"] {
		lost = append(lost, "The settings in use that were typed have not been saved.")
	}
	if list := a.leftOutFlags(); len(list) > 0 && !reflect.DeepEqual(a.request.LeftOut, a.stated.LeftOut) {
		lost = append(lost, "What is left out of the logs is kept in the record alone; to start with it again: "+strings.Join(list, " "))
	}
	return lost
}

// leave ends the program, or asks first where something would be lost.
func (a *App) leave() tea.Cmd {
	lost := a.losses()
	if a.unsaved["proposal"] {
		lost = append([]string{"The proposal has not been saved."}, lost...)
	}
	if len(lost) == 0 {
		a.abandon()
		return tea.Quit
	}
	a.over = &leaver{lost: lost, proceed: func() tea.Cmd {
		a.abandon()
		return tea.Quit
	}}
	return nil
}

func (l *leaver) title() string {
	if l.other != "" {
		return upper(l.other) + " without saving?"
	}
	return "Leave without saving?"
}

func (l *leaver) keys(*App) []key.Binding {
	return []key.Binding{shown(keySave, "s", "save first"), shown(keyLeave, "y", l.yes()), shown(keyCancel, "esc", "stay")}
}

func (l *leaver) yes() string {
	if l.other != "" {
		return l.other + " without saving"
	}
	return "leave without saving"
}

func (l *leaver) press(a *App, msg tea.KeyMsg) tea.Cmd {
	switch {
	case key.Matches(msg, keySave):
		a.over = nil
		a.save()
	case key.Matches(msg, keyLeave):
		a.over = nil
		return l.proceed()
	case msg.Type == tea.KeyCtrlC:
		a.abandon()
		return tea.Quit
	case key.Matches(msg, keyCancel):
		a.over = nil
	}
	return nil
}

// click takes the answer at a line.
func (l *leaver) click(a *App, x, y, width, height int) tea.Cmd {
	if i := y - len(l.said(width)) - 1; i >= 0 && i < 3 {
		return l.press(a, keyNamed([]string{"s", "y", "esc"}[i]))
	}
	return nil
}

// said is what would be lost.
func (l *leaver) said(width int) []string {
	lines := []string{""}
	for _, t := range l.lost {
		lines = append(lines, hang("  ", t, width-2)...)
	}
	return lines
}

func (l *leaver) view(a *App, width, height int) []string {
	return append(l.said(width), "", "  s  save first", "  y  "+l.yes(), "  esc  stay")
}
