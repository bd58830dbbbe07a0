package main

import (
	"fmt"
	"slices"
	"strings"

	"eha/strokewise/ident/trace"
	"eha/strokewise/tuning/job"
)

// shownColumns is how many column names one line lists.
const shownColumns = 16

// mistyped returns an error if no log holds a column that --channel states. Some logs of
// several may lack it, and any may lack what the machine file states for a whole recorder.
func (c *common) mistyped(j *job.Job) error {
	for _, text := range c.channels {
		channel, column, err := trace.ParseColumn(text)
		if err != nil {
			return usageError{err}
		}
		lacks := func(r *trace.Reading) bool { return slices.Contains(r.Absent, channel) }
		if len(j.Readings) > 0 && !slices.ContainsFunc(j.Readings, func(r *trace.Reading) bool { return !lacks(r) }) {
			name := j.Readings[0].Trace.Name()
			return &job.FileError{Path: name, Err: fmt.Errorf("%s: no column %q, which --channel states for %s; columns: %s", logNames(j), column.Header, channel, columnNames(j))}
		}
	}
	return nil
}

func logNames(j *job.Job) string {
	var names []string
	for _, r := range j.Readings {
		names = append(names, r.Trace.Name())
	}
	return clipped(names)
}

// columnNames lists the columns of all logs, each once.
func columnNames(j *job.Job) string {
	var names []string
	for _, r := range j.Readings {
		for _, h := range r.Layout.Headers {
			if !slices.Contains(names, h) {
				names = append(names, h)
			}
		}
	}
	return clipped(names)
}

func clipped(names []string) string {
	if more := len(names) - shownColumns; more > 0 {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:shownColumns], ", "), more)
	}
	return strings.Join(names, ", ")
}
