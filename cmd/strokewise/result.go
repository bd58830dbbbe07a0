package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"sync"
	"time"

	"eha/strokewise/ident/quantity"
	"eha/strokewise/tuning/job"
)

func isFile(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// deliver writes a result to the output file if one is named, else to standard output.
func (c *common) deliver(s streams, write func(w io.Writer) error) error {
	var buffer bytes.Buffer
	if err := write(&buffer); err != nil {
		return err
	}
	if c.output == "" {
		return printAll(s.out, buffer.Bytes())
	}
	if err := job.Save(c.output, buffer.Bytes()); err != nil {
		return &job.FileError{Path: c.output, Err: err}
	}
	fmt.Fprintf(s.err, "wrote %s\n", c.output)
	return nil
}

// printAll writes to standard output, which may be a full disk.
func printAll(out io.Writer, data []byte) error {
	_, err := out.Write(data)
	if err == nil {
		return nil
	}
	return &job.FileError{Path: "standard output", Err: fmt.Errorf("standard output: cannot be written: %w", job.Cause(err))}
}

// open reads the files with progress on standard error when it is slow.
func (c *common) open(ctx context.Context, logs []string, s streams) (*job.Job, error) {
	src, err := c.source(logs, s)
	if err != nil {
		return nil, err
	}
	return job.Open(ctx, src, slowProgress(s.err))
}

// begin returns the units of display and the files that a command works on.
func (c *common) begin(ctx context.Context, logs []string, s streams) (quantity.System, *job.Job, error) {
	system, err := c.system()
	if err != nil {
		return system, nil, err
	}
	j, err := c.open(ctx, logs, s)
	if err == nil {
		err = c.mistyped(j)
	}
	return system, j, err
}

// slowProgress reports on w what is being done once a second, and nothing of
// work that takes less.
func slowProgress(w io.Writer) job.Progress {
	var mu sync.Mutex
	next := time.Now().Add(time.Second)
	return func(what string, done float64) {
		mu.Lock()
		defer mu.Unlock()
		if now := time.Now(); now.After(next) {
			next = now.Add(time.Second)
			fmt.Fprintf(w, "%s: %.0f %%\n", what, 100*done)
		}
	}
}
