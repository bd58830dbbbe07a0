package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"eha/strokewise/ident"
	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/job"
	"eha/strokewise/tuning/record"
)

func newFit(s streams) *cobra.Command {
	c := &common{}
	cmd := &cobra.Command{
		Use:   "fit LOG ...",
		Short: "Plant parameters with 95 % intervals, and how far to trust them",
		Args:  needLogs,
		RunE: func(cmd *cobra.Command, args []string) error {
			return runFit(cmd.Context(), c, args, s)
		},
	}
	c.addResultFlags(cmd)
	return cmd
}

func runFit(ctx context.Context, c *common, logs []string, s streams) error {
	system, j, err := c.begin(ctx, logs, s)
	if err != nil {
		return err
	}
	p, fitErr := fitted(ctx, j, s)
	if p == nil {
		return fitErr
	}
	err = c.deliver(s, func(w io.Writer) error {
		if c.json {
			return writeJSON(w, func() ([]byte, error) { return record.EncodePlant(p) })
		}
		return record.WriteFit(w, p, system)
	})
	if err != nil {
		return err
	}
	var stop *job.StopError
	if errors.As(fitErr, &stop) {
		return unsupportedError{inShort(stop)}
	}
	return fitErr
}

// inShort names the findings that stop a fit whose result, already printed, holds
// them in full, and what to do where a line has room for it.
func inShort(stop *job.StopError) error {
	var names []string
	how := "nothing is fitted before that is put right; the result says how"
	for _, f := range stop.Findings {
		if len(stop.Findings) == 1 && len(f.Do) < 120 {
			how = f.Do
		}
		if name := strings.ReplaceAll(f.ID, "_", " "); !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return fmt.Errorf("stopped by the check (%s): %s", strings.Join(names, ", "), how)
}

// fitted fits the job's logs. The plant may come together with an error that
// says that the logs hold too little.
func fitted(ctx context.Context, j *job.Job, s streams) (*plant.Plant, error) {
	p, err := j.Fit(ctx, slowProgress(s.err))
	var data *ident.DataError
	if errors.As(err, &data) {
		return p, unsupportedError{err}
	}
	return p, err
}

func writeJSON(w io.Writer, encode func() ([]byte, error)) error {
	data, err := encode()
	if err != nil {
		return err
	}
	_, err = w.Write(data)
	return err
}
