package tui

import (
	"context"
	"math"
	"strings"
	"testing"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

func own(t *testing.T, keys ...string) *App {
	t.Helper()
	a := opened(fakeServices(), Start{Work: Work{Options: fakeOptions()}, Request: Request{Paths: []string{"/data/survey.csv"}}, Folder: "/data"})
	hit(a, keys...)
	return a
}

func (a *App) traces() *tracesScreen     { return a.screens[0].(*tracesScreen) }
func (a *App) plant() *plantScreen       { return a.screens[1].(*plantScreen) }
func (a *App) loops() *loopsScreen       { return a.screens[2].(*loopsScreen) }
func (a *App) response() *responseScreen { return a.screens[3].(*responseScreen) }
func (a *App) beside() *compareScreen    { return a.screens[4].(*compareScreen) }

// Every key of every screen does what its help says.
func TestKeys(t *testing.T) {
	for _, c := range []struct {
		keys string // blank-separated; SPACE is the space bar
		want string
		ok   func(a *App) bool
	}{
		{"4", "screen 4", func(a *App) bool { return a.active == 3 }},
		{"1 n", "next screen", func(a *App) bool { return a.active == 1 }},
		{"1 b", "screen before", func(a *App) bool { return a.active == 4 }},
		{"z", "large plot", func(a *App) bool { return a.large }},
		{"z z", "small again", func(a *App) bool { return !a.large }},
		{"z esc", "small by esc", func(a *App) bool { return !a.large }},
		{"? ", "help", func(a *App) bool { _, ok := a.over.(*help); return ok }},
		{"? down down up", "help scrolls", func(a *App) bool { return a.over.(*help).from == 1 }},
		{"? esc", "help left", func(a *App) bool { return a.over == nil }},
		{"o", "open", func(a *App) bool { o, ok := a.over.(*opener); return ok && o.marked["/data/survey.csv"] }},
		{"o down SPACE", "unmarked", func(a *App) bool { return !a.over.(*opener).marked["/data/survey.csv"] }},
		{"o down down SPACE enter", "loaded with machine file", func(a *App) bool { return a.over == nil && a.request.MachineFile == "/data/machine.toml" }},
		{"o enter", "folder entered", func(a *App) bool { return a.over.(*opener).dir == "/data/older" }},
		{"o backspace", "folder above", func(a *App) bool { return a.over.(*opener).dir == "/" }},
		{"o down up pgdown pgup", "in range", func(a *App) bool { return a.over.(*opener).at == 0 }},
		{"o esc", "left", func(a *App) bool { return a.over == nil }},
		{"s", "saver", func(a *App) bool {
			s, ok := a.over.(*saver)
			return ok && len(s.items) == 2 && s.items[1].what == machineFileItem
		}},
		{"s backspace x", "name edited", func(a *App) bool { return strings.HasSuffix(a.over.(*saver).items[0].path, "loops.jsox") }},
		{"s enter", "saved", func(a *App) bool { return strings.HasPrefix(a.notice, "Saved the proposal") && !a.unsaved["proposal"] }},
		{"1 down down m down down right enter s down up down enter", "machine file saved", func(a *App) bool { return strings.HasPrefix(a.notice, "Saved the machine file") }},
		{"s esc", "left", func(a *App) bool { return a.over == nil }},
		{"q", "asks", func(a *App) bool { _, ok := a.over.(*leaver); return ok }},
		{"q esc", "stays", func(a *App) bool { return a.over == nil }},
		{"q s", "saves first", func(a *App) bool { _, ok := a.over.(*saver); return ok }},
		{"1 down", "lane", func(a *App) bool { return a.traces().lane == 1 }},
		{"1 down up up", "lane stops at the first", func(a *App) bool { return a.traces().lane == 0 }},
		{"1 right", "cursor", func(a *App) bool { return a.traces().cursor > 30 }},
		{"1 left", "cursor back", func(a *App) bool { return a.traces().cursor < 30 }},
		{"1 +", "zoomed in", func(a *App) bool { s := a.traces(); return math.Abs(s.to-s.from-30) < 0.1 }},
		{"1 + -", "zoomed out", func(a *App) bool { return a.traces().to == 0 }},
		{"1 + 0", "whole log", func(a *App) bool { return a.traces().to == 0 }},
		{"1 tab", "findings", func(a *App) bool { return a.traces().inList && a.traces().list == 0 }},
		{"1 tab tab down", "abilities", func(a *App) bool { return a.traces().list == 1 && a.traces().at == 1 }},
		{"1 tab enter", "stretch shown", func(a *App) bool { return a.traces().from > 19 && a.traces().to < 22 && a.traces().lane == 3 }},
		{"1 l", "next log", func(a *App) bool { return a.traces().log == 0 }},
		{"1 x", "the only log stays", func(a *App) bool { return a.notice != "" && len(a.request.Paths) == 1 }},
		{"1 shift+tab", "questions", func(a *App) bool { return a.traces().list == questionList }},
		{"1 shift+tab enter", "question answered in the table", func(a *App) bool { m, ok := a.over.(*mapper); return ok && m.row == 7 }},
		{"1 down down m", "columns", func(a *App) bool { m, ok := a.over.(*mapper); return ok && m.row == 3 }},
		{"1 down down m tab tab right enter", "sign", func(a *App) bool {
			c := a.request.Columns[trace.RodPosition]
			return a.over == nil && c.Header == "LT" && c.Unit == "mm" && c.Sign == -1 && a.mappingUnsaved()
		}},
		{"1 down down m c enter", "the unit asked for", func(a *App) bool { m, ok := a.over.(*mapper); return ok && strings.Contains(m.problem, "unit") }},
		{"1 down down m c tab right down tab right enter", "columns exchanged", func(a *App) bool {
			c := a.request.Columns
			return c[trace.CapPressure].Header == "LT" && c[trace.RodPosition].Header == "pA"
		}},
		{"1 down down m backspace enter", "not read", func(a *App) bool { return a.request.Columns[trace.RodPosition].Header == trace.NoColumn }},
		{"1 down down m right right left left enter", "back where it was", func(a *App) bool { return !a.mappingUnsaved() }},
		{"1 m right esc", "left as it was", func(a *App) bool { return a.over == nil && a.request.Columns == nil && a.aside != nil }},
		{"1 m right esc m", "brought back", func(a *App) bool { m, ok := a.over.(*mapper); return ok && m.changed && a.aside == nil }},
		{"1 down down m tab tab right enter 1 u", "undone", func(a *App) bool { return !a.mappingUnsaved() && len(a.undo) == 0 }},
		{"1 u", "nothing to undo", func(a *App) bool { return strings.Contains(a.notice, "Nothing was corrected") }},
		{"1 c", "nothing to correct", func(a *App) bool { return strings.Contains(a.notice, "Nothing to correct") }},
		{"1 tab c", "the columns at the finding's channel", func(a *App) bool { m, ok := a.over.(*mapper); return ok && m.row == 4 }},
		{"1 tab e", "stretch left out", func(a *App) bool {
			part := a.request.LeftOut["/data/survey.csv"]
			return len(part) == 1 && part[0] == trace.Stretch{From: 20, To: 21}
		}},
		{"1 e", "the whole log stays", func(a *App) bool { return a.request.LeftOut == nil && a.notice != "" }},
		{"1 + + e 1 u", "stretch taken in again", func(a *App) bool { return a.request.LeftOut == nil }},
		{"2 right", "station", func(a *App) bool { return a.plant().stage == 1 }},
		{"2 left", "station back", func(a *App) bool { return a.plant().stage == 4 }},
		{"2 right down up down", "parameter", func(a *App) bool { return a.plant().param == 1 }},
		{"2 right down down down down", "plot follows the parameter", func(a *App) bool { return a.plant().plot == 1 }},
		{"2 tab tab shift+tab", "plot", func(a *App) bool { return a.plant().plot == 1 }},
		{"3 right", "share up", func(a *App) bool {
			return math.Abs(a.work.Options.GainShare-0.85) < 1e-9 && a.work.Proposal.Loops.Position.Kp.Extend > 9.3
		}},
		{"3 left left d", "share back", func(a *App) bool { return math.Abs(a.work.Options.GainShare-0.8) < 1e-9 }},
		{"3 down right", "margin up", func(a *App) bool { return math.Abs(decibels(a.work.Options.Targets.GainMargin)-9.5) < 1e-9 }},
		{"3 down d", "margin default", func(a *App) bool { return math.Abs(decibels(a.work.Options.Targets.GainMargin)-9) < 1e-9 }},
		{"3 down down right", "mass", func(a *App) bool { return math.Abs(*a.work.Options.WhatIf.Mass-504) < 1e-6 }},
		{"3 down down right left", "mass as found", func(a *App) bool { return a.work.Options.WhatIf.Mass == nil }},
		{"3 down down right d", "mass reset", func(a *App) bool { return a.work.Options.WhatIf.Mass == nil }},
		{"3 down down down left", "load", func(a *App) bool { return *a.work.Options.WhatIf.Load == -100 }},
		{"3 down down down left d", "load reset", func(a *App) bool { return a.work.Options.WhatIf.Load == nil }},
		{"3 down down down down right", "hose", func(a *App) bool { return math.Abs(*a.work.Options.WhatIf.LineVolume-0.05e-3) < 1e-12 }},
		{"3 down down down down right d", "hose reset", func(a *App) bool { return a.work.Options.WhatIf.LineVolume == nil }},
		{"3 down down down down down right", "delay", func(a *App) bool { return math.Abs(*a.work.Options.WhatIf.OuterDelay-2e-3) < 1e-9 }},
		{"3 down down down down down right d", "delay reset", func(a *App) bool { return a.work.Options.WhatIf.OuterDelay == nil }},
		{"3 up up up right", "scale", func(a *App) bool { return a.work.Options.Scale == machine.ScaleSingle }},
		{"3 up up up right d", "scale reset", func(a *App) bool { return a.work.Options.Scale == machine.ScaleUnknown }},
		{"3 up up right", "integral", func(a *App) bool { return a.work.Options.Integral == machine.No }},
		{"3 up up right d", "integral reset", func(a *App) bool { return a.work.Options.Integral == machine.Unstated }},
		{"3 up left", "damping", func(a *App) bool { return a.work.Options.PressureDamping == machine.Yes }},
		{"3 up left d", "damping reset", func(a *App) bool { return a.work.Options.PressureDamping == machine.Unstated }},
		{"3 tab", "page", func(a *App) bool { return a.loops().page == 1 }},
		{"3 shift+tab", "page back", func(a *App) bool { return a.loops().page == len(pages)-1 }},
		{"3 f", "form", func(a *App) bool { return a.form == formTime }},
		{"3 g", "force loop", func(a *App) bool { return a.loops().force }},
		{"3 pgdown pgdown pgup", "scroll", func(a *App) bool { return a.loops().scroll == 5 }},
		{"5 a", "other set", func(a *App) bool { o, ok := a.over.(*opener); return ok && o.other && len(o.marked) == 0 }},
		{"5 a backspace", "folder above keeps what it is for", func(a *App) bool { o, ok := a.over.(*opener); return ok && o.dir == "/" && o.other }},
		{"5 a down enter", "compared", func(a *App) bool { return a.active == 4 && a.work.Comparison != nil && a.over == nil }},
		{"5 a down enter down down up", "move", func(a *App) bool { return a.beside().at[movePart] == 1 }},
		{"5 a down enter tab", "machine", func(a *App) bool { return a.beside().part == machinePart }},
		{"5 a down enter shift+tab", "notes", func(a *App) bool { return a.beside().part == notePart }},
		{"5 a down enter w", "swapped", func(a *App) bool { return a.work.Comparison.BenchBefore }},
		{"5 a down enter z right", "cursor in the large plot", func(a *App) bool { return a.beside().lens.active }},
		{"4 c", "scenario", func(a *App) bool { return a.work.Response.Scenario.ID == "kick" }},
		{"4 right", "knob moves the response", func(a *App) bool { return math.Abs(a.work.Options.GainShare-0.85) < 1e-9 && a.work.Response != nil }},
		{"4 down", "knob", func(a *App) bool { return a.response().board.at == 1 }},
		{"2 z right right", "cursor in the large plot", func(a *App) bool { return a.plant().lens.active && a.plant().stage == 0 }},
		{"2 z + + -", "zoom in the large plot", func(a *App) bool { l := a.plant().lens; return l.from < l.to }},
		{"2 z + 0", "all of the large plot", func(a *App) bool { return a.plant().lens == lens{} }},
		{"4 z left", "cursor in the response", func(a *App) bool {
			return a.response().lens.active && math.Abs(a.work.Options.GainShare-0.8) < 1e-9
		}},
		{"r", "read again", func(a *App) bool { return a.work.Plant != nil && a.work.Proposal != nil }},
	} {
		a := own(t, keysOf(c.keys)...)
		if !c.ok(a) {
			t.Errorf("keys %q: want %s; notice %q", c.keys, c.want, a.notice)
		}
	}
}

// Keys that arrive together are answered one by one; pasted text presses no key.
func TestKeysInOnePiece(t *testing.T) {
	a := own(t)
	_, cmd := a.Update(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune("34n")})
	settle(a, cmd)
	if a.active != 4 {
		t.Errorf("after 3, 4 and n in one piece: screen %d, want 5", a.active+1)
	}
	_, cmd = a.Update(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune("34n"), Paste: true})
	settle(a, cmd)
	if a.over != nil || a.active != 4 {
		t.Errorf("pasted text took the program to screen %d", a.active+1)
	}
}

func keysOf(text string) []string {
	keys := strings.Fields(text)
	for i, k := range keys {
		if k == "SPACE" {
			keys[i] = " "
		}
	}
	return keys
}

// Every key that a screen or overlay lists in its help does something there: no
// key is promised in vain.
func TestEveryListedKeyIsBound(t *testing.T) {
	for name, make := range states() {
		a := make()
		var n int
		if a.over != nil {
			n = len(a.over.keys(a))
		} else {
			n = len(a.screens[a.active].keys(a))
		}
		if n == 0 {
			t.Errorf("%s lists no keys", name)
		}
	}
}

// No key in any state panics, and every frame after it keeps to the terminal.
func TestAnyKeyAnywhere(t *testing.T) {
	all := []string{"1", "2", "3", "4", "n", "b", "?", "o", "s", "z", "r", "esc", "up", "down", "left", "right", "enter", "tab", "shift+tab", "pgup", "pgdown", " ", "backspace", "+", "-", "0", "m", "u", "e", ">", "x", "l", "d", "c", "f", "g", "y", "é"}
	for name, make := range states() {
		for _, first := range all {
			a := make()
			hit(a, first)
			for _, second := range []string{"down", "right", "enter", "esc"} {
				hit(a, second)
			}
			a.Update(tea.WindowSizeMsg{Width: 97, Height: 31})
			view := a.View()
			checkFrame(t, view, 97, 31)
			if a.work.Demo && !strings.Contains(view, "DEMO MACHINE") {
				t.Errorf("%s after %q: the demo does not say so", name, first)
			}
		}
	}
}

// All sizes are drawn or answered with a plain notice.
func TestAnySize(t *testing.T) {
	for name, make := range states() {
		a := make()
		for _, size := range [][2]int{{0, 0}, {1, 1}, {9, 5}, {79, 24}, {80, 23}, {80, 24}, {81, 25}, {120, 24}, {80, 70}, {200, 60}, {400, 25}} {
			a.Update(tea.WindowSizeMsg{Width: size[0], Height: size[1]})
			for _, large := range []bool{false, true} {
				a.large = large
				view := a.View()
				checkFrame(t, view, size[0], max(size[1], 1))
				if size[0] < 80 && size[0] > 20 && !strings.Contains(view, "80 columns") {
					t.Errorf("%s at %v: no notice", name, size)
				}
			}
		}
	}
}

// Reading the logs again compares them again, the same way round; other logs are
// not compared with the old set, and the comparison can be saved from its screen.
func TestComparisonIsKept(t *testing.T) {
	a := own(t, "5", "a", "down", "enter", "w")
	runs := 0
	run := a.services.Compare
	a.services.Compare = func(ctx context.Context, r Request, l *Logs, p *plant.Plant, g Progress) (*Comparison, error) {
		runs++
		return run(ctx, r, l, p, g)
	}
	hit(a, "r")
	if c := a.work.Comparison; runs != 1 || c == nil || !c.BenchBefore {
		t.Errorf("compared %d times, kept %+v", runs, c)
	}
	hit(a, "5", "s")
	if s := a.over.(*saver); s.items[s.at].what != "comparison" {
		t.Errorf("s on the comparison offers %q first", s.items[s.at].what)
	}
	hit(a, "enter")
	if !strings.HasPrefix(a.notice, "Saved the comparison") {
		t.Errorf("notice %q", a.notice)
	}
	settle(a, a.load(Request{Paths: []string{"/data/later.csv"}}))
	if runs != 1 || a.work.Comparison != nil {
		t.Errorf("other logs: compared %d times, %v", runs, a.work.Comparison)
	}
}

// What was marked in one folder is loaded with what is marked in the next.
func TestMarksOfSeveralFolders(t *testing.T) {
	a := own(t, "1")
	list := a.services.Folder
	a.services.Folder = func(dir string) ([]File, error) {
		if dir == "/data/older" {
			return []File{{Name: "monday.csv", Path: "/data/older/monday.csv", Kind: LogFile}}, nil
		}
		return list(dir)
	}
	hit(a, "o", "enter")
	if strings.Contains(a.View(), "marked in other") {
		t.Error("what the bench holds goes along although nobody marked it")
	}
	hit(a, "backspace", "esc", "o", "down", " ", "up", " ", "up", "up", "enter")
	if !strings.Contains(a.View(), "1 file marked in other folders") {
		t.Errorf("the mark of the folder before is not told in\n%s", a.View())
	}
	hit(a, " ", "enter")
	if got := strings.Join(a.request.Paths, " "); got != "/data/older/monday.csv /data/survey.csv" {
		t.Errorf("loaded %s", got)
	}
}

func TestNewAndChangedFilesAreOffered(t *testing.T) {
	a := own(t, "1")
	base, _ := a.services.Folder("/data")
	later := append([]File{}, base...)
	later[1].Changed = time.Unix(9, 0)
	a.looked(folderMsg{dir: "/data", files: later})
	if !strings.Contains(a.notice, "survey.csv has changed") {
		t.Errorf("notice %q", a.notice)
	}
	later = append(later, File{Name: "after.csv", Path: "/data/after.csv", Kind: LogFile})
	a.looked(folderMsg{dir: "/data", files: later})
	if !strings.Contains(a.notice, "after.csv") {
		t.Errorf("notice %q", a.notice)
	}
	hit(a, "o")
	if !a.over.(*opener).marked["/data/after.csv"] {
		t.Error("the new file is not marked in the list")
	}
}

// What the program wrote itself is no news, what another program makes of it is.
func TestOnlyOthersChangesAreNews(t *testing.T) {
	a := own(t, "1", "s", "down", "enter")
	base, _ := a.services.Folder("/data")
	a.looked(folderMsg{dir: "/data", files: base})
	for i, want := range []bool{false, true} {
		later := append([]File{}, base...)
		later[2].Changed = time.Unix(int64(9+i), 0)
		a.notice = ""
		a.looked(folderMsg{dir: "/data", files: later})
		if told := strings.Contains(a.notice, "machine.toml has changed: r"); told != want {
			t.Errorf("change %d: notice %q", i+1, a.notice)
		}
	}
}

func TestQuitIsAskedOnlyWhereSomethingIsLost(t *testing.T) {
	a := opened(fakeServices(), Start{Work: demoWork()})
	if _, cmd := a.Update(keyOf("q")); cmd == nil {
		t.Error("the demo asks before leaving")
	}
	a = own(t, "s", "enter")
	if _, cmd := a.Update(keyOf("q")); cmd == nil {
		t.Error("a saved proposal is asked about")
	}
	a = own(t, "q")
	if _, cmd := a.Update(keyOf("y")); cmd == nil {
		t.Error("y does not leave")
	}
}

func TestNumbers(t *testing.T) {
	for _, c := range []struct {
		p    plant.Param
		e    plant.Estimate
		want string
	}{
		{plant.Slip, plant.MissingFrom("hold"), "not identified"},
		{plant.MovingMass, plant.Estimate{Value: 481.37, Low: 450, High: 512, Status: plant.Identified}, "481 ± 31 kg"},
		{plant.HydraulicDamping, plant.Estimate{Value: 0.1234, Low: 0.11, High: 0.1368, Status: plant.Weak}, "0.123 ± 0.013"},
		{plant.HydraulicFrequency, plant.Estimate{Value: 18.2 / 0.15915494309189535, Low: 17.5 / 0.15915494309189535, High: 18.9 / 0.15915494309189535, Status: plant.Identified}, "18.20 ± 0.70 Hz"},
		{plant.MovingMass, plant.Estimate{Value: 7000, Low: 5004, High: 8996, Status: plant.Weak}, "7000 ± 1996 kg"},
		{plant.HydraulicDamping, plant.Estimate{Value: 0.5, Low: 0.4004, High: 0.5996, Status: plant.Weak}, "0.50 ± 0.10"},
		{plant.MovingMass, plant.Estimate{Value: 480, Low: 480, High: 480, Status: plant.Given}, "480 kg"},
	} {
		if got := (units{}).estimate(c.p, c.e); got != c.want {
			t.Errorf("%v: %q, want %q", c.p, got, c.want)
		}
	}
}

func TestFilesOpenedLaterKeepWhatTheProgramWasStartedWith(t *testing.T) {
	a := opened(fakeServices(), Start{Work: demoWork(), Folder: "/data", Request: Request{Period: 0.002, MachineFile: "/given.toml"}})
	hit(a, "o", "down", "down", "down", "enter")
	if a.request.Period != 0.002 || len(a.request.Paths) == 0 {
		t.Errorf("read with %+v", a.request)
	}
}

// bodyTop is the first row of a screen's body under a sentence of one or two lines.
const bodyTop = 3
