package main

import (
	"context"
	"errors"
	"io"

	"github.com/spf13/cobra"

	"eha/strokewise/tuning/record"
)

var errNoLogs = errors.New("check judges logs, and a plant file holds none")

func newCheck(s streams) *cobra.Command {
	c := &common{}
	cmd := &cobra.Command{
		Use:   "check LOG ...",
		Short: "Are the logs fit for use: columns, signs, gaps, noise; what they can tell; which move to log next",
		Args:  needLogs,
		RunE: func(cmd *cobra.Command, args []string) error {
			return runCheck(cmd.Context(), c, args, s)
		},
	}
	c.addResultFlags(cmd)
	return cmd
}

func runCheck(ctx context.Context, c *common, logs []string, s streams) error {
	system, j, err := c.begin(ctx, logs, s)
	if err != nil {
		return err
	}
	if j.Plant != nil {
		return usageError{errNoLogs}
	}
	report := j.Check()
	return c.deliver(s, func(w io.Writer) error {
		if c.json {
			return writeJSON(w, func() ([]byte, error) { return record.EncodeCheck(&report, j.Machine.Name, j.Demo) })
		}
		return record.WriteCheck(w, &report, j.Readings, j.Machine.Name, j.Demo, system)
	})
}
