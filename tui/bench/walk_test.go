package bench

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// most key presses from a folder of logs to a saved proposal and record.
const mostKeys = 30

// walk drives the built program in a terminal multiplexer of its own.
type walk struct {
	t      *testing.T
	socket string
	keys   int
	shots  int
}

func (w *walk) tmux(args ...string) string {
	w.t.Helper()
	out, err := exec.Command("tmux", append([]string{"-L", w.socket}, args...)...).CombinedOutput()
	if err != nil {
		w.t.Fatalf("tmux %v: %v\n%s", args, err, out)
	}
	return string(out)
}

func (w *walk) screen() string { return w.tmux("capture-pane", "-p", "-t", "walk") }

// press sends keys one at a time and then waits for text to appear.
func (w *walk) press(want string, keys ...string) {
	w.t.Helper()
	for _, k := range keys {
		w.tmux("send-keys", "-t", "walk", k)
		w.keys++
	}
	w.await(want)
}

// await waits for text and keeps the screen it appeared on: in the folder that
// STROKEWISE_SCREENS names (then at two sizes), or in the verbose log.
func (w *walk) await(want string) {
	w.t.Helper()
	for end := time.Now().Add(2 * time.Minute); ; time.Sleep(50 * time.Millisecond) {
		screen := w.screen()
		if strings.Contains(screen, want) {
			w.shots++
			if dir := os.Getenv("STROKEWISE_SCREENS"); dir != "" {
				name := fmt.Sprintf("%s-%02d.txt", strings.ReplaceAll(w.t.Name(), "/", "-"), w.shots)
				if err := os.WriteFile(filepath.Join(dir, name), []byte(screen), 0o644); err != nil {
					w.t.Fatal(err)
				}
			} else {
				w.t.Logf("after %d keys:\n%s", w.keys, screen)
			}
			return
		}
		if time.Now().After(end) {
			w.t.Fatalf("no %q after %d keys; the screen is\n%s", want, w.keys, screen)
		}
	}
}

// TestFromFolderToRecord goes the whole way as a newcomer would: start in a
// folder of logs, take what is offered, look at every screen, save proposal and
// record, leave; without a dead end and with few keys.
func TestFromFolderToRecord(t *testing.T) {
	if testing.Short() {
		t.Skip("drives the built program for a while")
	}
	if _, err := exec.LookPath("tmux"); err != nil {
		t.Skip("no tmux here")
	}
	program := filepath.Join(t.TempDir(), "strokewise")
	if out, err := exec.Command("go", "build", "-o", program, "eha/strokewise/cmd/strokewise").CombinedOutput(); err != nil {
		t.Fatalf("build: %v\n%s", err, out)
	}
	sizes := []struct{ w, h string }{{"80", "24"}}
	if os.Getenv("STROKEWISE_SCREENS") != "" {
		sizes = append(sizes, struct{ w, h string }{"200", "60"})
	}
	for _, size := range sizes {
		t.Run(size.w+"x"+size.h, func(t *testing.T) {
			dir := logsFolder(t, program)
			w := &walk{t: t, socket: fmt.Sprintf("strokewise-%d-%s", os.Getpid(), size.w)}
			t.Cleanup(func() { _ = exec.Command("tmux", "-L", w.socket, "kill-server").Run() })
			w.tmux("new-session", "-d", "-s", "walk", "-x", size.w, "-y", size.h, "-c", dir, program)
			w.await("This folder holds logs")
			w.press("Log 1 of", "Enter")
			w.await("2 shows the plant")
			w.press("identified", "2")
			w.press(">PUMP<", "Right")
			w.press("TYPE THESE", "3")
			w.press("Keep what is in the drive", "Tab", "Tab", "Tab")
			w.press("proposed (band)", "4")
			w.press("Save what", "s")
			w.press("Saved the proposal", "Enter")
			w.press("Save what", "s")
			w.press("> record", "Down", "Down")
			w.press("Saved the record", "Enter")
			w.tmux("send-keys", "-t", "walk", "q")
			w.keys++
			for _, name := range []string{"loops.json", "record.html"} {
				if info, err := os.Stat(filepath.Join(dir, name)); err != nil || info.Size() < 1000 {
					t.Errorf("%s is not there or nearly empty (%v)", name, err)
				}
			}
			if w.keys > mostKeys {
				t.Errorf("%d keys, want at most %d", w.keys, mostKeys)
			}
			t.Logf("%d keys", w.keys)
		})
	}
}

// logsFolder returns a folder of its own with logs and a machine file: those of
// a simulated machine beside the project where they are, else the demo's.
func logsFolder(t *testing.T, program string) string {
	dir := t.TempDir()
	rig := filepath.Join("..", "..", "..", "shared", "rigs", "press-vertical")
	names, err := filepath.Glob(filepath.Join(rig, "*.[ct][so][vm]*"))
	if err != nil {
		t.Fatal(err)
	}
	if len(names) == 0 {
		t.Log("the shared rigs are not here; taking the demo machine's logs")
		if out, err := exec.Command(program, "demo", dir).CombinedOutput(); err != nil {
			t.Fatalf("demo: %v\n%s", err, out)
		}
		return dir
	}
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, filepath.Base(name)), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}
