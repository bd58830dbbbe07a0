package moves

import (
	"encoding/json"
	"math"
	"strconv"
	"strings"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
)

// column is how a command is written: header, unit and decimals.
type column struct {
	header, unit string
	decimals     int
}

var columns = map[trace.Channel]column{
	trace.SpeedCommand:    {"speed_command_rpm", "rpm", 2},
	trace.PositionCommand: {"position_command_mm", "mm", 4},
	trace.ForceCommand:    {"force_command_kN", "kN", 4},
}

// EncodeCSV returns the move's command table: time_s and the command, one row
// per controller period.
func EncodeCSV(m *Move) []byte {
	c := columns[m.Column]
	out := append([]byte("time_s,"), c.header...)
	out = append(out, '\n')
	digits := decimalsOf(m.Period)
	for i, v := range m.Table {
		out = strconv.AppendFloat(out, float64(i)*m.Period, 'f', digits, 64)
		out = append(out, ',')
		shown := quantity.In(v, c.unit)
		if math.Abs(shown) < 0.5*math.Pow(10, -float64(c.decimals)) {
			shown = 0 // no "-0.00"
		}
		out = strconv.AppendFloat(out, shown, 'f', c.decimals, 64)
		out = append(out, '\n')
	}
	return out
}

// decimalsOf returns the decimals that tell multiples of the period (s) apart exactly, six at most.
func decimalsOf(period float64) int {
	for d := 3; d < 6; d++ {
		if f := period * math.Pow(10, float64(d)); math.Abs(f-math.Round(f)) < 1e-6 {
			return d
		}
	}
	return 6
}

// document is moves.json. Positions are null where the move starts at touch.
type document struct {
	Format   string    `json:"format"`
	Demo     bool      `json:"demo,omitempty"`
	Machine  string    `json:"machine,omitempty"`
	Command  string    `json:"command"`
	Period   float64   `json:"period_s"`
	Bounds   boundsDoc `json:"bounds"`
	Moves    []moveDoc `json:"moves"`
	ByHand   []handDoc `json:"by_hand"`
	LeftOut  []leftDoc `json:"left_out"`
	Assumed  []string  `json:"assumed"`
	Cautions []string  `json:"cautions"`
}

type boundsDoc struct {
	Low          float64    `json:"lowest_position_mm"`
	High         float64    `json:"highest_position_mm"`
	Extend       [2]float64 `json:"stroke_per_turn_extend_mm_per_rev"`
	Retract      [2]float64 `json:"stroke_per_turn_retract_mm_per_rev"`
	Slip         float64    `json:"slip_rev_per_s_per_bar"`
	Drift        [2]float64 `json:"drift_mm_per_s"`
	Speed        float64    `json:"largest_speed_rpm"`
	Pressure     float64    `json:"working_pressure_bar"`
	Dynamic      float64    `json:"pressure_for_moving_bar"`
	HeaviestMass *float64   `json:"heaviest_mass_kg"`
}

type moveDoc struct {
	Name      string      `json:"name"`
	Part      string      `json:"part,omitempty"`
	Size      float64     `json:"size_pct"`
	File      string      `json:"file"`
	Start     *float64    `json:"start_position_mm"`
	Tolerance float64     `json:"start_tolerance_mm"`
	Travel    *[2]float64 `json:"travel_mm"`
	Worst     *[2]float64 `json:"worst_position_mm"`
	Duration  float64     `json:"duration_s"`
	Speed     float64     `json:"largest_speed_rpm"`
	Accel     float64     `json:"largest_acceleration_rev_per_s2"`
	RodSpeed  float64     `json:"largest_rod_speed_mm_per_s"`
	Drift     *[2]float64 `json:"drift_after_twice_the_time_mm"`
	Reveals   string      `json:"reveals"`
	Notes     []string    `json:"notes,omitempty"`
}

type handDoc struct {
	Name    string `json:"name"`
	How     string `json:"how"`
	Reveals string `json:"reveals"`
}

type leftDoc struct {
	Name   string `json:"name"`
	Part   string `json:"part,omitempty"`
	Reason string `json:"reason"`
}

// EncodeJSON returns moves.json (format strokewise.moves/1), in the units its names carry.
func EncodeJSON(p *Plan) ([]byte, error) {
	b := &p.Bounds
	doc := document{Format: "strokewise.moves/1", Demo: p.Demo, Machine: p.Machine, Command: strings.TrimSuffix(p.Command.String(), "_command"), Period: p.Period,
		Bounds: boundsDoc{Low: in(b.Low, "mm"), High: in(b.High, "mm"), Extend: pair(b.PerTurn.Extend, "mm/rev"), Retract: pair(b.PerTurn.Retract, "mm/rev"),
			Slip: in(b.Slip, "rev/s/bar"), Drift: pair(b.Drift, "mm/s"), Speed: in(b.MaxSpeed, "rpm"), Pressure: in(b.Pressure, "bar"), Dynamic: in(b.Dynamic, "bar")},
		Moves: []moveDoc{}, LeftOut: []leftDoc{}, Assumed: b.Assumed, Cautions: p.cautions()}
	if b.Mass > 0 {
		doc.Bounds.HeaviestMass = &b.Mass
	}
	for i := range p.Moves {
		doc.Moves = append(doc.Moves, moveDocOf(&p.Moves[i]))
	}
	for _, k := range []motion.MoveKind{motion.Jog, motion.UsualRun} {
		doc.ByHand = append(doc.ByHand, handDoc{k.String(), byHand[k], Reveals(k)})
	}
	for _, l := range p.LeftOut {
		doc.LeftOut = append(doc.LeftOut, leftDoc{l.Kind.String(), l.Part, l.Reason})
	}
	text, err := json.MarshalIndent(doc, "", "  ")
	return append(text, '\n'), err
}

func moveDocOf(m *Move) moveDoc {
	d := moveDoc{Name: m.Kind.String(), Part: m.Part, Size: 100 * m.Size, File: m.File(), Tolerance: in(m.Tolerance, "mm"),
		Duration: rounded(m.Duration()), Speed: in(m.Speed, "rpm"), Accel: in(m.Accel, "rev/s2"), RodSpeed: in(m.RodSpeed, "mm/s"),
		Reveals: Reveals(m.Kind), Notes: m.Notes}
	if !math.IsNaN(m.Start) {
		start, worst := in(m.Start, "mm"), pair(m.Reach, "mm")
		travel := [2]float64{rounded(worst[0] - start), rounded(worst[1] - start)}
		d.Start, d.Worst, d.Travel = &start, &worst, &travel
	}
	if m.Drift != [2]float64{} {
		drift := pair(m.Drift, "mm")
		d.Drift = &drift
	}
	return d
}

// in converts to a unit and keeps six digits, so that the file reads well.
func in(si float64, unit string) float64 { return rounded(quantity.In(si, unit)) }

func pair(si [2]float64, unit string) [2]float64 { return [2]float64{in(si[0], unit), in(si[1], unit)} }

func rounded(v float64) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64)
	if err != nil {
		return v
	}
	return r
}
