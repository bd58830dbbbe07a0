package trace

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// guessed reads a log of those headers with ordinary data and returns what was taken.
func guessed(t *testing.T, headers string, opt ReadOptions) (map[Channel]string, *Reading) {
	t.Helper()
	delimiter := ","
	if strings.Contains(headers, ";") {
		delimiter = ";"
	}
	n := strings.Count(headers, delimiter)
	var b strings.Builder
	b.WriteString(headers + "\n")
	for i := range 60 {
		fmt.Fprintf(&b, "%d", i)
		for j := range n {
			fmt.Fprintf(&b, "%s%.3f", delimiter, 10*math.Sin(float64(i)*0.1*float64(j+1)))
		}
		b.WriteString("\n")
	}
	r := readText(t, b.String(), opt)
	got := map[Channel]string{}
	for _, g := range r.Guesses {
		if !g.Asked {
			got[g.Channel] = g.Column
		}
	}
	return got, r
}

func TestGuessFromHeaders(t *testing.T) {
	cases := []struct {
		headers string
		want    map[Channel]string
	}{
		{"Time [ms],Speed setpoint [rpm],Speed actual [rpm],Encoder [rev],Cylinder position [mm],p cap side [bar],p rod side [bar],Motor current [A],Oil temperature [degC]",
			map[Channel]string{Time: "Time", SpeedCommand: "Speed setpoint", MotorSpeed: "Speed actual", MotorPosition: "Encoder", RodPosition: "Cylinder position",
				CapPressure: "p cap side", RodPressure: "p rod side", MotorCurrent: "Motor current", OilTemperature: "Oil temperature"}},
		{"t [ms],n_soll [1/min],n_ist [1/min],Motorwinkel [°],Zylinderweg [mm],Zylinderweg Soll [mm],Druck Kolbenseite [bar],Druck Stangenseite [bar],Strom [A],Drehmoment [Nm],Öltemperatur [°C]",
			map[Channel]string{Time: "t", SpeedCommand: "n_soll", MotorSpeed: "n_ist", MotorPosition: "Motorwinkel", RodPosition: "Zylinderweg", PositionCommand: "Zylinderweg Soll",
				CapPressure: "Druck Kolbenseite", RodPressure: "Druck Stangenseite", MotorCurrent: "Strom", MotorTorque: "Drehmoment", OilTemperature: "Öltemperatur"}},
		{"temps_ms,consigne_vitesse_rpm,vitesse_mesure_rpm,position_moteur_rev,position_verin_mm,pression_fond_bar,pression_tige_bar,couple_Nm",
			map[Channel]string{Time: "temps", SpeedCommand: "consigne_vitesse", MotorSpeed: "vitesse_mesure", MotorPosition: "position_moteur", RodPosition: "position_verin",
				CapPressure: "pression_fond", RodPressure: "pression_tige", MotorTorque: "couple"}},
		{"Time (ms);Drehzahlsollwert (1/min);Drehzahlistwert (1/min);Geberlage (U);Kolbenstange (mm)",
			map[Channel]string{Time: "Time", SpeedCommand: "Drehzahlsollwert", MotorSpeed: "Drehzahlistwert", MotorPosition: "Geberlage", RodPosition: "Kolbenstange"}},
		{"time_ms,motorSpeedCmd_rpm,motorSpeedFbk_rpm,motorAngle_deg,rodPos_mm,forceRef_kN,loadCell_kN",
			map[Channel]string{Time: "time", SpeedCommand: "motorSpeedCmd", MotorSpeed: "motorSpeedFbk", MotorPosition: "motorAngle", RodPosition: "rodPos", ForceCommand: "forceRef", Force: "loadCell"}},
		{"time_ms,speed_command_rpm,position_command_mm,rod_position_mm,pressure_A_bar,pressure_B_bar,motor_torque_Nm",
			map[Channel]string{Time: "time", SpeedCommand: "speed_command", PositionCommand: "position_command", RodPosition: "rod_position", CapPressure: "pressure_A", RodPressure: "pressure_B", MotorTorque: "motor_torque"}},
		{"time_ms,n_cmd_rpm,enc_rev,lin_mm,p1_bar,p2_bar,following error_mm,bus voltage_V,motor temperature_degC",
			map[Channel]string{Time: "time", SpeedCommand: "n_cmd", MotorPosition: "enc", RodPosition: "lin", CapPressure: "p1", RodPressure: "p2"}},
	}
	for _, c := range cases {
		t.Run(c.headers[:20], func(t *testing.T) {
			got, r := guessed(t, c.headers, ReadOptions{})
			for ch, want := range c.want {
				if got[ch] != want {
					t.Errorf("%s: took %q, want %q", ch, got[ch], want)
				}
			}
			for ch, column := range got {
				if _, ok := c.want[ch]; !ok {
					t.Errorf("%s: took %q, want nothing", ch, column)
				}
			}
			for _, g := range r.Guesses {
				if g.Why == "" || g.Sure <= 0 || g.Sure > 1 {
					t.Errorf("guess without reason or doubt: %+v", g)
				}
			}
		})
	}
}

func TestAmbiguousColumnsAreAsked(t *testing.T) {
	cases := []struct {
		name, headers string
		asked         Channel
	}{
		{"two rods", "time_ms,rod position left_mm,rod position right_mm,motor_position_rev", RodPosition},
		{"two speeds", "time_ms,speed A_rpm,speed B_rpm,rod_position_mm", MotorSpeed},
		{"pressures of no side", "time_ms,pressure left_bar,pressure right_bar,rod_position_mm", CapPressure},
		{"no unit", "time_ms,motor position,rod_position_mm", MotorPosition},
		{"counts of unknown resolution", "time_ms,encoder [counts],rod_position_mm", MotorPosition},
		{"the same name twice", "time_ms,rod_position_mm,rod_position_mm,motor_position_rev", RodPosition},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			got, r := guessed(t, c.headers, ReadOptions{})
			if column, taken := got[c.asked]; taken || r.Trace.Has(c.asked) {
				t.Errorf("%s was taken from %q", c.asked, column)
			}
			for _, g := range r.Guesses {
				if g.Channel == c.asked && g.Asked {
					return
				}
			}
			t.Errorf("%s was not asked: %+v", c.asked, r.Guesses)
		})
	}
}

func TestAQuestionIsSettledByAStatement(t *testing.T) {
	got, _ := guessed(t, "time_ms,rod_position_mm,rod_position_mm,motor_position_rev", ReadOptions{Columns: map[Channel]Column{RodPosition: {Header: "rod_position#2"}}})
	if got[RodPosition] != "rod_position#2" {
		t.Errorf("took %q, want the second column", got[RodPosition])
	}
}

func TestTheSameChannelTwiceWithEqualDataIsTaken(t *testing.T) {
	r := readText(t, "time_ms,rod_position_mm,rod_position_mm,motor_position_rev\n0,1,1,2\n1,2,2,3\n2,3,3,5\n", ReadOptions{})
	if !r.Trace.Has(RodPosition) {
		t.Errorf("rod position is absent: %+v", r.Guesses)
	}
}

func TestParseHeading(t *testing.T) {
	for text, want := range map[string][2]string{
		"Rod position [mm]":     {"Rod position", "mm"},
		"Rod position (mm)":     {"Rod position", "mm"},
		"rod_position_mm":       {"rod_position", "mm"},
		"Rod position / mm":     {"Rod position", "mm"},
		"Rod position mm":       {"Rod position", "mm"},
		"Rod position, inch":    {"Rod position", "inch"},
		"Pressure (cap) [bar]":  {"Pressure (cap)", "bar"},
		"Pressure (cap)":        {"Pressure (cap)", ""},
		"Speed [1/min]":         {"Speed", "1/min"},
		"Speed 1/min":           {"Speed", "1/min"},
		"speed_rev_per_s":       {"speed", "rev/s"},
		"Temp [°C]":             {"Temp", "°C"},
		"Torque [Nm]":           {"Torque", "Nm"},
		"Pressure [bar (a)]":    {"Pressure", "bar (a)"},
		"ai1":                   {"ai1", ""},
		"Position command":      {"Position command", ""},
		"motor_current_A":       {"motor_current", "A"},
		"force_command_kN":      {"force_command", "kN"},
		"Druck pA in bar":       {"Druck pA", "bar"},
		"lin_cmd":               {"lin_cmd", ""},
		"Kraft / kN":            {"Kraft", "kN"},
		"Pression [kgf/cm²]":    {"Pression", "kgf/cm²"},
		"Drehzahl [min⁻¹]":      {"Drehzahl", "min⁻¹"},
		"[mm]":                  {"", "mm"},
		"displacement_cm3/rev":  {"displacement", "cm3/rev"},
		"oil temperature (°F) ": {"oil temperature", "°F"},
		"column 1":              {"column 1", ""},
		"p 2":                   {"p 2", ""},
		"Pos. [in.]":            {"Pos.", "in."},
		"Torque_N.m":            {"Torque", "N.m"},
	} {
		h := parseHeading(text, "")
		if h.name != want[0] || h.unit != want[1] {
			t.Errorf("%q: name %q unit %q, want %q %q", text, h.name, h.unit, want[0], want[1])
		}
	}
}

// Of two lengths without a word for the rod, the one that follows the encoder is taken.
func TestDataSettleWhichLengthIsTheRod(t *testing.T) {
	var b strings.Builder
	b.WriteString("time_ms,gap_mm,ch4_mm,encoder_rev,ch5 [counts]\n")
	for i := range 500 {
		turns := 3 * math.Sin(float64(i)*0.02)
		fmt.Fprintf(&b, "%d,%.3f,%.3f,%.4f,%d\n", i, 5*math.Cos(float64(i)*0.31), 100-25*turns, turns-math.Floor(turns), i*7%1000)
	}
	r := readText(t, b.String(), ReadOptions{})
	for _, g := range r.Guesses {
		if g.Channel == RodPosition && (g.Column != "ch4" || g.Asked || !strings.Contains(g.Why, "follows the encoder")) {
			t.Errorf("rod position: %+v, want ch4", g)
		}
	}
	if !r.Trace.Has(RodPosition) || r.Wrap.Modulus != 1 {
		t.Errorf("channels %v, wrap %+v", r.Trace.Channels(), r.Wrap)
	}
}

// Two columns of one bare name are told apart by their units; what units do not tell is asked.
func TestTwoColumnsOfOneName(t *testing.T) {
	for headers, want := range map[string]map[Channel]bool{ // taken, else asked
		"time_ms,position_mm,position [rev]":                    {RodPosition: true, MotorPosition: true},
		"time_ms,position [deg],position [mm]":                  {RodPosition: true, MotorPosition: true},
		"time_ms,position [counts],position [mm]":               {RodPosition: true, MotorPosition: false},
		"time_ms,position [mm],position [mm],speed cmd_rpm":     {RodPosition: false},
		"time_ms,position,position,speed cmd_rpm":               {RodPosition: false},
		"time_ms,position,speed cmd_rpm":                        {RodPosition: false},
		"time_ms,position [rev],position [rev],rod_position_mm": {RodPosition: true, MotorPosition: false},
	} {
		b := strings.Builder{}
		b.WriteString(headers + "\n")
		for i := range 500 { // all columns follow each other
			fmt.Fprintf(&b, "%d", i)
			for k := range strings.Count(headers, ",") {
				fmt.Fprintf(&b, ",%d", int(1000*float64(k+1)*math.Sin(float64(i)*0.02)))
			}
			b.WriteString("\n")
		}
		r := readText(t, b.String(), ReadOptions{})
		for c, taken := range want {
			if r.Trace.Has(c) != taken {
				t.Errorf("%s: %s taken %v, want %v", headers, c, !taken, taken)
			}
			asked := false
			for _, g := range r.Guesses {
				asked = asked || g.Channel == c && g.Asked
			}
			if asked == taken {
				t.Errorf("%s: %s asked %v, want %v", headers, c, asked, !taken)
			}
		}
	}
}
