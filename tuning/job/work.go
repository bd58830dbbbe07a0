package job

import (
	"context"
	"strings"

	"eha/strokewise/ident"
	"eha/strokewise/ident/drive"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quality"
	"eha/strokewise/tuning"
)

// StopError says that the logs' wiring or columns must be put right before
// anything may be fitted or proposed.
type StopError struct{ Findings []quality.Finding }

// Error names every stopping finding in one line.
func (e *StopError) Error() string {
	var texts []string
	for _, f := range e.Findings {
		texts = append(texts, f.Text+" "+f.Do)
	}
	return "stopped by the check: " + strings.Join(texts, " ")
}

// Check judges the logs.
func (j *Job) Check() quality.Report {
	return quality.Check(j.Readings, &j.Machine)
}

// Fit returns the plant of the logs, or the one read from a plant file. The
// logs are checked first: a stopping finding gives a *StopError. Where nothing
// of use can be found, ident's error comes together with the plant that says what is missing.
func (j *Job) Fit(ctx context.Context, progress Progress) (*plant.Plant, error) {
	if j.Plant != nil {
		return j.Plant, nil
	}
	report := j.Check()
	if stops := stops(report); len(stops) > 0 {
		err := &StopError{stops}
		return j.unfitted(err), err
	}
	opt := ident.Options{Progress: progress, AsFound: j.lawInUse()}
	p, err := ident.Fit(ctx, j.Traces(), &j.Machine, opt)
	if p != nil {
		p.Demo, p.Logs = j.Demo, j.logs()
		explain(p, report)
	}
	return p, err
}

// explain says of what came out missing, assumed or weak what these logs lack for it and
// which move would supply that, as the check saw it.
func explain(p *plant.Plant, report quality.Report) {
	for param, e := range p.Params {
		i, judged := report.Identifiable[param]
		if !judged || i.Expect == plant.Identified || e.Status == plant.Identified || e.Status == plant.Given {
			continue
		}
		why := i.Why
		if i.Move != "" {
			why = "log " + i.Move + ": " + why
		}
		switch e.Status {
		case plant.Missing:
			e.From = why
		case plant.Assumed:
			what, _, _ := strings.Cut(e.From, ";") // which value was assumed
			e.From = what + "; " + why
		default:
			e.From += "; weak: " + why
		}
		p.Params[param] = e
	}
}

// logs lists the readings as a plant keeps them.
func (j *Job) logs() []plant.Log {
	var logs []plant.Log
	for _, r := range j.Readings {
		logs = append(logs, plant.Log{File: r.Trace.Name(), SHA256: r.SHA256, Rows: r.Rows, Duration: r.Trace.Duration(), Period: r.Trace.Period()})
	}
	return logs
}

// unfitted is the plant of logs that may not be fitted: everything is missing,
// and the findings say what to clear.
func (j *Job) unfitted(stop *StopError) *plant.Plant {
	p := &plant.Plant{Machine: j.Machine, Logs: j.logs(), Params: map[plant.Param]plant.Estimate{}, Demo: j.Demo}
	for _, param := range plant.Params() {
		p.Params[param] = plant.MissingFrom("clear what the check stops at, then fit again")
	}
	for _, f := range stop.Findings {
		p.Warnings = append(p.Warnings, f.Text+" "+f.Do)
	}
	return p
}

func stops(report quality.Report) []quality.Finding {
	var list []quality.Finding
	for _, f := range report.Findings {
		if f.Severity == quality.Stop {
			list = append(list, f)
		}
	}
	return list
}

// lawInUse returns what the fit needs of the settings in use, nil where none are given.
func (j *Job) lawInUse() *drive.Law {
	if j.AsFound == nil || j.AsFound.Position == nil {
		return nil
	}
	s := j.AsFound.Position
	l := &drive.Law{Lowpass: s.Lowpass, PressureDamping: s.PressureDamping, Highpass: s.Highpass}
	if s.Table == nil && s.Ki == (plant.PerDirection[float64]{}) {
		l.Gain = plant.PerDirection[float64]{Extend: s.Kp.Extend * s.Turns.Extend, Retract: s.Kp.Retract * s.Turns.Retract}
	}
	if bore, rod := j.Machine.Cylinder.Bore, j.Machine.Cylinder.Rod; bore > 0 {
		l.AreaRatio = 1 - rod*rod/(bore*bore)
	}
	return l
}

// Propose returns loop settings for the plant under the options.
func (j *Job) Propose(ctx context.Context, p *plant.Plant, opt tuning.Options) (*tuning.Proposal, error) {
	if opt.AsFound == nil {
		opt.AsFound = j.AsFound
	}
	return tuning.Propose(ctx, p, opt)
}
