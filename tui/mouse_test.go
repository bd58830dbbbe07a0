package tui

import (
	"errors"
	"math"
	"strings"
	"testing"

	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/trace"
)

func TestMouse(t *testing.T) {
	click := func(a *App, x, y int) {
		_, cmd := a.Update(tea.MouseMsg{X: x, Y: y, Button: tea.MouseButtonLeft, Action: tea.MouseActionPress})
		settle(a, cmd)
	}
	a := own(t, "1")
	click(a, strings.Index(tabLine(a), "3 Loops"), 0)
	if a.active != 2 {
		t.Error("a click on Loops does not go there")
	}
	click(a, 30, bodyTop)
	if a.loops().board.at != 1 {
		t.Error("a click on the second knob does not take it")
	}
	a = own(t, "1")
	a.View()
	click(a, laneLabel+10, bodyTop+7)
	if a.traces().lane == 0 || math.IsNaN(a.traces().cursor) {
		t.Error("a click on a lane takes neither it nor the cursor")
	}
	a = own(t, "2")
	click(a, 40, bodyTop)
	if a.plant().stage != 2 {
		t.Error("a click on OIL does not go there")
	}
	a.Update(tea.MouseMsg{Button: tea.MouseButtonWheelDown, Action: tea.MouseActionPress})
	if a.plant().param != 1 {
		t.Error("the wheel does not move")
	}
}

// Overlays are worked with the mouse: files are marked, lines taken, answers given,
// and the keys in the last line pressed.
func TestMouseInOverlays(t *testing.T) {
	click := func(a *App, text string) {
		t.Helper()
		for y, l := range strings.Split(a.View(), "\n") {
			if at := strings.Index(l, text); at >= 0 {
				_, cmd := a.Update(tea.MouseMsg{X: len([]rune(l[:at])), Y: y, Button: tea.MouseButtonLeft, Action: tea.MouseActionPress})
				settle(a, cmd)
				return
			}
		}
		t.Fatalf("no %q in\n%s", text, a.View())
	}
	a := own(t, "1")
	click(a, "o open")
	click(a, "machine.toml")
	click(a, "survey.csv") // was marked
	o := a.over.(*opener)
	if !o.marked["/data/machine.toml"] || o.marked["/data/survey.csv"] {
		t.Errorf("marked %v", o.marked)
	}
	click(a, "survey.csv")
	click(a, "enter load")
	if a.over != nil || a.request.MachineFile != "/data/machine.toml" {
		t.Error("a click on enter does not load")
	}
	click(a, "o open")
	click(a, "    older")
	if a.over.(*opener).dir != "/data/older" {
		t.Error("a click does not enter the folder")
	}
	click(a, "esc back")
	click(a, "q leave")
	click(a, "esc  stay")
	if a.over != nil {
		t.Error("a click on stay does not stay")
	}
	hit(a, "1", "down", "m")
	click(a, "LT  ")
	click(a, "sign")
	click(a, "sign")
	if m := a.over.(*mapper); m.row != 3 || m.field != 2 || m.draft[trace.RodPosition].Sign != -1 {
		t.Errorf("row %d, field %d, said %v", m.row, m.field, m.draft)
	}
	a = closed(t, "4", "i")
	click(a, "loop period")
	if a.over.(*inUse).form.at != 9 {
		t.Error("a click does not take the line")
	}
	hit(a, "esc", "s")
	if click(a, "proposal"); a.over.(*saver).at != 0 {
		t.Error("a click does not take what to save")
	}
	a = opened(failing(errors.New("no")), Start{Work: demoWork(), Folder: "/data"})
	click(a, "open others")
	if _, opens := a.over.(*opener); !opens {
		t.Errorf("a click on an answer of a fault: %T", a.over)
	}
}

func tabLine(a *App) string { return strings.Split(a.View(), "\n")[0] }
