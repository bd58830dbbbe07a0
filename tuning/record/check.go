package record

import (
	"fmt"
	"io"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quality"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
)

// CheckFormat names the judgement document.
const CheckFormat = "strokewise.check/1"

type checkDocument struct {
	Format       string                       `json:"format"`
	Demo         bool                         `json:"demo,omitempty"`
	Machine      string                       `json:"machine,omitempty"`
	Channels     []channelEntry               `json:"channels"`
	Joints       []jointEntry                 `json:"joints,omitempty"`
	Played       []playedEntry                `json:"moves"`
	Findings     []findingEntry               `json:"findings"`
	Identifiable map[plant.Param]identifiable `json:"identifiable"`
	Missing      []string                     `json:"missing_moves"`
	Questions    []string                     `json:"questions"`
}

type channelEntry struct {
	Log    string `json:"log"`
	Name   string `json:"name"`
	Column string `json:"column"`
	Unit   string `json:"unit"`
	Sure   number `json:"sure"`
	Why    string `json:"why"`
	// By how much the channel comes behind the encoder, both null where the log cannot tell.
	Lag      *number `json:"lag_ms"`
	LagWidth *number `json:"lag_half_width_ms"`
	Untold   string  `json:"lag_untold,omitempty"`
	// The line that follows the motor, in periods a turn: the pump's teeth as a rule.
	Order     int    `json:"order_per_turn,omitempty"`
	OrderSize number `json:"order_amplitude_bar,omitempty"`
}

type playedEntry struct {
	Log   string `json:"log"`
	Move  string `json:"move"`
	From  number `json:"from_s"`
	To    number `json:"to_s"`
	Parts int    `json:"parts"`
}

type findingEntry struct {
	ID       string        `json:"id"`
	Severity string        `json:"severity"`
	Channel  string        `json:"channel"`
	Log      string        `json:"log"`
	From     number        `json:"from_s"`
	To       number        `json:"to_s"`
	Affects  []plant.Param `json:"affects"`
	Text     string        `json:"text"`
	Do       string        `json:"do"`
}

type identifiable struct {
	Can    bool   `json:"can"`
	Expect string `json:"expect"`
	Move   string `json:"move,omitempty"`
	Why    string `json:"why,omitempty"`
}

// EncodeCheck returns the judgement document.
func EncodeCheck(r *quality.Report, machineName string, demo bool) ([]byte, error) {
	d := checkDocument{Format: CheckFormat, Demo: demo, Machine: machineName, Channels: []channelEntry{}, Played: []playedEntry{}, Joints: jointEntries(r.Joints), Findings: []findingEntry{},
		Identifiable: map[plant.Param]identifiable{}, Missing: append([]string{}, r.Missing...), Questions: append(append([]string{}, r.Columns...), r.Questions...)}
	for _, c := range r.Channels {
		e := channelEntry{Log: c.Log, Name: c.Channel.String(), Column: c.Column, Unit: c.Unit, Sure: number(c.Sure), Why: c.Why, Untold: c.LagUntold,
			Order: c.Order, OrderSize: number(1e-5 * c.OrderSize)}
		if c.LagWidth > 0 {
			value, width := number(1e3*c.Lag), number(1e3*c.LagWidth)
			e.Lag, e.LagWidth = &value, &width
		}
		d.Channels = append(d.Channels, e)
	}
	for _, m := range r.Played {
		d.Played = append(d.Played, playedEntry{m.Log, m.Move, number(m.From), number(m.To), m.Parts})
	}
	for _, f := range r.Findings {
		d.Findings = append(d.Findings, findingEntry{f.ID, f.Severity.String(), f.Channel.String(), f.Log, number(f.From), number(f.To),
			append([]plant.Param{}, f.Affects...), f.Text, f.Do})
	}
	for p, i := range r.Identifiable {
		d.Identifiable[p] = identifiable{i.Can, i.Expect.String(), i.Move, i.Why}
	}
	return encode(d)
}

// WriteCheck prints the judgement for a technician: what stops first and loud,
// then the channels as understood, the other findings, what the logs can tell
// and which moves to log. It returns the writer's error.
func WriteCheck(w io.Writer, r *quality.Report, readings []*trace.Reading, machineName string, demo bool, system quantity.System) error {
	p := &page{system: system}
	if demo {
		p.loud(DemoMark)
	}
	p.line("Check: %s", orUnnamed(machineName))
	for _, reading := range readings {
		t := reading.Trace
		p.line("  %s  %.1f s at %s, %d rows, sha256 %.12s", t.Name(), t.Duration(), milliseconds(t.Period()), reading.Rows, reading.SHA256)
	}
	p.judgement(r)
	return p.writeText(w)
}

// judgement lists findings by harm, the channels and what the logs can tell.
func (p *page) judgement(r *quality.Report) {
	p.findings("STOP: put this right before anything else", "!!", r, quality.Stop)
	p.channels(r)
	p.joints(r)
	p.clocks(r)
	p.played(r)
	p.findings("Harms some of the answers", "!", r, quality.Harm)
	p.findings("Worth knowing", "-", r, quality.Note)
	p.tells(r)
	if list := append(r.Columns[:len(r.Columns):len(r.Columns)], r.Questions...); len(list) > 0 {
		p.heading("To answer at the machine")
		p.list("?", list)
	}
}

func orUnnamed(name string) string {
	if name == "" {
		return "machine without a name"
	}
	return name
}

func (p *page) findings(title, mark string, r *quality.Report, severity quality.Severity) {
	var texts []string
	for _, f := range r.Findings {
		if f.Severity == severity {
			texts = append(texts, fmt.Sprintf("%s%s: %s %s", words(f.ID), where(f), f.Text, f.Do))
		}
	}
	if len(texts) > 0 {
		p.heading(title)
		p.list(mark, texts)
	}
}

// where names the log and, for a part of it, the time.
func where(f quality.Finding) string {
	if f.Log == "" {
		return ""
	}
	if f.From > 0 && f.To-f.From < 60 {
		return fmt.Sprintf(" (%s, %.2f to %.2f s)", f.Log, f.From, f.To)
	}
	return " (" + f.Log + ")"
}

func (p *page) channels(r *quality.Report) {
	p.heading("Channels as understood")
	var rows [][]string
	for _, c := range r.Channels {
		rows = append(rows, []string{c.Log, c.Channel.Words(), c.Column, c.Unit, fmt.Sprintf("%.0f %%", 100*c.Sure), c.Why})
	}
	p.table([]string{"log", "channel", "column", "unit", "sure", "why"}, rows)
}

// clocks lists by how much each channel comes behind the encoder, or why that cannot be told.
func (p *page) clocks(r *quality.Report) {
	var rows [][]string
	for _, c := range r.Channels {
		switch {
		case c.LagWidth > 0:
			rows = append(rows, []string{c.Log, c.Channel.Words(), fmt.Sprintf("%.2f ± %.2f ms", 1e3*c.Lag, 1e3*c.LagWidth), "sensor, filter and clock together"})
		case c.LagUntold != "" && c.Channel != trace.MotorPosition:
			rows = append(rows, []string{c.Log, c.Channel.Words(), "not told", c.LagUntold})
		}
	}
	if len(rows) > 0 {
		p.heading("Behind the encoder")
		p.table([]string{"log", "channel", "lag (95 %)", "why"}, rows)
	}
	p.lines(r)
}

// lines lists what follows the turning of the motor.
func (p *page) lines(r *quality.Report) {
	var texts []string
	for _, c := range r.Channels {
		if c.Order > 0 {
			texts = append(texts, fmt.Sprintf("%s (%s): %d periods a turn, %.2g bar", c.Channel.Words(), c.Log, c.Order, 1e-5*c.OrderSize))
		}
	}
	if len(texts) > 0 {
		p.heading("Lines that follow the motor, the pump's teeth as a rule")
		p.list("-", texts)
	}
}
