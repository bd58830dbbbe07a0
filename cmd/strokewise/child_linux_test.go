package main

import (
	"bytes"
	"errors"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"slices"
	"strconv"
	"syscall"
	"testing"

	"eha/strokewise/samples"
	"eha/strokewise/tuning/job"
)

// The test binary is the program itself where it finds asProgram set, so that
// faults can be brought about that only a process of its own can suffer.
const (
	asProgram = "STROKEWISE_TEST_RUN"     // "program", or "save" to save over and over
	asUser    = "STROKEWISE_TEST_USER"    // user to become first, so that permissions count for root too
	fileLimit = "STROKEWISE_TEST_MAXFILE" // bytes that no file may exceed, as a full disk would
)

func TestMain(m *testing.M) {
	switch os.Getenv(asProgram) {
	case "":
		os.Exit(m.Run())
	case "save":
		saveForEver(os.Args[1])
	}
	if limit, err := strconv.ParseUint(os.Getenv(fileLimit), 10, 64); err == nil {
		signal.Ignore(syscall.SIGXFSZ) // a write over the limit then fails, as it does on a full disk
		must(syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: limit, Max: limit}))
	}
	if user, err := strconv.Atoi(os.Getenv(asUser)); err == nil {
		must(syscall.Setuid(user))
	}
	main()
}

func must(err error) {
	if err != nil {
		panic(err)
	}
}

// saveForEver saves pages until it is killed, and says when it starts.
func saveForEver(path string) {
	for n := 0; ; n++ {
		must(job.Save(path, page(n)))
		if n == 0 {
			must(os.WriteFile(path+".started", nil, 0o600))
		}
	}
}

// page is the n-th document saved: a number repeated, so that a mixture of two shows.
func page(n int) []byte { return bytes.Repeat([]byte{'a' + byte(n%26)}, 1<<18+n%7) }

// program prepares the program as a process of its own in a folder.
func program(dir string, env []string, args ...string) *exec.Cmd {
	cmd := exec.Command(os.Args[0], args...)
	cmd.Dir = dir
	cmd.Env = append(append(os.Environ(), asProgram+"=program"), env...)
	return cmd
}

// runIn runs it to its end.
func runIn(t *testing.T, dir string, env []string, args ...string) (status int, stdout, stderr string) {
	t.Helper()
	cmd := program(dir, env, args...)
	var out, err bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &err
	var exit *exec.ExitError
	if fault := cmd.Run(); fault != nil && !errors.As(fault, &exit) {
		t.Fatal(fault)
	}
	return cmd.ProcessState.ExitCode(), out.String(), err.String()
}

// demoIn writes the demo machine's files into a new folder: "machine.toml",
// "plant.json" and the logs.
func demoIn(t *testing.T, names ...string) (dir string) {
	t.Helper()
	dir = t.TempDir()
	for _, name := range names {
		var data []byte
		var err error
		switch name {
		case "machine.toml":
			data = samples.MachineFile()
		case "plant.json":
			data = samples.Plant()
		default:
			i := slices.IndexFunc(samples.Logs(), func(l samples.Log) bool { return l.Name == name })
			data, err = io.ReadAll(samples.Logs()[i].Open())
		}
		if err = errors.Join(err, os.WriteFile(filepath.Join(dir, name), data, 0o644)); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}
