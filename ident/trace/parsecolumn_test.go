package trace

import (
	"strings"
	"testing"
)

func TestParseColumn(t *testing.T) {
	cases := []struct {
		text string
		c    Channel
		want Column
	}{
		{"rod_position=LT 1[mm]", RodPosition, Column{Header: "LT 1", Unit: "mm"}},
		{"rod_position = LT", RodPosition, Column{Header: "LT"}},
		{"cap_pressure=p[1] [bar]", CapPressure, Column{Header: "p[1]", Unit: "bar"}},
		{"rod_position=-LT[in]", RodPosition, Column{Header: "LT", Unit: "in", Sign: -1}},
		{"motor_position=enc[4096 counts/rev]", MotorPosition, Column{Header: "enc", Unit: "counts", CountsPerRev: 4096}},
		{"motor_position=enc[counts]", MotorPosition, Column{Header: "enc", Unit: "counts"}},
		{"rod_position=ai1[0.5..9.5 V = 0..300 mm]", RodPosition, Column{Header: "ai1", Unit: "V", From: [2]float64{0.5, 9.5}, To: [2]float64{0, 0.3}}},
		{"cap_pressure=ai2[4 mA..20 mA = 0 bar..250 bar]", CapPressure, Column{Header: "ai2", Unit: "mA", From: [2]float64{4, 20}, To: [2]float64{0, 250e5}}},
		{"rod_position=-lt[-27648..27648 = -0.3..0.3 m]", RodPosition, Column{Header: "lt", Sign: -1, From: [2]float64{-27648, 27648}, To: [2]float64{-0.3, 0.3}}},
		{"force=cell[0..100 %=0..60 kN]", Force, Column{Header: "cell", Unit: "%", From: [2]float64{0, 100}, To: [2]float64{0, 60e3}}},
		{"rod_position=lt[% of 320 mm]", RodPosition, Column{Header: "lt", Unit: "%", FullScale: 0.32}},
		{"time=t=0[ms]", Time, Column{Header: "t=0", Unit: "ms"}},
	}
	for _, c := range cases {
		ch, col, err := ParseColumn(c.text)
		if err != nil || ch != c.c || col != c.want {
			t.Errorf("%q: %v %+v %v, want %v %+v", c.text, ch, col, err, c.c, c.want)
		}
	}
	for text, part := range map[string]string{
		"rod_position":                             "needed the form",
		"rod=LT[mm]":                               "no such channel",
		"rod_position=[mm]":                        "column is missing",
		"rod_position=LT[bar]":                     "needed a length",
		"rod_position=LT[smoot]":                   "unknown unit",
		"motor_position=e[0 inc/rev]":              "counts of one turn",
		"cap_pressure=ai1[V]":                      "0..10 V = ",
		"rod_position=a[0..10 V = 0..5 bar]":       "needed a length",
		"rod_position=a[0..10 V = 0..0 mm]":        "two different points",
		"rod_position=a[0..10 V = 0 mm]":           "two different points",
		"rod_position=a[0 mA..10 V = 0..5 mm]":     "in one unit",
		"rod_position=a[0..10 volt-ish = 0..5 mm]": "unknown unit",
		"rod_position=a[% of 20 bar]":              "needed a length",
	} {
		if _, _, err := ParseColumn(text); err == nil || !strings.Contains(err.Error(), part) {
			t.Errorf("%q: error %v, want one with %q", text, err, part)
		}
	}
}
