package main

import (
	"context"
	"fmt"
	"math"

	"eha/strokewise/ident"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quality"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/twin"
)

// verdict is one parameter of one set of logs: what was promised and what came.
type verdict struct {
	machine, set string
	param        plant.Param
	promise      quality.Identifiable
	stopped      bool // the check forbids a proposal
	found        plant.Estimate
	truth        float64 // SI, NaN where the simulator has none
	off          float64 // error over the half-width
}

// String gives the verdict as one line of fields.
func (v verdict) String() string {
	half, miss := math.NaN(), math.NaN()
	if v.found.Known() && v.found.Value != 0 {
		half = 100 * v.found.HalfWidth() / math.Abs(v.found.Value)
		miss = 100 * (v.found.Value/v.truth - 1)
	}
	return fmt.Sprintf("%s | %s | %v | expect %v %s | %v | half %.3g %% error %.3g %% | %s | %s", v.machine, v.set, v.param, v.promise.Expect, v.promise.Move, v.found.Status, half, miss, v.promise.Why, v.found.From)
}

// judgeMachine compares promise and outcome for all sets of logs of one machine.
func judgeMachine(m *twin.Machine) []verdict {
	var all []verdict
	truth := twin.TruthOf(m)
	for _, s := range sets(m) {
		all = append(all, judge(m.Name, s, truth)...)
	}
	return all
}

func check(s logSet) quality.Report {
	readings := make([]*trace.Reading, len(s.traces))
	for i, t := range s.traces {
		readings[i] = &trace.Reading{Trace: t}
	}
	return quality.Check(readings, s.file)
}

func judge(name string, s logSet, truth twin.Truth) []verdict {
	report := check(s)
	fitted, _ := ident.Fit(context.Background(), s.traces, s.file, ident.Options{}) // its error says that little was found
	var all []verdict
	for _, p := range plant.Params() {
		v := verdict{machine: name, set: s.name, param: p, promise: report.Identifiable[p], stopped: report.Stopped(), found: fitted.Est(p), truth: math.NaN()}
		if w, ok := truth.Params[p.String()]; ok {
			v.truth = w.Value / p.Info().Factor
			nearest := math.Max(w.Range[0], math.Min(w.Range[1], v.found.Value*p.Info().Factor)) / p.Info().Factor
			v.off = math.Abs(v.found.Value-nearest) / v.found.HalfWidth()
		}
		all = append(all, v)
	}
	return all
}
