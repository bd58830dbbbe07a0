package record

import (
	"fmt"

	"eha/strokewise/ident/quality"
	"eha/strokewise/ident/trace"
)

// jointEntry is how two recordings were set on one clock: what was added to the
// second's time t is offset_s + drift·(t - at_s).
type jointEntry struct {
	Log       string           `json:"log"`
	On        [2]trace.Channel `json:"aligned_on"` // of the first and of the second recording
	At        number           `json:"at_s"`       // on the second's clock
	Offset    number           `json:"offset_s"`
	OffsetLow number           `json:"offset_low_s"`
	OffsetTop number           `json:"offset_high_s"`
	// All three null where the overlap is too short to tell a drift.
	Drift    *number `json:"drift_ppm"` // as taken out
	DriftLow *number `json:"drift_low_ppm"`
	DriftTop *number `json:"drift_high_ppm"`
	Overlap  number  `json:"overlap_s"`
	Likeness number  `json:"likeness"`
	Windows  int     `json:"stretches"`
}

func jointEntries(joints []quality.Joint) []jointEntry {
	var list []jointEntry
	for _, j := range joints {
		e := jointEntry{Log: j.Log, On: j.On, At: number(j.Middle), Offset: number(j.Offset), OffsetLow: number(j.OffsetLow), OffsetTop: number(j.OffsetHigh),
			Overlap: number(j.Overlap), Likeness: number(j.Likeness), Windows: j.Windows}
		if j.DriftTold() {
			drift, low, high := number(1e6*j.Drift), number(1e6*j.DriftLow), number(1e6*j.DriftHigh)
			e.Drift, e.DriftLow, e.DriftTop = &drift, &low, &high
		}
		list = append(list, e)
	}
	return list
}

// joints lists the clocks of joined recordings.
func (p *page) joints(r *quality.Report) {
	var rows [][]string
	for _, j := range r.Joints {
		drift := "not told, overlap too short"
		if j.DriftTold() {
			drift = fmt.Sprintf("%.0f (%.0f to %.0f) ppm", 1e6*j.Drift, 1e6*j.DriftLow, 1e6*j.DriftHigh)
		}
		rows = append(rows, []string{j.Log, j.AlignedOn(), fmt.Sprintf("%.4f (%.4f to %.4f) s", j.Offset, j.OffsetLow, j.OffsetHigh),
			fmt.Sprintf("%.1f s", j.Middle), drift, fmt.Sprintf("%.1f s", j.Overlap)})
	}
	if len(rows) > 0 {
		p.heading("Joined recordings, the second set on the clock of the first (95 %)")
		p.table([]string{"log", "aligned on", "added to its time", "at its time", "drift taken out", "overlap"}, rows)
	}
}
