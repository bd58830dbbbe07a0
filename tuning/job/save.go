package job

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// Save writes data to path so that whoever looks finds the old file whole or
// the new one whole, never a mixture: into a new file beside it, flushed to the
// disk, renamed over it. A link is followed, an existing file's permissions are
// kept. What earlier saves of that file left when they were killed is removed.
// It returns an error that names the path.
func Save(path string, data []byte) (err error) {
	if target, e := filepath.EvalSymlinks(path); e == nil {
		path = target
	}
	mode := fs.FileMode(0o644)
	if info, e := os.Stat(path); e == nil {
		if !info.Mode().IsRegular() {
			return fmt.Errorf("%s: is not a plain file; name another", path)
		}
		mode = info.Mode().Perm()
	}
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*.part")
	if err != nil {
		return saveFault(path, err)
	}
	defer func() {
		if err != nil {
			err = saveFault(path, err)
			_ = os.Remove(f.Name())
		}
	}()
	if _, err = f.Write(data); err != nil {
		_ = f.Close()
		return err
	}
	if err = errors.Join(f.Chmod(mode), f.Sync(), f.Close()); err != nil {
		return err
	}
	written, err := os.Stat(f.Name())
	if err != nil {
		return err
	}
	if err = os.Rename(f.Name(), path); err != nil {
		return err
	}
	removeStale(path, written.ModTime())
	syncFolder(filepath.Dir(path))
	return nil
}

// staleAfter is how long nobody has written to an unfinished file that a killed
// save left: one still at work, which would end with an error, writes far sooner.
const staleAfter = 10 * time.Minute

// removeStale removes what killed saves of the path left beside it. Now is by the
// clock that dates the folder's files, which on a share is not this machine's.
func removeStale(path string, now time.Time) {
	dir, base := filepath.Split(path)
	entries, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		return // the save itself is done
	}
	for _, e := range entries {
		number, ours := strings.CutPrefix(e.Name(), "."+base+".")
		number, unfinished := strings.CutSuffix(number, ".part")
		if !ours || !unfinished || strings.Trim(number, "0123456789") != "" {
			continue
		}
		if info, err := e.Info(); err == nil && now.Sub(info.ModTime()) > staleAfter {
			_ = os.Remove(dir + e.Name())
		}
	}
}

// syncFolder makes the rename itself last through a power cut, where the system can.
func syncFolder(dir string) {
	d, err := os.Open(dir)
	if err != nil {
		return
	}
	// Some file systems cannot sync a folder; the file itself is safe by then.
	_ = d.Sync()
	_ = d.Close()
}

func saveFault(path string, err error) error {
	return fmt.Errorf("%s: cannot be written: %w; the old file, if there was one, is untouched", path, Cause(err))
}

// Cause returns what the system said without the path and the call, which the
// message around it names better.
func Cause(err error) error {
	var path *fs.PathError
	var link *os.LinkError
	switch {
	case errors.As(err, &path):
		return path.Err
	case errors.As(err, &link):
		return link.Err
	}
	return err
}
