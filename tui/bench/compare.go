package bench

import (
	"bytes"
	"context"
	"errors"
	"path/filepath"
	"strings"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/tui"
	"eha/strokewise/tuning/compare"
	"eha/strokewise/tuning/job"
	"eha/strokewise/tuning/record"
)

// compareSets reads and fits another set of logs and compares the bench with it,
// both ways round. Logs that the check stops are an error.
func compareSets(ctx context.Context, req tui.Request, logs *tui.Logs, p *plant.Plant, progress tui.Progress) (*tui.Comparison, error) {
	other, err := loadOther(ctx, req, progress)
	if err != nil {
		return nil, err
	}
	q, err := other.Fit(ctx, progress)
	var stop *job.StopError
	if errors.As(err, &stop) || q == nil {
		return nil, err
	}
	progress("comparing", -1)
	there, here := compare.Set{Traces: other.Traces(), Plant: q}, compare.Set{Plant: p}
	if logs != nil {
		here.Traces = logs.Traces()
	}
	return &tui.Comparison{Other: other, OtherPlant: q, OtherBefore: compare.Compare(there, here), OtherAfter: compare.Compare(here, there)}, ctx.Err()
}

// loadOther reads the other set: the demo machine's of another day, or the files named.
func loadOther(ctx context.Context, req tui.Request, progress tui.Progress) (*tui.Logs, error) {
	if !req.Demo {
		return load(ctx, req, progress)
	}
	j, err := job.OpenDemoAfter(ctx, progress)
	if err != nil {
		return nil, err
	}
	return &tui.Logs{Job: j, Paths: make([]string, len(j.Readings)), Report: j.Check()}, ctx.Err()
}

// recorded is a comparison as the record and its documents hold it; nil for none.
func recorded(p *plant.Plant, c *tui.Comparison) *record.Comparison {
	switch {
	case c == nil:
		return nil
	case c.BenchBefore:
		return &record.Comparison{Before: p, After: c.OtherPlant, Report: c.Report()}
	}
	return &record.Comparison{Before: c.OtherPlant, After: p, Report: c.Report()}
}

// saveComparison writes a comparison as text, or as JSON where the name asks for it.
func saveComparison(path string, p *plant.Plant, c *tui.Comparison, system quantity.System) error {
	if strings.EqualFold(filepath.Ext(path), ".json") {
		data, err := record.EncodeComparison(recorded(p, c))
		if err != nil {
			return err
		}
		return job.Save(path, data)
	}
	var text bytes.Buffer
	if err := record.WriteComparison(&text, recorded(p, c), system); err != nil {
		return err
	}
	return job.Save(path, text.Bytes())
}
