package job

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// longEnough is a log of several read blocks, so that a change can fall between two.
func longEnough() string {
	var b strings.Builder
	b.WriteString("time_s,motor_position_rev,rod_position_mm\n")
	for i := range 200_000 {
		fmt.Fprintf(&b, "%.3f,%.6f,%.4f\n", float64(i)*1e-3, float64(i)*1e-3, 10+float64(i)*1e-3)
	}
	return b.String()
}

// A log that grows, is cut or is written over while it is read is refused: the
// answer would come from a file that never existed. One that is removed or
// replaced by rename meanwhile is read as it was when it was opened.
func TestLogThatChangesWhileRead(t *testing.T) {
	text := longEnough()
	for _, c := range []struct {
		name   string
		change func(path string) error
		want   string
	}{
		{"grows", func(path string) error {
			f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
			if err != nil {
				return err
			}
			_, err = f.WriteString("200.000,200,210\n")
			return errors.Join(err, f.Close())
		}, "changed while it was read"},
		{"is cut", func(path string) error { return os.Truncate(path, 2_000_000) }, "changed while it was read"},
		{"is emptied", func(path string) error { return os.Truncate(path, 0) }, "changed while it was read"},
		{"is removed", os.Remove, ""},
		{"is replaced", func(path string) error {
			return errors.Join(os.WriteFile(path+".new", []byte("other"), 0o600), os.Rename(path+".new", path))
		}, ""},
		{"stays", func(string) error { return nil }, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "log.csv")
			if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
			done := false
			progress := func(string, float64) {
				if done {
					return
				}
				done = true
				if err := c.change(path); err != nil {
					t.Error(err)
				}
			}
			j, err := Open(context.Background(), Source{Logs: []string{path}}, progress)
			var fault *FileError
			switch {
			case !done:
				t.Fatal("the file was not changed")
			case c.want == "" && (err != nil || j.Readings[0].Rows != 200_000):
				t.Errorf("got %v", err)
			case c.want != "" && (!errors.As(err, &fault) || !strings.Contains(err.Error(), c.want)):
				t.Errorf("got %v, want a *FileError with %q", err, c.want)
			}
		})
	}
}

// Standard input that falls silent does not keep an interrupted run waiting.
func TestSilentInputCanBeStopped(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	in, feed := io.Pipe()
	defer feed.Close()
	go func() {
		_, _ = feed.Write([]byte("sample,motor_position_rev,rod_position_mm\n0,1,2\n"))
		cancel()
	}()
	_, err := Open(ctx, Source{Logs: []string{"-"}, Period: 1e-3, Stdin: in}, nil)
	if !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want context.Canceled", err)
	}
}

// A pattern that the shell left alone stands for the files it matches, in order; a file of
// that very name goes first.
func TestPatternsNameLogs(t *testing.T) {
	dir := t.TempDir()
	row := "time_s,motor_position_rev,rod_position_mm\n"
	for i := range 50 {
		row += fmt.Sprintf("%.2f,%.3f,%.3f\n", float64(i)*0.01, float64(i)*0.1, 50+float64(i))
	}
	for _, name := range []string{"b2.csv", "b1.csv", "c.txt", "[x].csv"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(row), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for pattern, want := range map[string]string{"b*.csv": "b1.csv b2.csv", "[x].csv": "[x].csv", "?.txt": "c.txt"} {
		j, err := Open(context.Background(), Source{Logs: []string{filepath.Join(dir, pattern)}}, nil)
		if err != nil {
			t.Fatal(err)
		}
		var names []string
		for _, r := range j.Readings {
			names = append(names, r.Trace.Name())
		}
		if got := strings.Join(names, " "); got != want {
			t.Errorf("%s: %s, want %s", pattern, got, want)
		}
	}
	if _, err := Open(context.Background(), Source{Logs: []string{filepath.Join(dir, "d*.csv")}}, nil); err == nil || !strings.Contains(err.Error(), "no such file") {
		t.Errorf("a pattern that matches nothing: %v", err)
	}
}
