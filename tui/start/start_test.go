package start_test

import (
	"bytes"
	"context"
	"io"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/creack/pty"

	"eha/strokewise/tui"
)

// The test binary runs the terminal program itself when it finds this set.
const asProgram = "STROKEWISE_TEST_RUN_TUI"

func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		if err := tui.Run(context.Background(), tui.Services{}, tui.Start{}); err != nil {
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// output gathers what a program writes.
type output struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (o *output) Write(p []byte) (int, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.buf.Write(p)
}

func (o *output) String() string {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.buf.String()
}

// waitFor returns how long it took for text to appear.
func (o *output) waitFor(text string, limit time.Duration) (time.Duration, bool) {
	start := time.Now()
	for time.Since(start) < limit {
		if strings.Contains(o.String(), text) {
			return time.Since(start), true
		}
		time.Sleep(2 * time.Millisecond)
	}
	return limit, false
}

// On a terminal that answers no questions the first screen is there within half
// a second, no question is asked, and q restores the terminal. Without this
// package the library waits five seconds for an answer.
func TestSilentTerminal(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("no pty here; the library does not ask on Windows")
	}
	for _, term := range []string{"xterm-256color", "xterm", "linux", "vt100", "screen", "tmux-256color", "dumb"} {
		t.Run(term, func(t *testing.T) {
			cmd := exec.Command(os.Args[0])
			cmd.Env = append(os.Environ(), asProgram+"=1", "TERM="+term)
			tty, err := pty.StartWithSize(cmd, &pty.Winsize{Rows: 24, Cols: 80})
			if err != nil {
				t.Skip("no pty: ", err)
			}
			defer tty.Close()
			out := &output{}
			go func() { _, _ = io.Copy(out, tty) }()
			took, ok := out.waitFor("nothing on the bench", 4*time.Second)
			if !ok {
				t.Fatalf("no screen after %v: %q", took, out.String())
			}
			// Without the cure it would be five seconds; half of one is usual.
			t.Logf("first screen after %v", took)
			if s := out.String(); strings.Contains(s, "\x1b]11;") || strings.Contains(s, "\x1b[6n") {
				t.Errorf("the terminal was asked: %q", s)
			}
			if _, err := tty.Write([]byte("q")); err != nil {
				t.Fatal(err)
			}
			done := make(chan error, 1)
			go func() { done <- cmd.Wait() }()
			select {
			case err := <-done:
				if err != nil {
					t.Errorf("ended with %v", err)
				}
			case <-time.After(20 * time.Second):
				_ = cmd.Process.Kill()
				t.Error("q does not end the program")
			}
		})
	}
}

// Without colour no colour is sent, and the screens still say which is which.
func TestNoColour(t *testing.T) {
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), asProgram+"=1", "TERM=xterm-256color", "NO_COLOR=1")
	tty, err := pty.StartWithSize(cmd, &pty.Winsize{Rows: 24, Cols: 80})
	if err != nil {
		t.Skip("no pty: ", err)
	}
	defer tty.Close()
	out := &output{}
	go func() { _, _ = io.Copy(out, tty) }()
	if _, ok := out.waitFor("nothing on the bench", 4*time.Second); !ok {
		t.Fatal("no screen")
	}
	if _, err := tty.Write([]byte("3")); err != nil {
		t.Fatal(err)
	}
	if _, ok := out.waitFor("[3 Loops]", 4*time.Second); !ok {
		t.Errorf("the screen in view is not marked without colour: %q", out.String())
	}
	for _, colour := range []string{"\x1b[3", "\x1b[7m", "\x1b[1m", "\x1b[2m", "\x1b[38"} {
		if strings.Contains(out.String(), colour) {
			t.Errorf("%q was sent under NO_COLOR", colour)
		}
	}
	_, _ = tty.Write([]byte("q"))
	_ = cmd.Wait()
}
