package bench

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/plant"
	"eha/strokewise/samples/twin"
	"eha/strokewise/tui"
	"eha/strokewise/tuning"
)

// settle runs commands and what follows from them until nothing is left.
func settle(m tea.Model, cmds ...tea.Cmd) {
	for len(cmds) > 0 {
		c := cmds[0]
		cmds = cmds[1:]
		if c == nil {
			continue
		}
		switch msg := c().(type) {
		case nil:
		case tea.BatchMsg:
			cmds = append(cmds, msg...)
		default:
			_, next := m.Update(msg)
			cmds = append(cmds, next)
		}
	}
}

// standing returns the program on a screen with the plant's proposal made.
func standing(p *plant.Plant, screen string) tea.Model {
	start := tui.Start{Work: tui.Work{Plant: p, Options: tuning.DefaultOptions(), Demo: true}}
	services := Services("test")
	services.Load = nil
	m := tui.New(context.Background(), services, start)
	m.Update(tea.WindowSizeMsg{Width: 200, Height: 60})
	settle(m, m.Init())
	m.Update(keyOf(screen))
	return m
}

func keyOf(name string) tea.KeyMsg {
	for _, k := range []tea.KeyType{tea.KeyLeft, tea.KeyRight, tea.KeyDown} {
		if k.String() == name {
			return tea.KeyMsg{Type: k}
		}
	}
	return tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune(name)}
}

// turn presses a key and returns the frame with its quick look, and the search that would follow.
func turn(tb testing.TB, m tea.Model, name string) (frame string, search tea.Cmd) {
	tb.Helper()
	_, look := m.Update(keyOf(name))
	if look == nil {
		tb.Fatalf("%q starts nothing", name)
	}
	_, search = m.Update(look())
	return m.View(), search
}

// A turn of each knob shows a quick look in the next frame, and the search then takes its place.
func TestKnobShowsAQuickLook(t *testing.T) {
	p, _ := demo()
	m := standing(p, "3")
	for knob := range 9 {
		name := "right"
		if knob == 0 { // the gain share stands at its end
			name = "left"
		}
		frame, search := turn(t, m, name)
		if !strings.Contains(frame, "QUICK LOOK, WAIT") || !strings.Contains(frame, "Least gain margin") {
			t.Errorf("knob %d: no quick look in\n%s", knob, frame)
		}
		if knob < 3 {
			settle(m, search)
			if frame = m.View(); !strings.Contains(frame, "TYPE THESE") || strings.Contains(frame, "QUICK LOOK") {
				t.Errorf("knob %d: the search's answer is not in\n%s", knob, frame)
			}
		}
		m.Update(keyOf("down"))
	}
}

// pressing is the plant of an invented press from all its logs, as large as those
// that users bring: three logs, four minutes, a position and a force loop.
func pressing(tb testing.TB) *plant.Plant {
	tb.Helper()
	dir := tb.TempDir()
	if err := twin.WriteFolder(twin.Random(twin.Pressing, 20011), dir); err != nil {
		tb.Fatal(err)
	}
	logs, err := filepath.Glob(filepath.Join(dir, "*.csv"))
	if err != nil {
		tb.Fatal(err)
	}
	quiet := func(string, float64) {}
	read, err := load(context.Background(), tui.Request{Paths: logs, MachineFile: filepath.Join(dir, "machine.toml")}, quiet)
	if err != nil {
		tb.Fatal(err)
	}
	p, err := fit(context.Background(), read, quiet)
	if err != nil {
		tb.Fatal(err)
	}
	return p
}

// From a turn of a knob to the frame with the quick look, at 200x60: under 50 ms,
// on the demo machine and on a press read from its logs.
func BenchmarkTurnToFrame(b *testing.B) {
	d, _ := demo()
	for _, plants := range []struct {
		name  string
		plant *plant.Plant
	}{{"demo", d}, {"press", pressing(b)}} {
		for screen, name := range map[string]string{"3": "loops", "4": "response"} {
			b.Run(plants.name+"/"+name, func(b *testing.B) {
				m := standing(plants.plant, screen)
				keys := []string{"left", "right"}
				for i := 0; b.Loop(); i++ {
					turn(b, m, keys[i%2])
				}
			})
		}
	}
}
