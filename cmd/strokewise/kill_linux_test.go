package main

import (
	"bytes"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"eha/strokewise/tuning/job"
)

// Killed at any moment of saving, the program leaves a whole file: the one before
// or the one after. What an unfinished save leaves beside it is hidden, at most
// one file a kill, never one that opening a folder would offer, and gone after a
// later save.
func TestKilledWhileSaving(t *testing.T) {
	times := 200
	if testing.Short() {
		times = 20
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "out.json")
	rng := rand.New(rand.NewPCG(200, 9))
	seen := map[byte]int{}
	for kill := range times {
		cmd := exec.Command(os.Args[0], path)
		cmd.Env = append(os.Environ(), asProgram+"=save")
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		for start := time.Now(); ; time.Sleep(200 * time.Microsecond) {
			if _, err := os.Stat(path + ".started"); err == nil {
				break
			}
			if time.Since(start) > 20*time.Second {
				t.Fatal("it does not start to save")
			}
		}
		time.Sleep(time.Duration(rng.IntN(4000)) * time.Microsecond)
		if err := cmd.Process.Signal(syscall.SIGKILL); err != nil {
			t.Fatalf("it ended by itself: %v", err)
		}
		_ = cmd.Wait()
		if err := os.Remove(path + ".started"); err != nil {
			t.Fatal(err)
		}
		data, err := os.ReadFile(path)
		if err != nil || !isPage(data) {
			t.Fatalf("kill %d: %d bytes that were never saved, %v", kill, len(data), err)
		}
		seen[data[0]]++
	}
	if len(seen) < 3 && times > 100 {
		t.Errorf("only the pages %v were seen: the kills came at one moment", seen)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if e.Name() != "out.json" && (!strings.HasPrefix(e.Name(), ".out.json.") || !strings.HasSuffix(e.Name(), ".part")) {
			t.Errorf("left behind: %s", e.Name())
		}
	}
	if left := len(entries) - 1; left > times {
		t.Errorf("%d unfinished files after %d kills", left, times)
	}
	t.Logf("%d kills, %d different pages found whole, %d unfinished files beside them", times, len(seen), len(entries)-1)
	for _, e := range entries {
		long := time.Now().Add(-time.Hour)
		if err := os.Chtimes(filepath.Join(dir, e.Name()), long, long); err != nil {
			t.Fatal(err)
		}
	}
	if err := job.Save(path, page(0)); err != nil {
		t.Fatal(err)
	}
	wantNoLitter(t, dir)
}

// isPage reports whether data is one of the documents that saveForEver writes, whole.
func isPage(data []byte) bool {
	for n := range 26 * 7 {
		if bytes.Equal(data, page(n)) {
			return true
		}
	}
	return false
}
