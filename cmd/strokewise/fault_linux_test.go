package main

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
)

// The device that is always full gives what a full disk gives: status 3 and one line.
func TestFullStandardOutput(t *testing.T) {
	dir := demoIn(t, "machine.toml", "press.csv", "plant.json")
	for _, args := range [][]string{{"check", "press.csv"}, {"check", "--json", "press.csv"}, {"tune", "plant.json"}, {"demo", "new"}} {
		full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		cmd := program(dir, nil, args...)
		var errText bytes.Buffer
		cmd.Stdout, cmd.Stderr = full, &errText
		_ = cmd.Run()
		_ = full.Close()
		if status := cmd.ProcessState.ExitCode(); status != exitFile || errText.String() != "strokewise: standard output: cannot be written: no space left on device\n" {
			t.Errorf("%v: exit %d: %s", args, status, errText.String())
		}
	}
}

// Where a file cannot be written whole, the old one stays as it was and nothing
// is left beside it.
func TestDiskFullWhileSaving(t *testing.T) {
	dir := demoIn(t, "machine.toml", "press.csv", "plant.json")
	limit := []string{fileLimit + "=4096"}
	for _, args := range [][]string{
		{"tune", "--json", "-o", "out.json", "plant.json"},
		{"fit", "--json", "-m", "machine.toml", "-o", "out.json", "press.csv"},
		{"report", "-o", "out.html", "plant.json"},
	} {
		out := filepath.Join(dir, args[slices.Index(args, "-o")+1])
		if err := os.WriteFile(out, []byte("the old one"), 0o600); err != nil {
			t.Fatal(err)
		}
		status, stdout, stderr := runIn(t, dir, limit, args...)
		if status != exitFile || !strings.Contains(stderr, "cannot be written: file too large; the old file") || stdout != "" {
			t.Errorf("%v: exit %d, %q: %s", args, status, stdout, stderr)
		}
		if kept, err := os.ReadFile(out); err != nil || string(kept) != "the old one" {
			t.Errorf("%v: the old file became %.40q, %v", args, kept, err)
		}
	}
	if status, _, stderr := runIn(t, dir, limit, "demo", "new"); status != exitFile || !strings.Contains(stderr, "cannot be written: file too large") {
		t.Errorf("demo: exit %d: %s", status, stderr)
	}
	wantNoLitter(t, dir)
	wantNoLitter(t, filepath.Join(dir, "new"))
}

func wantNoLitter(t *testing.T, dir string) {
	t.Helper()
	if litter, err := filepath.Glob(filepath.Join(dir, ".*.part")); err != nil || len(litter) > 0 {
		t.Errorf("left behind: %v, %v", litter, err)
	}
}

// A folder that may not be written to, and a file where a folder was meant, are
// named in one line; what may not be read is too.
func TestReadOnlyFolder(t *testing.T) {
	dir := demoIn(t, "machine.toml", "press.csv", "plant.json")
	if err := os.WriteFile(filepath.Join(dir, "secret.csv"), []byte("a,b\n1,2\n"), 0); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(dir, 0o555); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.Chmod(dir, 0o755) })
	var other []string
	if os.Getuid() == 0 {
		other = []string{asUser + "=65534"} // root may write anywhere
	}
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"check", "--json", "-o", "out.json", "press.csv"}, "out.json: cannot be written: permission denied"},
		{[]string{"check", "-o", "press.csv/out.json", "press.csv"}, "press.csv/out.json: cannot be written: not a directory"},
		{[]string{"check", "-o", "nowhere/out.json", "press.csv"}, "nowhere/out.json: cannot be written: no such file or directory"},
		{[]string{"check", "-o", ".", "press.csv"}, ".: is not a plain file"},
		{[]string{"report", "-o", "out.html", "plant.json"}, "out.html: cannot be written: permission denied"},
		{[]string{"demo", "new"}, "new: cannot be made: permission denied"},
		{[]string{"demo", "."}, "is not replaced"},
		{[]string{"check", "secret.csv"}, "secret.csv: may not be read"},
		{[]string{"check", "-m", "secret.csv", "press.csv"}, "secret.csv: may not be read"},
	} {
		status, stdout, stderr := runIn(t, dir, other, c.args...)
		if status != exitFile || stdout != "" || !strings.Contains(stderr, c.want) || strings.Count(stderr, "\n") != 1 {
			t.Errorf("%v: exit %d, want %q: %s", c.args, status, c.want, stderr)
		}
	}
}

// A reader that goes away, as head does, ends the program without a word.
func TestReaderGoesAway(t *testing.T) {
	dir := demoIn(t, "press.csv", "plant.json")
	for _, args := range [][]string{{"check", "press.csv"}, {"tune", "--json", "plant.json"}} {
		cmd := program(dir, nil, args...)
		var errText bytes.Buffer
		cmd.Stderr = &errText
		reader, writer, err := os.Pipe()
		if err != nil {
			t.Fatal(err)
		}
		cmd.Stdout = writer
		if err := reader.Close(); err != nil {
			t.Fatal(err)
		}
		_ = cmd.Run()
		_ = writer.Close()
		if status, ok := cmd.ProcessState.Sys().(syscall.WaitStatus); !ok || status.Signal() != syscall.SIGPIPE || errText.Len() > 0 {
			t.Errorf("%v: %v: %s", args, cmd.ProcessState, errText.String())
		}
	}
}

// No home folder, no settings at all, foreign locales and little memory of
// terminals change no byte of the result.
func TestResultDoesNotDependOnSurroundings(t *testing.T) {
	dir := demoIn(t, "machine.toml", "press.csv")
	args := []string{"fit", "--json", "-m", "machine.toml", "press.csv"}
	status, want, stderr := runIn(t, dir, nil, args...)
	if status != exitDone {
		t.Fatalf("exit %d: %s", status, stderr)
	}
	for _, env := range [][]string{
		{"HOME=", "XDG_CONFIG_HOME=", "TMPDIR=/nowhere"},
		{"LC_ALL=tr_TR.UTF-8", "LANG=tr_TR.UTF-8", "TZ=Asia/Kolkata"},
		{"LC_ALL=C", "TERM=dumb", "NO_COLOR=1"},
		{"LC_ALL=de_DE", "COLUMNS=1", "LINES=1", "TERM="},
		{"GOMAXPROCS=1"},
		{"GOMAXPROCS=2"},
		{"GOMAXPROCS=7"},
	} {
		if status, out, stderr := runIn(t, dir, env, args...); status != exitDone || out != want {
			t.Errorf("%v: exit %d, %d bytes, want %d as before: %s", env, status, len(out), len(want), stderr)
		}
	}
	cmd := program(dir, nil, args...)
	cmd.Env = []string{asProgram + "=program"}
	if out, err := cmd.Output(); err != nil || string(out) != want {
		t.Errorf("no environment: %v, %d bytes", err, len(out))
	}
}

// The same log and flags give the same proposal, byte for byte, on one processor and on two.
func TestSameProposalOnOneAndTwoProcessors(t *testing.T) {
	dir := demoIn(t, "machine.toml", "press.csv", "survey.csv")
	args := []string{"tune", "--json", "-m", "machine.toml", "survey.csv", "press.csv"}
	status, one, stderr := runIn(t, dir, []string{"GOMAXPROCS=1"}, args...)
	if status != exitDone {
		t.Fatalf("exit %d: %s", status, stderr)
	}
	if _, two, _ := runIn(t, dir, []string{"GOMAXPROCS=2"}, args...); two != one {
		t.Error("one and two processors propose differently")
	}
}

// An interrupt while the program waits for its input or fits ends it soon, with
// its own status, one last line and no file.
func TestInterrupt(t *testing.T) {
	dir := demoIn(t, "machine.toml", "survey.csv", "press.csv")
	out := filepath.Join(dir, "out.json")
	args := []string{"fit", "--json", "-m", "machine.toml", "-o", "out.json", "survey.csv", "press.csv"}
	start := time.Now()
	if status, _, stderr := runIn(t, dir, nil, args...); status != exitDone {
		t.Fatalf("exit %d: %s", status, stderr)
	}
	whole := time.Since(start)
	stopped := 0
	for i, share := range []float64{0.2, 0.4, 0.6, 0.8} {
		if err := os.Remove(out); err != nil && !errors.Is(err, fs.ErrNotExist) {
			t.Fatal(err)
		}
		sig := []syscall.Signal{syscall.SIGINT, syscall.SIGTERM}[i%2]
		status := interrupt(t, program(dir, nil, args...), sig, time.Duration(share*float64(whole)))
		_, err := os.Stat(out)
		if status == exitStopped {
			stopped++
		}
		if (status == exitStopped) == (err == nil) {
			t.Errorf("%v at %.1f of the run: exit %d, result file: %v", sig, share, status, err)
		}
	}
	if stopped == 0 {
		t.Error("no interrupt came in time")
	}
	waiting := program(dir, nil, "check", "-")
	input, err := waiting.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	defer input.Close()
	if status := interrupt(t, waiting, syscall.SIGINT, 200*time.Millisecond); status != exitStopped {
		t.Errorf("waiting for input: exit %d", status)
	}
	wantNoLitter(t, dir)
}

// interrupt starts the program, sends it the signal after some time and returns its status.
func interrupt(t *testing.T, cmd *exec.Cmd, sig syscall.Signal, wait time.Duration) (status int) {
	t.Helper()
	var errText bytes.Buffer
	cmd.Stderr = &errText
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(wait)
	_ = cmd.Process.Signal(sig) // it may have ended by itself
	sent := time.Now()
	_ = cmd.Wait()
	// Far above what a stage of the fit takes, for machines busy with other tests.
	if took := time.Since(sent); took > 30*time.Second {
		t.Errorf("stopped %v after %v", took, sig)
	}
	status = cmd.ProcessState.ExitCode()
	lines := strings.Split(strings.TrimSpace(errText.String()), "\n")
	if status == exitStopped && !strings.HasPrefix(lines[len(lines)-1], "strokewise: stopped before the end") {
		t.Errorf("last line %q", lines[len(lines)-1])
	}
	return status
}
