package job

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Save writes data to path so that whoever looks finds the old file whole or
// the new one whole, never a mixture: into a new file beside it, flushed to the
// disk, renamed over it. A link is followed, an existing file's permissions are
// kept. It returns an error that names the path.
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
	if err = os.Rename(f.Name(), path); err != nil {
		return err
	}
	syncFolder(filepath.Dir(path))
	return nil
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
