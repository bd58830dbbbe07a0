package record

import (
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"html/template"
	"io"
	"strings"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quality"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tuning"
	"eha/strokewise/tuning/law"
)

// RecordFormat names the record's JSON document.
const RecordFormat = "strokewise.record/1"

// Work is what a commissioning record is made of.
type Work struct {
	Plant    *plant.Plant
	Proposal *tuning.Proposal
	Check    *quality.Report  // nil where a plant file stood in place of logs
	Readings []*trace.Reading // of the logs checked
	AsFound  *law.Loops       // nil where not given
	// Comparison sets logs from before beside these; nil where none are given.
	Comparison *Comparison
	System     quantity.System
	Version    string // of the program
	Command    string // line that made the record, "" where none did
}

//go:embed record.html
var recordTemplate string

// WriteRecord writes the commissioning record as one self-contained HTML page:
// no script, no outside request. It returns the context's error, that of a simulation or the writer's.
func WriteRecord(ctx context.Context, w io.Writer, work *Work) error {
	sections, err := work.sections(ctx)
	if err != nil {
		return err
	}
	t := template.Must(template.New("record").Parse(recordTemplate))
	title := "Commissioning record: " + orUnnamed(work.Plant.Machine.Name)
	return t.Execute(w, map[string]any{"Title": title, "Demo": work.Plant.Demo, "DemoMark": DemoMark, "Sections": sections})
}

// EncodeRecord returns the same content as one JSON document.
func EncodeRecord(work *Work) ([]byte, error) {
	d := struct {
		Format  string          `json:"format"`
		Demo    bool            `json:"demo,omitempty"`
		Version string          `json:"version"`
		Command string          `json:"command,omitempty"`
		Check   json.RawMessage `json:"check,omitempty"`
		Plant   json.RawMessage `json:"plant"`
		Loops   json.RawMessage `json:"loops"`
		Compare json.RawMessage `json:"compare,omitempty"`
	}{Format: RecordFormat, Demo: work.Plant.Demo, Version: work.Version, Command: work.Command}
	var err error
	if d.Plant, err = EncodePlant(work.Plant); err != nil {
		return nil, err
	}
	if d.Loops, err = EncodeProposal(work.Proposal, work.Plant); err != nil {
		return nil, err
	}
	if work.Check != nil {
		if d.Check, err = EncodeCheck(work.Check, work.Plant.Machine.Name, work.Plant.Demo); err != nil {
			return nil, err
		}
	}
	if work.Comparison != nil {
		if d.Compare, err = EncodeComparison(work.Comparison); err != nil {
			return nil, err
		}
	}
	return encode(d)
}

// beforeAndAfter sets the logs from before beside these.
func (p *page) beforeAndAfter(c *Comparison) {
	if c == nil {
		return
	}
	p.heading("Before and after")
	p.logsOf("before", c.Before)
	p.logsOf("after", c.After)
	p.changes(c.Report.Plant)
	p.comparedMoves(c.Report.Moves)
	for _, m := range c.Report.Moves {
		p.draw(p.overlayFigure(m))
	}
	p.minds(c.Report.Notes)
}

// sections lays the record out in the order of the work.
func (w *Work) sections(ctx context.Context) ([]section, error) {
	p := &page{system: w.System}
	p.identity(w)
	if w.Check != nil {
		p.judgement(w.Check)
	}
	p.heading("Plant")
	p.parameters(w.Plant)
	p.validation(w.Plant)
	for _, f := range p.plantFigures(w.Plant) {
		p.draw(f)
	}
	p.list("!", []string{tuning.ShortCaution})
	p.position(w.Proposal, w.Plant)
	p.force(w.Proposal)
	p.settingsBefore(w.AsFound, w.Proposal)
	p.scales(w.Proposal)
	p.forms(w.Proposal)
	p.margins(w.Proposal)
	p.allMargins(w)
	p.limits(w.Proposal)
	p.predicted(w.Proposal, w.Plant.PressuresSeen)
	p.events(w.Proposal)
	if err := p.simulated(ctx, w); err != nil {
		return nil, err
	}
	p.guards(&w.Proposal.Guards)
	p.bringUp(w.Proposal)
	p.beforeAndAfter(w.Comparison)
	p.minds(w.Proposal.Warnings[len(w.Proposal.Foremost):], w.Plant.Warnings)
	p.heading("Cautions")
	p.list("!", w.Proposal.Cautions)
	p.signatures(w)
	return p.inSections(), nil
}

// identity names machine and logs.
func (p *page) identity(w *Work) {
	p.heading("Machine and logs")
	p.blocks = append(p.blocks, block{kind: blanksBlock, items: []string{"Site", "Machine number", "Date", "Oil and its temperature", "Load in the machine"}})
	m := w.Plant.Machine
	rows := [][]string{{"machine", orUnnamed(m.Name)}}
	for _, r := range []struct {
		name string
		v    float64
		d    quantity.Dimension
	}{{"bore", m.Cylinder.Bore, quantity.Length}, {"rod", m.Cylinder.Rod, quantity.Length}, {"stroke", m.Cylinder.Stroke, quantity.Length},
		{"pump displacement", m.Pump.Displacement, quantity.Displacement}, {"motor speed, largest", m.Motor.MaxSpeed, quantity.AngularSpeed},
		{"working pressure", m.Limits.WorkingPressure, quantity.Pressure}, {"relief", m.Limits.Relief, quantity.Pressure}, {"force limit", m.Limits.Force, quantity.Force}} {
		if r.v > 0 {
			rows = append(rows, []string{r.name, p.show(r.v, r.d)})
		}
	}
	p.table(nil, rows)
	var logs [][]string
	for _, l := range w.Plant.Logs {
		logs = append(logs, []string{l.File, fmt.Sprintf("%.1f s", l.Duration), milliseconds(l.Period), fmt.Sprint(l.Rows), l.SHA256})
	}
	p.table([]string{"log", "length", "period", "rows", "SHA-256"}, logs)
}

// settingsBefore sets as-found and proposed gains side by side.
func (p *page) settingsBefore(found *law.Loops, t *tuning.Proposal) {
	if found == nil || found.Position == nil || t.Loops.Position == nil {
		return
	}
	p.heading("As found, beside as proposed")
	before, after := p.positionRows(found.Position), p.positionRows(t.Loops.Position)
	values := map[string][]string{}
	var order []string
	for k, rows := range [][][]string{before, after} {
		for _, r := range rows {
			if values[r[0]] == nil {
				values[r[0]] = []string{"-", "-"}
				order = append(order, r[0])
			}
			values[r[0]][k] = strings.Join(r[1:], " / ")
		}
	}
	var rows [][]string
	for _, name := range order {
		rows = append(rows, append([]string{name}, values[name]...))
	}
	p.table([]string{"setting (extend / retract)", "as found", "as proposed"}, rows)
}

// allMargins lists every point of the grid and draws the worst ones.
func (p *page) allMargins(w *Work) {
	var rows [][]string
	for _, m := range w.Proposal.Margins {
		rows = append(rows, p.marginRow(m))
	}
	p.table(marginHeader("every point"), rows)
	for _, l := range []string{"position", "force"} {
		m, ok := w.Proposal.Worst[l]
		if !ok {
			continue
		}
		if _, open, err := tuning.OpenLoop(w.Plant, w.Proposal, m); err == nil {
			p.draw(nyquistFigure(m, w.Proposal, open))
		}
	}
}

func (p *page) simulated(ctx context.Context, w *Work) error {
	for _, s := range tuning.Scenarios(w.Plant, w.Proposal) {
		r, err := tuning.Respond(ctx, w.Plant, w.Proposal, w.AsFound, s.ID)
		if err != nil {
			return err
		}
		p.draw(p.responseOf(r))
	}
	p.replays(w)
	return nil
}

// replays lays the simulation under the as-found settings over the closed-loop
// logs, so that the reader can judge whether to believe the predictions.
func (p *page) replays(w *Work) {
	if w.AsFound == nil {
		return
	}
	for _, r := range w.Readings {
		overlays, err := tuning.Replay(w.Plant, *w.AsFound, r.Trace)
		if err != nil {
			continue // an open-loop log has nothing to replay
		}
		belief := tuning.Believe(r.Trace, overlays)
		p.line("Replay of %s under the settings as found: %s The replayed position is off by %s rms, at most %s.", r.Trace.Name(), belief,
			p.show(belief.Off, quantity.Length), p.show(belief.Worst, quantity.Length))
		for _, o := range overlays {
			f := p.holdOutFigure(o)
			f.title = fmt.Sprintf("Replay of %s under the settings as found: %s", r.Trace.Name(), words(o.Channel))
			f.about = "recorded, and simulated from the log's own commands under the settings in use then; only the start is taken from the recording"
			p.draw(f)
		}
	}
}

func (p *page) signatures(w *Work) {
	p.heading("Made with")
	rows := [][]string{{"program", "strokewise " + w.Version}}
	if w.Command != "" {
		rows = append(rows, []string{"command line", w.Command})
	}
	p.table(nil, rows)
	p.blocks = append(p.blocks, block{kind: blanksBlock, items: []string{"Settings entered by", "Checked by", "Date", "Remarks"}})
}
