package tui

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/lipgloss"
	"github.com/mattn/go-runewidth"
	"github.com/muesli/termenv"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tuning"
)

var update = flag.Bool("update", false, "write the golden files anew")

func TestMain(m *testing.M) {
	flag.Parse()
	lipgloss.SetColorProfile(termenv.Ascii)
	os.Exit(m.Run())
}

// settle runs commands and what follows from them until nothing is left, as the
// program's loop would; timers are not waited for.
func settle(a *App, cmd tea.Cmd) {
	queue := []tea.Cmd{cmd}
	for len(queue) > 0 {
		c := queue[0]
		queue = queue[1:]
		if c == nil {
			continue
		}
		switch msg := c().(type) {
		case nil:
		case tea.BatchMsg:
			queue = append(queue, msg...)
		case folderMsg:
			a.looked(msg)
		case taskMoved:
			a.Update(msg)
		default:
			_, next := a.Update(msg)
			queue = append(queue, next)
		}
	}
}

// keyOf turns a key's name into its message.
func keyOf(name string) tea.KeyMsg {
	named := map[string]tea.KeyType{"up": tea.KeyUp, "down": tea.KeyDown, "left": tea.KeyLeft, "right": tea.KeyRight, "enter": tea.KeyEnter, "esc": tea.KeyEsc,
		"tab": tea.KeyTab, "shift+tab": tea.KeyShiftTab, "pgup": tea.KeyPgUp, "pgdown": tea.KeyPgDown, "backspace": tea.KeyBackspace, " ": tea.KeySpace, "ctrl+c": tea.KeyCtrlC}
	if t, ok := named[name]; ok {
		return tea.KeyMsg{Type: t, Runes: map[bool][]rune{true: {' '}}[t == tea.KeySpace]}
	}
	return tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune(name)}
}

// hit sends keys and lets everything settle after each.
func hit(a *App, keys ...string) {
	for _, k := range keys {
		_, cmd := a.Update(keyOf(k))
		settle(a, cmd)
	}
}

// opened returns the program after its start.
func opened(services Services, start Start) *App {
	a := New(context.Background(), services, start)
	a.patience = 0
	settle(a, a.Init())
	return a
}

// states are all states of all screens that a user can meet.
func states() map[string]func() *App {
	demo := func(keys ...string) func() *App {
		return func() *App {
			a := opened(fakeServices(), Start{Work: demoWork()})
			hit(a, keys...)
			return a
		}
	}
	own := func(keys ...string) func() *App {
		return func() *App {
			a := opened(fakeServices(), Start{Work: Work{Options: fakeOptions()}, Request: Request{Paths: []string{"/data/survey.csv"}}, Folder: "/data"})
			hit(a, keys...)
			return a
		}
	}
	broken := func(change func(*Services), keys ...string) func() *App {
		return func() *App {
			s := fakeServices()
			change(&s)
			a := opened(s, Start{Work: Work{Options: fakeOptions()}, Request: Request{Paths: []string{"/data/survey.csv"}}})
			hit(a, keys...)
			return a
		}
	}
	load := func(l *Logs, err error) func(*Services) {
		return func(s *Services) {
			s.Load = func(context.Context, Request, Progress) (*Logs, error) { return l, err }
		}
	}
	// glancing shows the quick look after a turn of the knob, before the search has ended.
	glancing := func(keys ...string) func() *App {
		return func() *App {
			a := own(keys...)()
			_, cmd := a.Update(keyOf("left"))
			a.Update(cmd())
			return a
		}
	}
	closed := load(closedLogs(), nil)
	bare := func(keys ...string) func() *App {
		return func() *App {
			a := opened(unmapped("ch1", "ch2", "ch3"), Start{Work: Work{Options: fakeOptions()}, Request: Request{Paths: []string{"/data/survey.csv"}}, Folder: "/data"})
			hit(a, keys...)
			return a
		}
	}
	bareLater := func(keys ...string) func() *App {
		return func() *App {
			a := opened(unmapped("ch1", "ch2", "ch3"), Start{Work: demoWork(), Folder: "/data"})
			hit(a, "enter")
			hit(a, "down", "enter")
			hit(a, keys...)
			return a
		}
	}
	gains := []string{"i", "7", ".", "8", "down", "8", "enter"}
	timeless := &trace.ReadError{File: "usual.csv", Problem: "holds no time and no sample period was stated", Advice: "state it, such as --log-period 1ms", Timeless: true}
	list := map[string]func() *App{
		"replay-unknown": broken(closed, "4", "c", "c"), "replay": broken(closed, append([]string{"4"}, gains...)...),
		"replay-error": broken(closed, append(append([]string{"4"}, gains...), "tab")...), "replay-doubted": broken(closed, "4", "i", "3", "down", "3", "enter"),
		"in-use": broken(closed, "4", "i"), "in-use-problem": broken(closed, "4", "i", "8", "enter"), "in-use-save": broken(closed, append(append([]string{"4"}, gains...), "s")...),
		"untimed": broken(load(nil, timeless)), "period": broken(load(nil, timeless), "t"), "period-problem": broken(load(nil, timeless), "t", "2", "enter"),
		"untimed-later": func() *App {
			s := fakeServices()
			s.Load = func(_ context.Context, r Request, _ Progress) (*Logs, error) {
				if r.Period == 0 && !r.Demo {
					return nil, timeless
				}
				return fakeLogs(), nil
			}
			a := opened(s, Start{Work: demoWork(), Folder: "/data"})
			hit(a, "enter")
			hit(a, "down", "enter")
			return a
		},
		"loops-quick": glancing("3"), "loops-quick-bringup": glancing("3", "tab", "tab", "tab"), "response-quick": glancing("4"),
		"demo-traces": demo("1"), "demo-plant": demo("2"), "demo-loops": demo("3"), "demo-response": demo("4"),
		"traces-cursor": own("1", "right", "+", "+"), "traces-finding": own("1", "tab", "enter"), "traces-tell": own("1", "tab", "tab", "down"),
		"traces-large": own("1", "z", "right"), "traces-asked": own("1", "down", "down", "down", "down", "down", "down"), "traces-columns": own("1", "down", "down", "m"), "traces-questions": own("1", "tab", "tab", "tab"),
		"columns-bare": bare(), "columns-unit": bare("down", "r"), "columns-said": bare("down", "r", "tab", "right"), "columns-counts": bare("down", "m", "tab", "right", "right", "tab", "4", "0", "x"),
		"columns-points": bare("down", "c", "tab", "left", "left"), "columns-period": bare("up"), "columns-aside": bare("r", "esc"), "columns-used": bare("down", "r", "tab", "right", "enter"), "columns-late": bareLater("r", "enter"),
		"columns-wide": func() *App {
			return opened(unmapped("時間", strings.Repeat("回転速度指令値", 9), "p\x1b[31mA\u202e", strings.Repeat("x", 300), "", "ch6", "ch7", "ch8", "ch9", "ch10", "ch11", "ch12"), Start{Work: Work{Options: fakeOptions()}, Request: Request{Paths: []string{"/data/survey.csv"}}})
		},
		"plant-pump": own("2", "right"), "plant-oil": own("2", "right", "right", "tab"), "plant-rod": own("2", "right", "right", "right"), "plant-work": own("2", "left"), "plant-large": own("2", "z"),
		"loops-plane": own("3", "tab"), "loops-limits": own("3", "tab", "tab"), "loops-bringup": own("3", "tab", "tab", "tab"), "loops-pressing": own("3", "tab", "tab", "tab", "tab"), "loops-guards": own("3", "tab", "tab", "tab", "tab", "tab"),
		"loops-scale": own("3", "tab", "tab", "tab", "tab", "tab", "tab"), "loops-cautions": own("3", "shift+tab"), "loops-form": own("3", "f", "f"), "loops-turned": own("3", "right", "down", "left", "down", "right"),
		"response-large": own("4", "z", "right", "+"), "plant-cursor": own("2", "z", "left", "+"), "response-kick": own("4", "c"),
		"demo-compare": demo("5"), "demo-compared": demo("5", "a"), "nothing-compare": func() *App { a := opened(fakeServices(), Start{}); hit(a, "5"); return a },
		"compare-alone": own("5"), "compare-open": own("5", "a"), "compare-moves": own("5", "a", "down", " ", "enter", "down"),
		"compare-machine": own("5", "a", "down", "enter", "tab", "down"), "compare-same": own("5", "a", "down", "enter", "tab", "down", "down", "down"), "compare-notes": own("5", "a", "down", "enter", "shift+tab"),
		"compare-large": own("5", "a", "down", "enter", "z", "right"), "compare-swapped": own("5", "a", "down", "enter", "w"),
		"compare-failed": broken(func(s *Services) {
			s.Compare = func(context.Context, Request, *Logs, *plant.Plant, Progress) (*Comparison, error) {
				return nil, errors.New("stopped by the check: rod position runs against the encoder. Turn the sign of rod position.")
			}
		}, "5", "a", "down", "enter"),
		"compare-no-move": broken(func(s *Services) {
			s.Compare = func(ctx context.Context, r Request, l *Logs, p *plant.Plant, g Progress) (*Comparison, error) {
				c, err := fakeCompare(ctx, r, l, p, g)
				c.OtherBefore.Moves = nil
				return c, err
			}
		}, "5", "a", "down", "enter"),
		"help": own("3", "?"), "save": own("s"), "save-demo": demo("s"), "leave": own("q"), "open": own("o"),
		"offered-first":    func() *App { return opened(fakeServices(), Start{Work: demoWork(), Folder: "/data"}) },
		"nothing-traces":   func() *App { return opened(fakeServices(), Start{}) },
		"nothing-plant":    func() *App { a := opened(fakeServices(), Start{}); hit(a, "2"); return a },
		"nothing-loops":    func() *App { a := opened(fakeServices(), Start{}); hit(a, "3"); return a },
		"stopped-response": broken(load(stoppedLogs(), nil), "4"), "nothing-response": func() *App { a := opened(fakeServices(), Start{}); hit(a, "4"); return a },
		"stopped-traces": broken(load(stoppedLogs(), nil)), "stopped-finding": broken(load(stoppedLogs(), nil), "tab"), "stopped-corrected": broken(load(stoppedLogs(), nil), "c"), "stopped-plant": broken(load(stoppedLogs(), nil), "2"), "stopped-loops": broken(load(stoppedLogs(), nil), "3"),
		"unreadable":  broken(load(nil, &trace.ReadError{File: "survey.csv", Row: 1042, Column: "pA [bar]", Problem: "\"12,4x\" is not a number", Advice: "mark the column as unused or correct the row"})),
		"bad-machine": broken(load(nil, errors.New("machine: machine.toml:3: unknown key rod_mn, did you mean rod"))),
		"fit-failed": broken(func(s *Services) {
			s.Fit = func(context.Context, *Logs, Progress) (*plant.Plant, error) {
				return nil, errors.New("ident: stroke per turn: 3 usable samples while retracting, need 20")
			}
		}, "2"),
		"nothing-found": broken(func(s *Services) {
			s.Fit = func(context.Context, *Logs, Progress) (*plant.Plant, error) {
				return &plant.Plant{Params: map[plant.Param]plant.Estimate{plant.DriveBandwidth: plant.MissingFrom("multisine")}}, nil
			}
			s.Propose = func(context.Context, *plant.Plant, tuning.Options) (*tuning.Proposal, error) {
				return &tuning.Proposal{NotProposed: map[string]string{"position": "neither stroke per turn nor the drive is known; log slow_strokes and speed_steps"}}, nil
			}
		}, "2"),
		"not-proposed": broken(func(s *Services) {
			s.Propose = func(context.Context, *plant.Plant, tuning.Options) (*tuning.Proposal, error) {
				return &tuning.Proposal{NotProposed: map[string]string{"position": "neither stroke per turn nor the drive is known; log slow_strokes and speed_steps"}}, nil
			}
		}, "3"),
		"loops-foremost": broken(func(s *Services) {
			s.Propose = func(ctx context.Context, p *plant.Plant, o tuning.Options) (*tuning.Proposal, error) {
				t, err := fakePropose(ctx, p, o)
				t.Foremost = []string{"These gains are too low to hold the load against slip: the rod rests up to 14 mm off, 4 s after a standard step of 10 mm. Do not position with them where that matters."}
				t.Warnings = append(t.Foremost, "The outer delay is assumed.")
				return t, err
			}
		}, "3", "tab", "tab"),
		"loops-no-pressing": broken(func(s *Services) {
			s.Propose = func(ctx context.Context, p *plant.Plant, o tuning.Options) (*tuning.Proposal, error) {
				t, err := fakePropose(ctx, p, o)
				t.Events = nil
				return t, err
			}
		}, "3", "tab", "tab", "tab", "tab"),
		"propose-failed": broken(func(s *Services) {
			s.Propose = func(context.Context, *plant.Plant, tuning.Options) (*tuning.Proposal, error) {
				return nil, errors.New("tuning: position: phase margin 23 deg at the lowest gain, need 45 deg")
			}
		}, "3"),
		"no-pressures": broken(func(s *Services) {
			s.Fit = func(context.Context, *Logs, Progress) (*plant.Plant, error) {
				p := fakePlant()
				p.PressuresSeen, p.Evidence.Slip, p.Evidence.Friction = false, nil, nil
				for _, q := range []plant.Param{plant.Slip, plant.BulkModulus, plant.CoulombFriction, plant.AxialLoad} {
					p.Params[q] = plant.MissingFrom("slow_strokes with both pressures")
				}
				return p, nil
			}
		}, "2", "right", "right", "right"),
		"inch-plant": func() *App {
			a := opened(fakeServices(), Start{Work: demoWork(), Units: quantity.Inch})
			hit(a, "2", "right", "right")
			return a
		},
		"inch-limits": func() *App {
			a := opened(fakeServices(), Start{Work: demoWork(), Units: quantity.Inch})
			hit(a, "3", "tab", "tab")
			return a
		},
		"inch": func() *App {
			a := opened(fakeServices(), Start{Work: demoWork(), Units: quantity.Inch})
			hit(a, "2", "right", "3")
			return a
		},
		"cancelled": func() *App {
			a := New(context.Background(), fakeServices(), Start{Work: Work{Options: fakeOptions()}, Request: Request{Paths: []string{"/data/survey.csv"}}})
			a.Update(loadedMsg{logs: fakeLogs(), req: a.request})
			hit(a, "esc", "2")
			return a
		},
		"failed-load": func() *App {
			a := opened(failing(&trace.ReadError{File: "bad.csv", Row: 3, Column: "x", Problem: "\"12x4\" is not a number", Advice: "correct the row"}), Start{Work: demoWork()})
			return a
		},
		"busy": func() *App {
			a := New(context.Background(), fakeServices(), Start{Work: Work{Options: fakeOptions()}, Request: Request{Paths: []string{"/data/survey.csv"}}})
			a.Init()
			a.task.latest.post("survey.csv: 42 % of 43.4 MB", 0.42)
			a.Update(taskMoved{a.task.id})
			return a
		},
	}
	return list
}

func TestGoldenScreens(t *testing.T) {
	for name, make := range states() {
		for _, size := range [][2]int{{80, 24}, {140, 40}} {
			t.Run(fmt.Sprintf("%s-%dx%d", name, size[0], size[1]), func(t *testing.T) {
				a := make()
				a.Update(tea.WindowSizeMsg{Width: size[0], Height: size[1]})
				got := a.View()
				if again := a.View(); again != got {
					t.Error("the same state gives another text the second time")
				}
				checkFrame(t, got, size[0], size[1])
				sameText(t, fmt.Sprintf("%s-%dx%d", name, size[0], size[1]), got)
			})
		}
	}
}

func sameText(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name+".golden")
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got+"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got+"\n" != string(want) {
		t.Errorf("%s differs; go test ./tui -update writes it anew. Got\n%s", path, got)
	}
}

// checkFrame holds every screen to the terminal's size and to harmless text.
func checkFrame(t *testing.T, view string, width, height int) {
	t.Helper()
	lines := strings.Split(view, "\n")
	if len(lines) > height {
		t.Errorf("%d lines in a terminal of %d", len(lines), height)
	}
	for _, l := range lines {
		if n := runewidth.StringWidth(l); n > width {
			t.Errorf("%d cells in a terminal of %d: %q", n, width, l)
		}
		if i := strings.IndexFunc(l, func(r rune) bool { return r < ' ' || r == 0x7f || r >= 0x80 && r < 0xa0 }); i >= 0 {
			t.Errorf("control character in %q", l)
		}
	}
}
