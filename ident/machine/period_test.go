package machine

import (
	"strings"
	"testing"

	"eha/strokewise/ident/trace"
)

func TestPeriodOfLogsWithoutTime(t *testing.T) {
	columns := map[trace.Channel]trace.Column{trace.Time: {Period: 2.5e-3}}
	got, err := SaveChannels([]byte("name = \"press\"\n"), columns)
	if want := "name = \"press\"\n[channels]\ntime = { period = \"2.5 ms\" }\n"; err != nil || string(got) != want {
		t.Fatalf("%v, got %q, want %q", err, got, want)
	}
	m, err := Parse(got, "m.toml")
	if err != nil || m.Channels[trace.Time] != columns[trace.Time] {
		t.Errorf("%v, read back as %+v", err, m.Channels)
	}
	for text, want := range map[string]string{
		"time = { period = \"2 mm\" }":                         "period",
		"time = { period = \"0 ms\" }":                         "period",
		"time = { period = 2 }":                                "period",
		"rod_position = { column = \"x\", period = \"2 ms\" }": "belongs to time only",
		"time = { column = \"n\", perod = \"2 ms\" }":          "did you mean \"period\"",
	} {
		if _, err := Parse([]byte("[channels]\n"+text+"\n"), "m.toml"); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want it to name %q", text, err, want)
		}
	}
}
