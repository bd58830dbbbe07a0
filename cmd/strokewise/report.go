package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"eha/strokewise/tuning"
	"eha/strokewise/tuning/compare"
	"eha/strokewise/tuning/job"
	"eha/strokewise/tuning/record"
)

func newReport(s streams, line string) *cobra.Command {
	c := &common{}
	var before []string
	cmd := &cobra.Command{
		Use:   "report LOG ... -o FILE",
		Short: "Commissioning record: one HTML page to print or mail, and the same as JSON beside it",
		Args:  needLogs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if c.output == "" {
				return usageError{errors.New("strokewise report: needs -o FILE, the page to write")}
			}
			return runReport(cmd.Context(), c, before, args, line, s)
		},
	}
	c.addFlags(cmd)
	cmd.Flags().StringVarP(&c.output, "output", "o", "", "the page is written to `file`, the JSON beside it")
	cmd.Flags().StringArrayVar(&before, "before", nil, "`log` or plant file from before, to set beside these; repeatable")
	return cmd
}

func runReport(ctx context.Context, c *common, before, logs []string, line string, s streams) error {
	system, j, err := c.begin(ctx, logs, s)
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
	work := &record.Work{Plant: p, Proposal: t, Readings: j.Readings, AsFound: j.AsFound, System: system, Version: version(), Command: line}
	if j.Plant == nil {
		report := j.Check()
		work.Check = &report
	}
	if len(before) > 0 {
		earlier, stopped, err := c.sideOf(ctx, "before", before, s)
		if err != nil {
			return err
		}
		if stopped != nil {
			return unsupportedError{stopped}
		}
		later := compare.Set{Traces: j.Traces(), Plant: p}
		work.Comparison = &record.Comparison{Before: earlier.Plant, After: p, Report: compare.Compare(earlier, later)}
	}
	return saveRecord(ctx, c.output, work, s)
}

// saveRecord writes the page and its JSON, each whole or not at all.
func saveRecord(ctx context.Context, path string, work *record.Work, s streams) error {
	var page bytes.Buffer
	if err := record.WriteRecord(ctx, &page, work); err != nil {
		return err
	}
	data, err := record.EncodeRecord(work)
	if err != nil {
		return err
	}
	beside := strings.TrimSuffix(path, filepath.Ext(path)) + ".json"
	for _, f := range []struct {
		path string
		data []byte
	}{{path, page.Bytes()}, {beside, data}} {
		if err := job.Save(f.path, f.data); err != nil {
			return &job.FileError{Path: f.path, Err: err}
		}
		fmt.Fprintf(s.err, "wrote %s\n", f.path)
	}
	return nil
}
