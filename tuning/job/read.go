package job

import (
	"bufio"
	"context"
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
	return reading, nil
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// file reads one file, or standard input.
func (r reader) file(ctx context.Context, path string, share func(float64)) (*trace.Reading, error) {
	opt := r.known
	name, in := "standard input", r.stdin
	if path != "-" || in == nil {
		f, err := os.Open(path)
		if err != nil {
			return nil, &FileError{path, openFault(path, err)}
		}
		defer f.Close()
		info, err := f.Stat()
		if err == nil && info.IsDir() {
			return nil, &FileError{path, openFault(path, os.ErrInvalid)}
		}
		if err == nil && info.Mode().IsRegular() {
			opt.Size = info.Size()
		}
		name, in = filepath.Base(path), io.Reader(f)
	} else {
		in = bufio.NewReaderSize(in, 1<<20)
	}
	opt.Progress = func(bytes int64) {
		if opt.Size > 0 {
			share(float64(bytes) / float64(opt.Size))
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
