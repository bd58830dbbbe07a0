package tui

import (
	"fmt"
	"path/filepath"
	"time"

	tea "github.com/charmbracelet/bubbletea"
)

// scene returns the chosen scenario, the first where the choice is gone.
func (a *App) scene() (Scenario, bool) {
	for _, s := range a.scenes {
		if s.ID == a.scenario {
			return s, true
		}
	}
	if len(a.scenes) == 0 {
		return Scenario{}, false
	}
	return a.scenes[0], true
}

// looked compares the folder with what was known and offers what is new.
func (a *App) looked(msg folderMsg) tea.Cmd {
	if msg.err != nil || msg.dir != a.folder {
		return a.look(time.Second)
	}
	first := a.files == nil
	known := map[string]File{}
	for _, f := range a.files {
		known[f.Path] = f
	}
	a.files = append([]File{}, msg.files...)
	if first {
		if a.work.Demo && a.over == nil && worth(msg.files) {
			a.over = newOpener(a.folder, msg.files, true)
		}
		return a.look(time.Second)
	}
	for _, f := range msg.files {
		old, was := known[f.Path]
		if f.Kind == FolderFile || was && old.Changed.Equal(f.Changed) && old.Size == f.Size {
			continue
		}
		if own := filepath.Clean(f.Path); a.written[own] {
			delete(a.written, own) // the next change is another's
			continue
		}
		a.offer(f, was)
	}
	return a.look(time.Second)
}

// offer notes a file that appeared or changed.
func (a *App) offer(f File, changed bool) {
	for _, p := range a.request.Paths {
		if changed && filepath.Clean(p) == filepath.Clean(f.Path) {
			a.notice = fmt.Sprintf("%s has changed: r reads the logs again", f.Name)
			return
		}
	}
	if changed && a.request.MachineFile != "" && filepath.Clean(a.request.MachineFile) == filepath.Clean(f.Path) {
		a.notice = fmt.Sprintf("%s has changed: r reads the logs again with it", f.Name)
		return
	}
	a.fresh = append(a.fresh, f)
	a.notice = fmt.Sprintf("New in the folder: %s. o opens it", f.Name)
	if changed {
		a.notice = fmt.Sprintf("%s has changed. o opens it", f.Name)
	}
}

// worth reports whether a folder holds something to offer before the demo.
func worth(files []File) bool {
	for _, f := range files {
		if f.Kind != FolderFile {
			return true
		}
	}
	return false
}

// benchName says in a few words what is on the bench, in at most width cells where
// the name alone fits.
func (a *App) benchName(width int) string {
	name := ""
	switch {
	case a.mappingOthers():
		if a.work.Demo {
			return "bench: DEMO MACHINE"
		}
		return "not on the bench yet"
	case a.work.Plant != nil && a.work.Plant.Machine.Name != "":
		name = a.work.Plant.Machine.Name
	case a.work.Logs != nil:
		name = a.work.Logs.Machine.Name
	}
	count := ""
	if l := a.work.Logs; l != nil && len(l.Readings) > 0 {
		count = plural(len(l.Readings), "log")
	}
	switch {
	case name == "" && count == "":
		return "nothing on the bench"
	case name == "":
		return count
	case count == "" || narrow.StringWidth(name+", "+count) > width:
		return cell(name, min(narrow.StringWidth(name), max(width, 0)))
	}
	return name + ", " + count
}

func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
