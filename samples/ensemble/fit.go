package main

import (
	"context"
	"math"
	"time"

	"eha/strokewise/ident"
	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/twin"
)

// traceOf turns a log into a trace as if it had been written and read.
func traceOf(l *twin.Log) (*trace.Trace, error) {
	l.Rounded()
	samples := map[trace.Channel][]float64{}
	for _, c := range l.Columns {
		if channel, ok := trace.ParseChannel(c.Channel); ok && channel != trace.Time {
			samples[channel] = c.SI
		}
	}
	return trace.New(l.Name, l.Period, 0, samples, nil)
}

// fitMachine simulates the machine's logs and fits them. Of the logs it takes the
// survey, and with every also the closed-loop ones; clear leaves out whatever the rod presses on.
func fitMachine(m *twin.Machine, which string, clear bool) result {
	r := result{machine: m, stroke: math.NaN()}
	logged := m
	if clear {
		logged = twin.Clear(m)
	}
	var logs []*twin.Log
	switch which {
	case "survey":
		logs = []*twin.Log{twin.Survey(logged)}
	case "asfound":
		logs = []*twin.Log{twin.AsFound(logged, logged.Loops)}
	default:
		logs = twin.Logs(logged)
	}
	var traces []*trace.Trace
	for _, l := range logs {
		t, err := traceOf(l)
		if err != nil {
			r.err = err
			return r
		}
		traces = append(traces, t)
	}
	known, err := machine.Parse([]byte(twin.MachineFile(m)), "machine.toml")
	if err != nil {
		r.err = err
		return r
	}
	began := time.Now()
	r.plant, r.err = ident.Fit(context.Background(), traces, known, ident.Options{})
	r.took = time.Since(began)
	if r.plant != nil {
		r.outcomes = score(logged, r.plant, which != "survey")
		r.stroke = strokeError(logged, r.plant)
	}
	return r
}
