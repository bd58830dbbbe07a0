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
		{"time=t=0[ms]", Time, Column{Header: "t=0", Unit: "ms"}},
	}
	for _, c := range cases {
		ch, col, err := ParseColumn(c.text)
		if err != nil || ch != c.c || col != c.want {
			t.Errorf("%q: %v %+v %v, want %v %+v", c.text, ch, col, err, c.c, c.want)
		}
	}
	for text, part := range map[string]string{
		"rod_position":                "needed the form",
		"rod=LT[mm]":                  "no such channel",
		"rod_position=[mm]":           "column is missing",
		"rod_position=LT[bar]":        "needed a length",
		"rod_position=LT[smoot]":      "unknown unit",
		"motor_position=e[0 inc/rev]": "counts of one turn",
		"cap_pressure=ai1[V]":         "from = ",
	} {
		if _, _, err := ParseColumn(text); err == nil || !strings.Contains(err.Error(), part) {
			t.Errorf("%q: error %v, want one with %q", text, err, part)
		}
	}
}
