package tui

import (
	"fmt"
	"maps"
	"path/filepath"
	"slices"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"
)

// opener offers the files of a folder: logs are marked and loaded together, with
// a machine file beside them.
type opener struct {
	dir    string
	files  []File
	marked map[string]bool
	chosen map[string]bool // marked by the user, not beforehand: these marks go along to other folders
	known  map[string]File // by path, of every folder looked into
	at     int
	atOnce bool // shown at the start, before the demo
	other  bool // for the set to compare the bench with
	err    error
}

// newOpener marks what one would most likely load: every log and the one machine
// file of the folder, at the start of the program.
func newOpener(dir string, files []File, atOnce bool) *opener {
	o := &opener{dir: dir, marked: map[string]bool{}, chosen: map[string]bool{}, known: map[string]File{}, atOnce: atOnce}
	machines := 0
	for _, f := range files {
		o.files = append(o.files, f)
		o.known[f.Path] = f
		if f.Kind == MachineFile {
			machines++
		}
	}
	for _, f := range files {
		if atOnce && (f.Kind == LogFile || f.Kind == MachineFile && machines == 1) {
			o.marked[f.Path] = true
		}
	}
	return o
}

// filesMsg is a folder read for the opener.
type filesMsg struct {
	folderMsg
	other bool // for the set to compare the bench with
}

// openFiles reads a folder and shows it for loading.
func (a *App) openFiles(dir string) tea.Cmd { return a.browse(dir, false) }

// browse reads a folder and shows it, for loading or for the other set of a comparison.
func (a *App) browse(dir string, other bool) tea.Cmd {
	if a.services.Folder == nil {
		a.notice = "Opening files is not possible here"
		return nil
	}
	if dir == "" {
		dir = "."
	}
	list := a.services.Folder
	return func() tea.Msg {
		files, err := guarded(func() ([]File, error) { return list(dir) })
		return filesMsg{folderMsg{dir, files, err}, other}
	}
}

// opened shows the folder; marks that the user made in folders before stay.
func (a *App) opened(msg filesMsg) {
	o := newOpener(msg.dir, msg.files, false)
	o.other = msg.other
	if old, ok := a.over.(*opener); ok {
		for path, f := range old.known {
			if old.marked[path] && old.chosen[path] {
				o.marked[path], o.chosen[path], o.known[path] = true, true, f
			}
		}
		if msg.err != nil {
			old.err = msg.err
			return
		}
	} else if !msg.other {
		for _, p := range a.request.Paths {
			o.marked[p] = true
		}
		if a.request.MachineFile != "" {
			o.marked[a.request.MachineFile] = true
		}
		for _, f := range a.fresh {
			o.marked[f.Path] = true
		}
	}
	o.err = msg.err
	a.fresh = nil
	a.over = o
}

func (o *opener) title() string {
	if o.atOnce {
		return "This folder holds logs. Load them, or look at the demo machine first (esc)."
	}
	if o.other {
		return "Which logs are of the other state of this machine? Marked ones are compared with the bench."
	}
	return "Which logs, and which machine file? Marked ones are loaded together, as one machine."
}

func (o *opener) keys(*App) []key.Binding {
	leave := "back"
	if o.atOnce {
		leave = "demo"
	}
	return []key.Binding{keySpace, shown(keyEnter, "enter", "load, or enter folder"), shown(keyErase, "backspace", "up"), shown(keyCancel, "esc", leave)}
}

func (o *opener) press(a *App, msg tea.KeyMsg) tea.Cmd {
	switch {
	case key.Matches(msg, keyUp):
		o.at = max(o.at-1, 0)
	case key.Matches(msg, keyDown):
		o.at = min(o.at+1, max(len(o.files)-1, 0))
	case key.Matches(msg, keyPageUp):
		o.at = max(o.at-10, 0)
	case key.Matches(msg, keyPageDn):
		o.at = min(o.at+10, max(len(o.files)-1, 0))
	case key.Matches(msg, keySpace):
		o.toggle()
	case key.Matches(msg, keyErase):
		return a.browse(filepath.Dir(filepath.Clean(o.dir)), o.other)
	case key.Matches(msg, keyEnter):
		return o.take(a)
	case key.Matches(msg, keyCancel), key.Matches(msg, keyQuit):
		a.over = nil
	}
	return nil
}

func (o *opener) toggle() {
	if f, ok := o.current(); ok && f.Kind != FolderFile {
		// Several logs may be marked, of every other kind one.
		for _, other := range o.known {
			if f.Kind != LogFile && other.Kind == f.Kind && other.Path != f.Path {
				delete(o.marked, other.Path)
			}
		}
		o.marked[f.Path] = !o.marked[f.Path]
		o.chosen[f.Path] = true
		o.at = min(o.at+1, len(o.files)-1)
	}
}

func (o *opener) current() (File, bool) {
	if o.at < 0 || o.at >= len(o.files) {
		return File{}, false
	}
	return o.files[o.at], true
}

// take enters a folder, or loads what is marked; with nothing marked, the file
// under the cursor.
func (o *opener) take(a *App) tea.Cmd {
	f, ok := o.current()
	if ok && f.Kind == FolderFile {
		return a.browse(f.Path, o.other)
	}
	if ok && o.count() == 0 {
		o.marked[f.Path] = true
	}
	req := a.stated
	req.Paths = nil
	for _, path := range slices.Sorted(maps.Keys(o.known)) {
		switch f := o.known[path]; {
		case !o.marked[f.Path]:
		case f.Kind == MachineFile:
			req.MachineFile = f.Path
		case f.Kind == SettingsFile:
			req.AsFound = f.Path
		default:
			req.Paths = append(req.Paths, f.Path)
		}
	}
	if len(req.Paths) == 0 {
		o.err = fmt.Errorf("no log is marked: space marks one, a machine file alone tells nothing")
		return nil
	}
	a.over = nil
	if o.other {
		return a.compareWith(req)
	}
	open := func() tea.Cmd {
		a.show(0)
		return a.load(req)
	}
	if lost := a.losses(); len(lost) > 0 {
		a.over = &leaver{lost, "open these", open}
		return nil
	}
	return open()
}

// elsewhere counts the marked files of other folders.
func (o *opener) elsewhere() int {
	n := o.count()
	for _, f := range o.files {
		if o.marked[f.Path] {
			n--
		}
	}
	return n
}

func (o *opener) count() (n int) {
	for _, yes := range o.marked {
		if yes {
			n++
		}
	}
	return n
}

var kindWords = [...]string{"folder", "log", "machine file", "plant file", "as-found loops"}

// click goes to a file and marks it, or enters a folder.
func (o *opener) click(a *App, x, y, width, height int) tea.Cmd {
	head := len(o.head(a, width))
	i := keep(o.at, len(o.files), height-head) + y - head
	if y < head || i >= len(o.files) {
		return nil
	}
	o.at = i
	if o.files[i].Kind == FolderFile {
		return o.take(a)
	}
	o.toggle()
	o.at = i
	return nil
}

// head stands over the files.
func (o *opener) head(a *App, width int) []string {
	text := "Folder " + o.dir
	if n := o.elsewhere(); n > 0 {
		text += fmt.Sprintf(" (%s marked in other folders)", plural(n, "file"))
	}
	lines := []string{cell(text, width)}
	if o.err != nil {
		for _, l := range advise(o.err) {
			lines = append(lines, a.styles.strong.draw(cell(l, width)))
		}
	}
	if len(o.files) == 0 {
		lines = append(lines, "", "No logs (.csv, .txt) and no machine file (.toml) in this folder.", "Backspace goes to the folder above. Logs of the demo machine: strokewise demo DIR")
	}
	return lines
}

func (o *opener) view(a *App, width, height int) []string {
	lines := o.head(a, width)
	rows := height - len(lines)
	from := keep(o.at, len(o.files), rows)
	for i := from; i < min(from+rows, len(o.files)); i++ {
		f := o.files[i]
		mark := "   "
		if f.Kind != FolderFile {
			mark = "[ ]"
		}
		if o.marked[f.Path] {
			mark = "[x]"
		}
		size := ""
		if f.Kind != FolderFile {
			size = bytesText(f.Size)
		}
		row := " " + mark + " " + cell(f.Name, width-34) + " " + cell(kindWords[f.Kind], 14) + flush(size, 9) + " "
		if i == o.at {
			lines = append(lines, a.styles.here.draw(">"+row))
		} else {
			lines = append(lines, " "+row)
		}
	}
	return lines
}

func bytesText(n int64) string {
	switch {
	case n >= 1e6:
		return fmt.Sprintf("%.1f MB", float64(n)/1e6)
	case n >= 1e3:
		return fmt.Sprintf("%.0f kB", float64(n)/1e3)
	}
	return fmt.Sprintf("%d B", n)
}
