package moves

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tuning"
)

// tilt is an invented machine with everything stated.
func tilt() *machine.Machine {
	level := 0.0
	return &machine.Machine{
		Name:     "tilt table (invented)",
		Cylinder: machine.Cylinder{Bore: 0.05, Rod: 0.028, Stroke: 0.3},
		Pump:     machine.Pump{Displacement: 5e-6 / (2 * math.Pi)},
		Motor:    machine.Motor{MaxSpeed: 3000 * 2 * math.Pi / 60},
		Limits:   machine.Limits{WorkingPressure: 160e5, StrokeMargin: 0.01, Speed: 0.25, Force: 25e3, ForcePull: 15e3},
		Load:     machine.Load{Mass: 250, Angle: &level, ForceRange: [2]float64{-8e3, 3e3}},
		Controller: machine.Controller{
			Period: 1e-3,
		},
	}
}

func planned(t *testing.T, m *machine.Machine, command trace.Channel) *Plan {
	t.Helper()
	p, err := For(m, nil, Options{Command: command})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Every table starts and ends at rest, changes no faster than stated, stays
// within its limits, and is the same from one place at three sizes.
func TestTables(t *testing.T) {
	m := tilt()
	for _, command := range []trace.Channel{trace.SpeedCommand, trace.PositionCommand} {
		p := planned(t, m, command)
		starts := map[string]float64{}
		for i := range p.Moves {
			v := &p.Moves[i]
			first, last := v.Table[0], v.Table[len(v.Table)-1]
			before := v.Table[len(v.Table)-2]
			switch v.Column {
			case trace.PositionCommand:
				if math.Abs(first-v.Start) > 1e-9 || last != before {
					t.Errorf("%s: from %g to %g m, want from %g m and at rest", v.File(), first, last, v.Start)
				}
			default:
				// Force rests where it balances the load, at up to 8 kN here.
				if rest := map[bool]float64{true: 8e3}[v.Column == trace.ForceCommand]; first != rest || last != rest || before != rest {
					t.Errorf("%s: from %g to %g, want from rest to rest", v.File(), first, last)
				}
			}
			if v.Column != trace.ForceCommand && (v.Reach[0] < m.Limits.StrokeMargin || v.Reach[1] > m.Cylinder.Stroke-m.Limits.StrokeMargin) {
				t.Errorf("%s: reaches %g to %g m", v.File(), v.Reach[0], v.Reach[1])
			}
			if v.Speed > speedShare*m.Motor.MaxSpeed*1.0001 || v.RodSpeed > m.Limits.Speed {
				t.Errorf("%s: %g rad/s, rod %g m/s, above the limits", v.File(), v.Speed, v.RodSpeed)
			}
			if s, seen := starts[v.Name()]; seen && s != v.Start && !math.IsNaN(s) {
				t.Errorf("%s: starts at %g m, at another size at %g m", v.File(), v.Start, s)
			}
			starts[v.Name()] = v.Start
		}
	}
}

// TestEnvelope works one profile out by hand: 10 rad/s for 2 s out and 1 s back
// with 1 to 2 mm/rad out, 1 to 3 mm/rad back, and slip from -4 to +5 mm/s:
// outwards at most 2·(20+5) = 50 mm, inwards at least 2·(10-4) - (30+4) = -22 mm,
// in the end at most 50 - 10 + 5 = 45 mm.
func TestEnvelope(t *testing.T) {
	b := &Bounds{PerTurn: plant.PerDirection[[2]float64]{Extend: [2]float64{1e-3, 2e-3}, Retract: [2]float64{1e-3, 3e-3}}, Drift: [2]float64{-4e-3, 5e-3}}
	speed := make([]float64, 300)
	for i := range speed {
		if speed[i] = 10; i >= 200 {
			speed[i] = -10
		}
	}
	reach, end := b.envelope(speed, 1, 0.01)
	for i, c := range []struct{ got, want float64 }{{reach[0], -0.022}, {reach[1], 0.050}, {end[0], -0.022}, {end[1], 0.045}} {
		if math.Abs(c.got-c.want) > 1e-12 {
			t.Errorf("%d: %g m, want %g m", i, c.got, c.want)
		}
	}
}

// TestRampPressure checks the gentlest ramp against 2·m·a/A by hand: 250 kg, and of
// 160 bar a quarter for moving, on the rod side's 13.48 cm².
func TestRampPressure(t *testing.T) {
	m := tilt()
	p := planned(t, m, trace.SpeedCommand)
	area := math.Pi / 4 * (0.05*0.05 - 0.028*0.028)
	for i := range p.Moves {
		v := &p.Moves[i]
		if v.Kind != motion.SpeedSteps && v.Kind != motion.SlowStrokes {
			continue
		}
		pressure := 2 * 250 * v.Accel * p.Bounds.fastest() / area
		if pressure > 40.001e5 {
			t.Errorf("%s: ramps add %g Pa, want at most 40 bar", v.File(), pressure)
		}
	}
}

// TestMultisine checks the excitation: whole periods that repeat, bias at least
// twice the amplitude, and a peak factor as low as is usual.
func TestMultisine(t *testing.T) {
	p := planned(t, tilt(), trace.SpeedCommand)
	found := 0
	for i := range p.Moves {
		v := &p.Moves[i]
		if v.Kind != motion.Multisine || v.Size != 1 {
			continue
		}
		found++
		table := v.Table
		low, high := math.Inf(1), math.Inf(-1)
		mid := table[len(table)/4 : 3*len(table)/4]
		for _, n := range mid {
			low, high = min(low, math.Abs(n)), max(high, math.Abs(n))
			if n*mid[0] <= 0 {
				t.Fatalf("%s: the motor reverses", v.File())
			}
		}
		if bias, amplitude := (high+low)/2, (high-low)/2; bias < 2*amplitude {
			t.Errorf("%s: bias %g rad/s on amplitude %g rad/s, want twice", v.File(), bias, amplitude)
		}
		n := periodOf(mid)
		if n == 0 {
			t.Errorf("%s: repeats with none of the periods", v.File())
		}
		if float64(len(table)) < 9*float64(n) {
			t.Errorf("%s: %d rows hold fewer than 9 periods of %d", v.File(), len(table), n)
		}
	}
	if found != 2 {
		t.Errorf("%d multisines at full size, want one each way", found)
	}
}

func periodOf(y []float64) int {
	for _, n := range []int{600, 1200, 2000} {
		worst := 0.0
		for i := n; i < len(y); i++ {
			worst = max(worst, math.Abs(y[i]-y[i-n]))
		}
		if n < len(y) && worst < 1e-9 {
			return n
		}
	}
	return 0
}

// TestLowCrest checks the peak over the rms value against what is known of
// neighbouring lines: 1.7 with Schroeder's phases, 1.4 to 1.5 after clipping (values
// from memory). Lines spread in ratio stay a little above; random phases give some 2.7.
func TestLowCrest(t *testing.T) {
	flat := make([]float64, 31)
	lines := make([]int, 31) // neighbouring
	for i := range lines {
		lines[i], flat[i] = i+1, 1
	}
	_, peak := lowCrest(lines, flat, 2000)
	if crest := peak / math.Sqrt(31.0/2); crest > 1.7 {
		t.Errorf("neighbouring lines: peak over rms %.2f, want at most 1.7", crest)
	}
	spread := harmonics(1, 60, 2)
	_, peak = lowCrest(spread, flat[:len(spread)], 2000)
	if crest := peak / math.Sqrt(float64(len(spread))/2); crest > 2.1 {
		t.Errorf("spread lines: peak over rms %.2f, want at most 2.1", crest)
	}
}

// The plan is the same every time.
func TestSameAgain(t *testing.T) {
	a, b := planned(t, tilt(), trace.SpeedCommand), planned(t, tilt(), trace.SpeedCommand)
	ta, tb := Sheet(a, quantity.Metric), Sheet(b, quantity.Metric)
	if ta != tb {
		t.Error("two plans of one machine differ on the sheet")
	}
	for i := range a.Moves {
		if !reflect.DeepEqual(a.Moves[i].Table, b.Moves[i].Table) {
			t.Errorf("%s differs", a.Moves[i].File())
		}
	}
}

// What must be known is named, all at once.
func TestNeeds(t *testing.T) {
	_, err := For(&machine.Machine{}, nil, Options{Command: trace.SpeedCommand})
	var need *NeedError
	if !errors.As(err, &need) {
		t.Fatalf("error %v, want a *NeedError", err)
	}
	want := []string{"cylinder.bore", "cylinder.rod", "pump.displacement", "cylinder.stroke", "motor.max_speed", "limits.working_pressure"}
	if !reflect.DeepEqual(need.Keys, want) {
		t.Errorf("needs %v, want %v", need.Keys, want)
	}
	m := tilt()
	m.Load.ForceRange = [2]float64{-31e3, 0} // 158 bar on the cap side
	var load *LoadError
	if _, err = For(m, nil, Options{Command: trace.SpeedCommand}); !errors.As(err, &load) {
		t.Errorf("error %v, want a *LoadError", err)
	}
}

// A load that is not stated costs travel, never safety: the plan of the same
// machine with less known reaches no further.
func TestUnknownLoadIsWorse(t *testing.T) {
	stated, silent := tilt(), tilt()
	silent.Load = machine.Load{}
	a, b := planned(t, stated, trace.SpeedCommand), planned(t, silent, trace.SpeedCommand)
	if b.Bounds.Drift[0] > a.Bounds.Drift[0] || b.Bounds.Drift[1] < a.Bounds.Drift[1] {
		t.Errorf("drift %v m/s with nothing stated, %v with the load stated", b.Bounds.Drift, a.Bounds.Drift)
	}
	if len(b.LeftOut) < len(a.LeftOut) {
		t.Errorf("%d left out with nothing stated, %d with the load stated", len(b.LeftOut), len(a.LeftOut))
	}
}

func TestEncodeCSV(t *testing.T) {
	m := &Move{Column: trace.SpeedCommand, Period: 0.5e-3, Table: []float64{0, 2 * math.Pi, -1e-9}}
	want := "time_s,speed_command_rpm\n0.0000,0.00\n0.0005,60.00\n0.0010,0.00\n"
	if got := string(EncodeCSV(m)); got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	m = &Move{Column: trace.ForceCommand, Period: 2e-3, Table: []float64{0, -1500}}
	if got, want := string(EncodeCSV(m)), "time_s,force_command_kN\n0.000,0.0000\n0.002,-1.5000\n"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// moves.json lists every table with its fields, and the moves by their ids.
func TestEncodeJSON(t *testing.T) {
	p := planned(t, tilt(), trace.SpeedCommand)
	p.Demo = true
	data, err := EncodeJSON(p)
	if err != nil {
		t.Fatal(err)
	}
	var doc struct {
		Format string
		Demo   bool
		Moves  []struct {
			Name, File, Reveals string
			Start               *float64    `json:"start_position_mm"`
			Drift               *[2]float64 `json:"drift_after_twice_the_time_mm"`
			Duration            float64     `json:"duration_s"`
			Speed               float64     `json:"largest_speed_rpm"`
		}
		ByHand []struct{ Name string } `json:"by_hand"`
	}
	if err := json.Unmarshal(data, &doc); err != nil {
		t.Fatal(err)
	}
	if doc.Format != "strokewise.moves/1" || !doc.Demo || len(doc.Moves) != len(p.Moves) || len(doc.ByHand) != 2 {
		t.Fatalf("%s", bytes.SplitN(data, []byte("moves"), 2)[0])
	}
	ids := map[string]bool{}
	for _, k := range motion.MoveKinds() {
		ids[k.String()] = true
	}
	for _, m := range doc.Moves {
		press := m.Name == motion.PressHold.String()
		if !ids[m.Name] || !IsTable(m.File) || m.Reveals == "" || m.Duration <= 0 || (m.Start == nil) != press || (m.Drift == nil) != press {
			t.Errorf("%+v", m)
		}
	}
}

// The sheet names every table, what was left out, the limits and the cautions; a
// holding valve and the demo machine are named.
func TestSheet(t *testing.T) {
	m := tilt()
	m.Valve.Holding = true
	p := planned(t, m, trace.SpeedCommand)
	p.Demo = true
	text := strings.Join(strings.Fields(Sheet(p, quantity.Metric)), " ")
	wants := []string{"DEMO MACHINE", "holding valve", "1. jog", "Who can stop it", "never by a played table", "usual_run", "brake does not hold",
		"Drift:", "position_steps: it needs", "A.csv+B.csv", tuning.ShortCaution}
	wants = append(wants, tuning.Cautions(false, true)...)
	for i := range p.Moves {
		wants = append(wants, p.Moves[i].File())
	}
	for _, w := range wants {
		if !strings.Contains(text, strings.Join(strings.Fields(w), " ")) {
			t.Errorf("the sheet lacks %q", w)
		}
	}
	// Nothing in it stays metric, its notes and reasons neither.
	metric := regexp.MustCompile(`\d (mm|mm/s|kN|bar|kg|Nm|L)\b`)
	if inch := Sheet(p, quantity.Inch); !strings.Contains(inch, " in") || metric.MatchString(inch) {
		t.Error("the sheet shows no inches when asked to")
	}
}

// Recordings hold every channel, few enough each, and all but the first the common one.
func TestRecorderAdvice(t *testing.T) {
	for _, k := range motion.MoveKinds() {
		a := RecorderAdvice(k)
		for _, count := range []int{4, 6, 8} {
			seen := map[trace.Channel]bool{}
			for _, r := range a.Split(count) {
				if len(r) > count || len(r) == 0 {
					t.Errorf("%s: %d channels in a recording of %d", k, len(r), count)
				}
				common := false
				for _, c := range r {
					seen[c] = true
					common = common || c == a.Common
				}
				if !common {
					t.Errorf("%s: recording %v lacks %s to join it by", k, r, a.Common)
				}
			}
			if len(seen) != len(a.Channels) {
				t.Errorf("%s: %d of %d channels recorded", k, len(seen), len(a.Channels))
			}
		}
	}
}

// Silly but readable machine files give an error or a plan, never a panic or an endless table.
func TestOddMachines(t *testing.T) {
	for name, change := range map[string]func(*machine.Machine){
		"long period":     func(m *machine.Machine) { m.Controller.Period = 0.5 },
		"short period":    func(m *machine.Machine) { m.Controller.Period = 1e-7 },
		"huge margin":     func(m *machine.Machine) { m.Limits.StrokeMargin = 0.2 },
		"tiny stroke":     func(m *machine.Machine) { m.Cylinder.Stroke, m.Load.Mass = 1e-3, 1e-3 },
		"very heavy":      func(m *machine.Machine) { m.Load.Mass = 1e7 },
		"tiny pump":       func(m *machine.Machine) { m.Pump.Displacement = 1e-12 },
		"thin rod":        func(m *machine.Machine) { m.Cylinder.Rod = 1e-6 },
		"nearly all rod":  func(m *machine.Machine) { m.Cylinder.Rod = 0.04999 },
		"low speed limit": func(m *machine.Machine) { m.Limits.Speed = 1e-6 },
	} {
		for _, command := range []trace.Channel{trace.SpeedCommand, trace.PositionCommand} {
			if command == trace.PositionCommand && name != "tiny stroke" && name != "low speed limit" {
				continue // its bounds come from the same place
			}
			m := tilt()
			change(m)
			p, err := For(m, nil, Options{Command: command})
			if err != nil {
				t.Logf("%s: %v", name, err)
				continue
			}
			for i := range p.Moves {
				if n := len(p.Moves[i].Table); n > 600000 {
					t.Errorf("%s: %s has %d rows", name, p.Moves[i].File(), n)
				}
				for _, v := range p.Moves[i].Table {
					if math.IsNaN(v) || math.IsInf(v, 0) {
						t.Fatalf("%s: %s holds %g", name, p.Moves[i].File(), v)
					}
				}
			}
		}
	}
}
