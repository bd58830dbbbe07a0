package record

import (
	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/compare"
)

// CompareFormat names the comparison document.
const CompareFormat = "strokewise.compare/1"

// Comparison is what a comparison's document and text are made of.
type Comparison struct {
	Before, After *plant.Plant // with the logs they come from
	Report        *compare.Report
}

// demo reports whether either side is the invented demo machine.
func (c *Comparison) demo() bool { return c.Before.Demo || c.After.Demo }

type compareDocument struct {
	Format  string                      `json:"format"`
	Demo    bool                        `json:"demo,omitempty"`
	Machine string                      `json:"machine,omitempty"`
	Before  []logEntry                  `json:"before_logs"`
	After   []logEntry                  `json:"after_logs"`
	RiskPct number                      `json:"risk_of_any_false_statement_pct"`
	Moves   []moveEntry                 `json:"moves"`
	Plant   map[plant.Param]changeEntry `json:"plant"`
	Notes   []string                    `json:"notes"`
}

type moveEntry struct {
	From          number                 `json:"from"`
	To            number                 `json:"to"`
	Unit          string                 `json:"unit"`
	Kind          string                 `json:"kind"`
	Window        number                 `json:"window_s"`
	Before        int                    `json:"before"`
	After         int                    `json:"after"`
	Figures       map[string]figureEntry `json:"figures"`
	HuntingPeriod map[string]*number     `json:"hunting_period_s"`
	Overlay       overlayEntry           `json:"overlay"`
}

type figureEntry struct {
	Before     *number `json:"before"`
	After      *number `json:"after"`
	Difference *number `json:"difference"`
	Low        *number `json:"low"`
	High       *number `json:"high"`
	Useful     number  `json:"useful_above"`
	Unit       string  `json:"unit"`
	Verdict    string  `json:"verdict"`
	Why        string  `json:"why,omitempty"`
}

// overlayEntry is the mean course of the repeats, for plotting.
type overlayEntry struct {
	Time    []number `json:"time_s"`
	Command []number `json:"position_command_mm"`
	Before  []number `json:"before_mm"`
	After   []number `json:"after_mm"`
}

type changeEntry struct {
	Before      number  `json:"before"`
	After       number  `json:"after"`
	Unit        string  `json:"unit"`
	Ratio       *number `json:"ratio"`
	Low         *number `json:"low"`
	High        *number `json:"high"`
	Difference  number  `json:"difference"`
	DiffLow     number  `json:"difference_low"`
	DiffHigh    number  `json:"difference_high"`
	UsefulPct   number  `json:"useful_above_pct"`
	Changed     bool    `json:"changed"`
	OftenMeans  string  `json:"often_means"`
	CouldAlsoBe string  `json:"could_also_be"`
}

// EncodeComparison returns the comparison document.
func EncodeComparison(c *Comparison) ([]byte, error) {
	d := compareDocument{
		Format: CompareFormat, Demo: c.demo(), Machine: c.After.Machine.Name,
		Before: logEntries(c.Before), After: logEntries(c.After), RiskPct: 100 * compare.Risk,
		Moves: []moveEntry{}, Plant: map[plant.Param]changeEntry{}, Notes: append([]string{}, c.Report.Notes...),
	}
	for _, m := range c.Report.Moves {
		d.Moves = append(d.Moves, encodeMove(m))
	}
	for _, change := range c.Report.Plant {
		d.Plant[change.Param] = encodeChange(change)
	}
	return encode(d)
}

func logEntries(p *plant.Plant) []logEntry {
	logs := []logEntry{}
	for _, l := range p.Logs {
		logs = append(logs, logEntry{l.File, l.SHA256, l.Rows, number(l.Duration), number(l.Period)})
	}
	return logs
}

func encodeMove(m compare.Move) moveEntry {
	const mm = 1e3
	e := moveEntry{
		From: number(m.From * mm), To: number(m.To * mm), Unit: "mm", Kind: m.Kind.String(), Window: number(m.Window),
		Before: m.Before, After: m.After, Figures: map[string]figureEntry{},
		HuntingPeriod: map[string]*number{"before": period(m.HuntingPeriod[0]), "after": period(m.HuntingPeriod[1])},
		Overlay:       overlayEntry{numbers(m.Overlay.Time, 1), numbers(m.Overlay.Command, mm), numbers(m.Overlay.Before, mm), numbers(m.Overlay.After, mm)},
	}
	for _, d := range m.Figures {
		info := d.Figure.Info()
		k := info.Factor
		e.Figures[info.Name] = figureEntry{optional(k * d.Before), optional(k * d.After), optional(k * d.Difference),
			optional(k * d.Low), optional(k * d.High), number(k * d.Useful), info.Unit, d.Verdict.String(), d.Why}
	}
	return e
}

// period is null where nothing oscillates.
func period(v float64) *number {
	if v == 0 {
		return nil
	}
	return optional(v)
}

func encodeChange(c compare.Change) changeEntry {
	info := c.Param.Info()
	k := info.Factor
	return changeEntry{number(k * c.Before.Value), number(k * c.After.Value), info.Unit,
		optional(c.Ratio), optional(c.RatioLow), optional(c.RatioHigh),
		number(k * c.Difference), number(k * c.DiffLow), number(k * c.DiffHigh),
		number(100 * c.Useful), c.Changed, c.OftenMeans, c.CouldAlsoBe}
}
