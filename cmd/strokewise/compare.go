package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/compare"
	"eha/strokewise/tuning/job"
	"eha/strokewise/tuning/record"
)

// sides hold the logs of a comparison as typed.
type sides struct{ before, after []string }

func newCompare(s streams) *cobra.Command {
	c, both := &common{}, &sides{}
	cmd := &cobra.Command{
		Use:   "compare --before LOG --after LOG",
		Short: "What changed between two sets of logs: how the same moves went, and the machine itself",
		Args: func(cmd *cobra.Command, args []string) error {
			switch {
			case len(args) > 0:
				return usageError{fmt.Errorf("%s: %q: every log stands behind --before or --after", cmd.CommandPath(), args[0])}
			case len(both.before) == 0 || len(both.after) == 0:
				return usageError{errors.New(cmd.CommandPath() + ": needs --before LOG and --after LOG, each once or more")}
			case slices.Contains(both.before, "-") && slices.Contains(both.after, "-"):
				return usageError{errors.New(cmd.CommandPath() + ": standard input can be only one of the sides")}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runCompare(cmd.Context(), c, both, s)
		},
	}
	c.addResultFlags(cmd)
	cmd.Flags().StringArrayVar(&both.before, "before", nil, "`log` or plant file of the machine before; repeatable")
	cmd.Flags().StringArrayVar(&both.after, "after", nil, "`log` or plant file of the machine after; repeatable")
	return cmd
}

func runCompare(ctx context.Context, c *common, both *sides, s streams) error {
	system, err := c.system()
	if err != nil {
		return err
	}
	before, stopped, err := c.sideOf(ctx, "before", both.before, s)
	if err != nil {
		return err
	}
	after, alsoStopped, err := c.sideOf(ctx, "after", both.after, s)
	if err != nil {
		return err
	}
	result := &record.Comparison{Before: before.Plant, After: after.Plant, Report: &compare.Report{}}
	switch {
	case stopped != nil && alsoStopped != nil:
		stopped = fmt.Errorf("%w; %w", stopped, alsoStopped)
	case alsoStopped != nil:
		stopped = alsoStopped
	}
	if stopped == nil {
		result.Report = compare.Compare(before, after)
	} else {
		result.Report.Notes = []string{stopped.Error()}
	}
	err = c.deliver(s, func(w io.Writer) error {
		if c.json {
			return writeJSON(w, func() ([]byte, error) { return record.EncodeComparison(result) })
		}
		return record.WriteComparison(w, result, system)
	})
	if err != nil {
		return err
	}
	if stopped != nil {
		return unsupportedError{stopped}
	}
	if !result.Report.Found() {
		return unsupportedError{errors.New("the two sets have neither a move nor a parameter in common; log the same position_steps, slow_strokes and speed_steps in both")}
	}
	return nil
}

// sideOf reads and fits one side. stopped is not nil where the check stops its logs;
// the plant then says what is missing.
func (c *common) sideOf(ctx context.Context, side string, logs []string, s streams) (set compare.Set, stopped, err error) {
	j, err := c.open(ctx, logs, s)
	if err != nil {
		return set, nil, err
	}
	p, err := fitted(ctx, j, s)
	var stop *job.StopError
	switch {
	case errors.As(err, &stop):
		stopped = fmt.Errorf("%s: %w", side, err)
	case err != nil && p == nil:
		return set, nil, err
	case p == nil:
		p = &plant.Plant{Machine: j.Machine, Demo: j.Demo}
	}
	return compare.Set{Traces: j.Traces(), Plant: p}, stopped, nil
}
