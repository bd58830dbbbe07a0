// Package bench connects the screens to the work itself: it fills tui.Services
// from the job, the design and the simulation, and reads folders and writes files
// for them.
package bench

import (
	"bytes"
	"context"
	_ "embed" // the machine file to fill in
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tui"
	"eha/strokewise/tuning"
	"eha/strokewise/tuning/job"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/record"
)

// Services returns what the screens need. Everything in it works on real files;
// version names the program in the records it writes.
func Services(version string) tui.Services {
	return tui.Services{
		Load: load, Look: look, Fit: fit, Propose: tuning.Propose, QuickLook: tuning.QuickLook,
		Scenarios: tuning.Scenarios, Respond: tuning.Respond, Replay: tuning.Replay, Curve: tuning.OpenLoop,
		Folder: folder, SaveProposal: saveProposal, SavePlant: savePlant, SaveColumns: saveColumns, SaveInUse: saveInUse, Compare: compareSets, SaveComparison: saveComparison,
		SaveRecord: func(ctx context.Context, path string, w *tui.Work, system quantity.System) error {
			return saveRecord(ctx, path, w, system, version)
		},
	}
}

// load opens the files of a request and judges the logs.
func load(ctx context.Context, req tui.Request, progress tui.Progress) (*tui.Logs, error) {
	var j *job.Job
	var err error
	if req.Demo {
		j, err = job.OpenDemo(ctx, progress)
	} else {
		j, err = job.Open(ctx, source(req), progress)
	}
	if err != nil {
		return nil, err
	}
	logs := &tui.Logs{Job: j, Paths: req.Paths}
	if req.Demo {
		logs.Paths = make([]string, len(j.Readings))
	}
	if j.Plant == nil {
		progress("judging the logs", -1)
		logs.Report = j.Check()
	}
	return logs, ctx.Err()
}

// source is what a request reads.
func source(req tui.Request) job.Source {
	return job.Source{Machine: req.MachineFile, Logs: req.Paths, AsFound: req.AsFound, Period: req.Period, Columns: req.Columns, LeftOut: req.LeftOut, Stdin: os.Stdin}
}

// look reads one log of a request as a table.
func look(ctx context.Context, req tui.Request, path string, progress tui.Progress) (*trace.Sheet, map[trace.Channel]trace.Column, error) {
	return job.Look(ctx, source(req), path, progress)
}

// fit returns the plant; where little was found, the plant's warnings say why.
func fit(ctx context.Context, logs *tui.Logs, progress tui.Progress) (*plant.Plant, error) {
	p, err := logs.Fit(ctx, progress)
	if p != nil && err != nil && ctx.Err() == nil {
		p.Warnings = append([]string{err.Error()}, p.Warnings...)
		return p, nil
	}
	return p, err
}

func saveProposal(path string, p *plant.Plant, t *tuning.Proposal) error {
	data, err := record.EncodeProposal(t, p)
	if err != nil {
		return err
	}
	return job.Save(path, data)
}

func savePlant(path string, p *plant.Plant) error {
	data, err := record.EncodePlant(p)
	if err != nil {
		return err
	}
	return job.Save(path, data)
}

func saveInUse(path string, l *law.Loops) error {
	data, err := record.EncodeLoops(l)
	if err != nil {
		return err
	}
	return job.Save(path, data)
}

// saveRecord writes the commissioning record as a page.
func saveRecord(ctx context.Context, path string, w *tui.Work, system quantity.System, version string) error {
	r := &record.Work{Plant: w.Plant, Proposal: w.Proposal, AsFound: w.Options.AsFound, System: system, Version: version, Comparison: recorded(w.Plant, w.Comparison)}
	if w.Logs != nil && w.Logs.Plant == nil {
		r.Check, r.Readings = &w.Logs.Report, w.Logs.Readings
	}
	var page bytes.Buffer
	if err := record.WriteRecord(ctx, &page, r); err != nil {
		return err
	}
	return job.Save(path, page.Bytes())
}

// template is a machine file to fill in.
//
//go:embed template.toml
var template string

// saveColumns writes the channels as corrected into the machine file at path, all else
// as it stands there now; a file that is not there yet begins as from, or as one to fill in.
func saveColumns(path, from string, columns map[trace.Channel]trace.Column) error {
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		data, err = []byte(template), nil
		if from != "" {
			data, err = os.ReadFile(from)
		}
	}
	if err != nil {
		return err
	}
	m, err := machine.Parse(data, filepath.Base(path))
	if err != nil {
		return err
	}
	all := job.Mapped(m.Channels, columns)
	stated := map[trace.Channel]trace.Column{}
	for c := range columns {
		stated[c] = all[c]
	}
	data, err = machine.SaveChannels(data, stated)
	if err != nil {
		return err
	}
	return job.Save(path, data)
}
