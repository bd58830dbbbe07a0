package tui

import (
	"context"
	"math"
	"runtime"
	"slices"
	"testing"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tuning/job"
)

// longLogs is ten minutes of six channels at 1 kHz.
func longLogs(tb testing.TB) *Logs {
	tb.Helper()
	const n = 600_000
	s := map[trace.Channel][]float64{}
	for _, c := range []trace.Channel{trace.SpeedCommand, trace.MotorPosition, trace.RodPosition, trace.CapPressure, trace.RodPressure, trace.MotorSpeed} {
		y := make([]float64, n)
		for i := range y {
			y[i] = math.Sin(float64(i)/3e4) + 0.1*math.Sin(float64(i))
		}
		s[c] = y
	}
	tr, err := trace.New("long.csv", 1e-3, 0, s, nil)
	if err != nil {
		tb.Fatal(err)
	}
	return &Logs{Job: &job.Job{Readings: []*trace.Reading{{Trace: tr}}}, Paths: []string{"long.csv"}}
}

func longApp(tb testing.TB) *App {
	s := fakeServices()
	logs := longLogs(tb)
	s.Load = func(context.Context, Request, Progress) (*Logs, error) { return logs, nil }
	a := opened(s, Start{Work: Work{Options: fakeOptions()}, Request: Request{Paths: []string{"long.csv"}}})
	a.Update(tea.WindowSizeMsg{Width: 200, Height: 60})
	return a
}

// One frame of each screen at 200x60 takes under 5 ms, with ten minutes of log.
func BenchmarkFrame(b *testing.B) {
	for i, name := range []string{"traces", "plant", "loops", "response"} {
		b.Run(name, func(b *testing.B) {
			a := longApp(b)
			a.show(i)
			for b.Loop() {
				a.View()
			}
		})
	}
	b.Run("traces-large", func(b *testing.B) {
		a := longApp(b)
		hit(a, "1", "z")
		for b.Loop() {
			a.View()
		}
	})
}

// A key is answered within 50 ms while a fit keeps every processor busy. The
// limit is wider here, for machines that other work keeps busy too.
func TestKeysAreAnsweredDuringAFit(t *testing.T) {
	a := longApp(t)
	stop := make(chan struct{})
	defer close(stop)
	for range runtime.GOMAXPROCS(0) {
		go func() {
			x := 1.0
			for {
				select {
				case <-stop:
					return
				default:
					for i := 0; i < 1e5; i++ {
						x = math.Sqrt(x + 1)
					}
				}
			}
		}()
	}
	a.begin(stepFit, func(ctx context.Context, _ Progress) tea.Msg { return fittedMsg{(*plant.Plant)(nil)} })
	var took []time.Duration
	for _, k := range []string{"1", "right", "+", "2", "right", "3", "tab", "4"} {
		start := time.Now()
		a.Update(keyOf(k))
		a.View()
		took = append(took, time.Since(start))
	}
	// The median, since a machine shared with other tests may stall any one of them.
	slices.Sort(took)
	t.Logf("answers from %v to %v", took[0], took[len(took)-1])
	if median := took[len(took)/2]; median > 150*time.Millisecond {
		t.Errorf("a key took %v", median)
	}
}
