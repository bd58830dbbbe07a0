package job

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"
)

// A save removes what killed saves of the same file left long ago, and nothing
// else: not what another save may still be writing, nor what is another file's.
func TestSaveRemovesStaleLeftovers(t *testing.T) {
	long, short := time.Now().Add(-time.Hour), time.Now().Add(-time.Minute)
	for _, base := range []string{"out.json", "a[1].json", "out"} {
		t.Run(base, func(t *testing.T) {
			dir := t.TempDir()
			leave := func(name string, at time.Time) string {
				path := filepath.Join(dir, name)
				if err := os.WriteFile(path, []byte("half"), 0o600); err != nil {
					t.Fatal(err)
				}
				if err := os.Chtimes(path, at, at); err != nil {
					t.Fatal(err)
				}
				return name
			}
			leave("."+base+".12345.part", long)
			leave("."+base+".678.part", long)
			want := []string{
				leave("."+base+".9.part", short),
				leave("."+base+".mine.part", long),
				leave("."+base+".12345.parts", long),
				leave("."+base+".toml.12345.part", long),
				leave("x."+base+".12345.part", long),
				base,
			}
			if err := Save(filepath.Join(dir, base), []byte("new")); err != nil {
				t.Fatal(err)
			}
			var got []string
			entries, err := os.ReadDir(dir)
			if err != nil {
				t.Fatal(err)
			}
			for _, e := range entries {
				got = append(got, e.Name())
			}
			slices.Sort(want)
			if fmt.Sprint(got) != fmt.Sprint(want) {
				t.Errorf("left %q, want %q", got, want)
			}
		})
	}
}
