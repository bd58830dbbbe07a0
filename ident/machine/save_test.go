package machine

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"eha/strokewise/ident/trace"
)

var newColumn = map[trace.Channel]trace.Column{trace.RodPosition: {Header: `LT "new"`, Unit: "in", Sign: -1, Offset: 0.0127}}

const newText = `{ column = "LT \"new\"", unit = "in", sign = -1, offset = "0.5 in" }`

func TestSaveChannelsKeepsEverythingElse(t *testing.T) {
	cases := []struct{ name, before, after string }{
		{"empty file", "", "[channels]\nrod_position = " + newText + "\n"},
		{"no channels yet", "# my press\nname = \"press\" # old\n", "# my press\nname = \"press\" # old\n[channels]\nrod_position = " + newText + "\n"},
		{"no last line end", "name = \"press\"", "name = \"press\"\n[channels]\nrod_position = " + newText + "\n"},
		{"replaced with its comment and indent", "[channels] # mapping\n  time = { column = \"t\", unit = \"s\" } # first\n  rod_position = { column = \"x\", unit = \"mm\" } # the LT {1}\n# end\n",
			"[channels] # mapping\n  time = { column = \"t\", unit = \"s\" } # first\n  rod_position = " + newText + " # the LT {1}\n# end\n"},
		{"aligned", "[channels]\ntime              = { column = \"t\", unit = \"s\" }\nrod_position      = { column = \"x\", unit = \"mm\" }\n",
			"[channels]\ntime              = { column = \"t\", unit = \"s\" }\nrod_position      = " + newText + "\n"},
		{"added behind the last channel", "[channels]\ntime = { column = \"t\", unit = \"s\" } # first\n\n[load]\nmass = \"3 kg\"\n",
			"[channels]\ntime = { column = \"t\", unit = \"s\" } # first\nrod_position = " + newText + "\n\n[load]\nmass = \"3 kg\"\n"},
		{"table of its own", "[channels.rod_position]\n# where\ncolumn = \"x\" # head\nunit = \"mm\"\n[load]\nmass = \"3 kg\"\n",
			"[channels.rod_position]\ncolumn = \"LT \\\"new\\\"\"\nunit = \"in\"\nsign = -1\noffset = \"0.5 in\"\n# where\n# head\n[load]\nmass = \"3 kg\"\n"},
		{"CRLF", "name = \"p\"\r\n[channels]\r\nrod_position = { column = \"x\", unit = \"mm\" }\r\n",
			"name = \"p\"\r\n[channels]\r\nrod_position = " + newText + "\r\n"},
		{"dotted at the top", "channels.rod_position = { column = \"x\", unit = \"mm\" }\n", "channels.rod_position = " + newText + "\n"},
		{"dotted by keys", "[channels]\nrod_position.column = \"x\"\nrod_position.unit = \"mm\"\n", "[channels]\nrod_position = " + newText + "\n"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			got, err := SaveChannels([]byte(c.before), newColumn)
			if err != nil {
				t.Fatal(err)
			}
			if string(got) != c.after {
				t.Errorf("got\n%s\nwant\n%s", got, c.after)
			}
			m, err := Parse(got, "m.toml")
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(newColumn[trace.RodPosition], m.Channels[trace.RodPosition], rounding); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestSaveChannelsTwiceIsSavingOnce(t *testing.T) {
	m, err := Parse([]byte(whole), "m.toml")
	if err != nil {
		t.Fatal(err)
	}
	once, err := SaveChannels([]byte(whole), m.Channels)
	if err != nil {
		t.Fatal(err)
	}
	twice, err := SaveChannels(once, m.Channels)
	if err != nil || string(once) != string(twice) {
		t.Errorf("%v; first\n%s\nthen\n%s", err, once, twice)
	}
	again, err := Parse(once, "m.toml")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(m, again, cmpopts.EquateApprox(1e-11, 1e-15)); diff != "" {
		t.Error(diff)
	}
}

func TestSaveChannelsRefusesABrokenFile(t *testing.T) {
	if _, err := SaveChannels([]byte("[cylinder\n"), newColumn); err == nil {
		t.Error("a broken file was edited")
	}
}
