package bench

import (
	"context"
	"errors"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tui"
	"eha/strokewise/tuning/compare"
	"eha/strokewise/tuning/job"
)

// compareSets reads and fits another set of logs and compares the bench with it,
// both ways round. Logs that the check stops are an error.
func compareSets(ctx context.Context, req tui.Request, logs *tui.Logs, p *plant.Plant, progress tui.Progress) (*tui.Comparison, error) {
	other, err := load(ctx, req, progress)
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
	return &tui.Comparison{Other: other, OtherBefore: compare.Compare(there, here), OtherAfter: compare.Compare(here, there)}, ctx.Err()
}
