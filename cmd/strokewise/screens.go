package main

import (
	"context"
	"io"

	"eha/strokewise/tuning"
	"eha/strokewise/tuning/job"
	"eha/strokewise/tuning/record"
)

// runScreens opens the terminal program; without a terminal it prints the text
// report of tune, without logs that of the demo machine.
func runScreens(ctx context.Context, c *common, logs []string, s streams) error {
	if len(logs) > 0 {
		return runTune(ctx, c, tuning.DefaultOptions(), logs, s)
	}
	system, err := c.system()
	if err != nil {
		return err
	}
	j, err := job.OpenDemo(ctx, slowProgress(s.err))
	if err != nil {
		return err
	}
	p, err := fitted(ctx, j, s)
	if err != nil {
		return err
	}
	t, err := j.Propose(ctx, p, tuning.DefaultOptions())
	if err != nil {
		return err
	}
	return c.deliver(s, func(w io.Writer) error { return record.WriteTune(w, t, p, system) })
}
