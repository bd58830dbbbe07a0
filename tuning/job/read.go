package job

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"eha/strokewise/ident/trace"
)

// reader reads logs with what is known of them beforehand.
type reader struct {
	known trace.ReadOptions
	stdin io.Reader // what "-" names
}

// log reads one log as named on the command line: a path, "-" for standard
// input, or two paths joined with "+", unless a file of that very name exists.
func (r reader) log(ctx context.Context, path string, share func(float64)) (*trace.Reading, error) {
	first, second, joined := strings.Cut(path, "+")
	if !joined || exists(path) {
		return r.file(ctx, path, share)
	}
	a, err := r.file(ctx, first, func(d float64) { share(d / 2) })
	if err != nil {
		return nil, err
	}
	b, err := r.file(ctx, second, func(d float64) { share(0.5 + d/2) })
	if err != nil {
		return nil, err
	}
	reading, err := trace.JoinReadings(a, b)
	if err != nil {
		return nil, &FileError{path, err}
	}
	reading.FindZero(r.known)
	return reading, nil
}

// expand replaces patterns that a shell has left alone by the files that they match, in
// the order of their names.
func expand(paths []string) []string {
	var all []string
	for _, path := range paths {
		matches, err := filepath.Glob(path)
		if err != nil || len(matches) == 0 || exists(path) {
			matches = []string{path}
		}
		all = append(all, matches...)
	}
	return all
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// file reads one file, or standard input.
func (r reader) file(ctx context.Context, path string, share func(float64)) (*trace.Reading, error) {
	if path == "-" && r.stdin != nil {
		in, stop := interruptible(ctx, r.stdin)
		defer stop()
		return r.read(ctx, path, "standard input", in, 0, share)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, &FileError{path, openFault(path, err)}
	}
	defer f.Close()
	before, err := f.Stat()
	if err != nil || before.IsDir() {
		return nil, &FileError{path, openFault(path, errors.Join(err, os.ErrInvalid))}
	}
	name := filepath.Base(path)
	if !before.Mode().IsRegular() || before.Size() == 0 {
		return r.read(ctx, path, name, f, 0, share)
	}
	// A recorder that still writes must not keep the reader busy for ever.
	reading, err := r.read(ctx, path, name, io.LimitReader(f, before.Size()), before.Size(), share)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if fault := changed(name, f, before); fault != nil {
		return nil, &FileError{path, fault}
	}
	return reading, err
}

// Look reads one of the source's logs, a file of its own, as a table, whether it can
// be read as a log or not, and returns what is stated of its columns by the machine
// file and the source. Faults are *FileError.
func Look(ctx context.Context, source Source, path string, progress Progress) (*trace.Sheet, map[trace.Channel]trace.Column, error) {
	m, err := readMachine(source.Machine)
	if err != nil {
		return nil, nil, err
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, nil, &FileError{path, openFault(path, err)}
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil || !info.Mode().IsRegular() {
		return nil, nil, &FileError{path, openFault(path, errors.Join(err, os.ErrInvalid))}
	}
	opt := options(m, source)
	opt.Size = info.Size()
	opt.Progress = func(bytes int64) {
		progress("looking at "+filepath.Base(path), float64(bytes)/float64(max(info.Size(), 1)))
	}
	sheet, err := trace.Look(ctx, io.LimitReader(f, info.Size()), filepath.Base(path), opt)
	if err != nil && ctx.Err() == nil {
		err = &FileError{path, err}
	}
	return sheet, opt.Columns, err
}

// interruptible reads from in until ctx ends, even where in is a terminal or a
// pipe that stays silent.
func interruptible(ctx context.Context, in io.Reader) (r io.Reader, stop func()) {
	reader, writer := io.Pipe()
	release := context.AfterFunc(ctx, func() { writer.CloseWithError(ctx.Err()) })
	go func() {
		_, err := io.CopyBuffer(writer, struct{ io.Reader }{in}, make([]byte, 1<<20))
		writer.CloseWithError(err)
	}()
	return reader, func() {
		release()
		_ = reader.Close()
	}
}

// changed returns an error if the open file is not as it was before reading: part
// of what was read may then be old and part new, or the last row cut.
func changed(name string, f *os.File, before os.FileInfo) error {
	after, err := f.Stat()
	if err != nil || after.Size() == before.Size() && after.ModTime().Equal(before.ModTime()) {
		return nil
	}
	return fmt.Errorf("%s: changed while it was read, from %d to %d bytes; wait until the recorder has closed it, then try again",
		trace.Printable(name), before.Size(), after.Size())
}

// read reads what in holds; size (bytes) is 0 where not known.
func (r reader) read(ctx context.Context, path, name string, in io.Reader, size int64, share func(float64)) (*trace.Reading, error) {
	opt := r.known
	opt.Size = size
	opt.Progress = func(bytes int64) {
		if size > 0 {
			share(float64(bytes) / float64(size))
		}
	}
	reading, err := trace.Read(ctx, in, name, opt)
	if err != nil {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return nil, &FileError{path, err}
	}
	return reading, nil
}
