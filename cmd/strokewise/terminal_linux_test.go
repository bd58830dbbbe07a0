package main

import (
	"bytes"
	"io"
	"os"
	"os/exec"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"
)

// screen is what the program has sent to its terminal.
type screen struct {
	mu   sync.Mutex
	text bytes.Buffer
	done chan struct{}
}

func (s *screen) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.Write(p)
}

func (s *screen) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.String()
}

// end is the last of it, for messages.
func (s *screen) end() string {
	text := s.String()
	return text[max(0, len(text)-300):]
}

// await waits for a text to have been sent.
func (s *screen) await(t *testing.T, text string) {
	t.Helper()
	for start := time.Now(); !strings.Contains(s.String(), text); time.Sleep(5 * time.Millisecond) {
		if time.Since(start) > 20*time.Second {
			t.Fatalf("%q did not come: ...%q", text, s.end())
		}
	}
}

// onScreen starts the program on a terminal of the given size.
func onScreen(t *testing.T, dir string, rows, cols uint16, env []string, args ...string) (*exec.Cmd, *os.File, *screen) {
	t.Helper()
	cmd := program(dir, append([]string{"TERM=xterm-256color"}, env...), args...)
	tty, err := pty.StartWithSize(cmd, &pty.Winsize{Rows: rows, Cols: cols})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		_ = tty.Close()
	})
	s := &screen{done: make(chan struct{})}
	go func() {
		_, _ = io.Copy(s, tty)
		close(s.done)
	}()
	return cmd, tty, s
}

// finish waits for the end of the program and of its output.
func finish(t *testing.T, cmd *exec.Cmd, s *screen) int {
	t.Helper()
	late := time.AfterFunc(60*time.Second, func() { _ = cmd.Process.Kill() })
	_ = cmd.Wait()
	if !late.Stop() {
		t.Error("it did not end within a minute")
	}
	<-s.done
	return cmd.ProcessState.ExitCode()
}

// Whatever ends the screens during a fit, the terminal is as before: the main
// screen back, the cursor shown, the mouse let go.
func TestTerminalIsRestored(t *testing.T) {
	dir := demoIn(t, "machine.toml", "survey.csv", "press.csv")
	for _, c := range []struct {
		name   string
		end    func(cmd *exec.Cmd, tty *os.File) error
		status int
	}{
		{"ctrl+c", func(_ *exec.Cmd, tty *os.File) error { _, err := tty.Write([]byte{3}); return err }, exitDone},
		{"interrupt", func(cmd *exec.Cmd, _ *os.File) error { return cmd.Process.Signal(syscall.SIGINT) }, exitStopped},
		{"terminate", func(cmd *exec.Cmd, _ *os.File) error { return cmd.Process.Signal(syscall.SIGTERM) }, exitStopped},
	} {
		t.Run(c.name, func(t *testing.T) {
			cmd, tty, s := onScreen(t, dir, 24, 80, nil, "-m", "machine.toml", "survey.csv", "press.csv")
			s.await(t, "Fitting the plant")
			if err := c.end(cmd, tty); err != nil {
				t.Fatal(err)
			}
			if status := finish(t, cmd, s); status != c.status {
				t.Errorf("exit %d, want %d", status, c.status)
			}
			for _, restore := range []string{"\x1b[?1049l", "\x1b[?25h", "\x1b[?1002l"} {
				if !strings.Contains(s.String(), restore) {
					t.Errorf("%q was not sent: ...%q", restore, s.end())
				}
			}
		})
	}
}

// A window too small for anything, and one that shrinks to nothing, neither stop
// the program nor its keys.
func TestTinyTerminal(t *testing.T) {
	for _, size := range [][2]uint16{{1, 1}, {0, 0}, {1, 200}, {60, 1}} {
		cmd, tty, s := onScreen(t, t.TempDir(), size[0], size[1], []string{"NO_COLOR=1"})
		s.await(t, "\x1b[?1049h")
		for _, key := range []string{"1", "2", "3", "4", "?", "\x1b", "\t", "\x1b[B"} {
			if _, err := tty.WriteString(key); err != nil {
				t.Fatal(err)
			}
			time.Sleep(30 * time.Millisecond)
		}
		for _, to := range [][2]uint16{{24, 80}, {1, 1}, {2, 3}} {
			if err := pty.Setsize(tty, &pty.Winsize{Rows: to[0], Cols: to[1]}); err != nil {
				t.Fatal(err)
			}
			time.Sleep(30 * time.Millisecond)
		}
		if _, err := tty.Write([]byte{3}); err != nil {
			t.Fatal(err)
		}
		if status := finish(t, cmd, s); status != exitDone || strings.Contains(s.String(), "fault") {
			t.Errorf("%v: exit %d: %q", size, status, s.end())
		}
	}
}

// A terminal that cannot place text gets the plain report without one escape.
func TestDumbTerminal(t *testing.T) {
	cmd, _, s := onScreen(t, t.TempDir(), 24, 80, []string{"TERM=dumb"})
	if status := finish(t, cmd, s); status != exitDone {
		t.Errorf("exit %d", status)
	}
	if out := s.String(); strings.Contains(out, "\x1b") || !strings.Contains(out, "DEMO MACHINE") {
		t.Errorf("got %.300q", out)
	}
}
