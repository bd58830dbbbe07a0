package job

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"eha/strokewise/ident/trace"
)

func TestMapped(t *testing.T) {
	file := map[trace.Channel]trace.Column{trace.Time: {Header: "n"}, trace.RodPosition: {Header: "x", Unit: "mm"}}
	corrections := map[trace.Channel]trace.Column{trace.Time: {Period: 2e-3}, trace.RodPosition: {Header: "y", Unit: "in"}}
	want := map[trace.Channel]trace.Column{trace.Time: {Header: "n", Period: 2e-3}, trace.RodPosition: {Header: "y", Unit: "in"}}
	if d := cmp.Diff(want, Mapped(file, corrections)); d != "" {
		t.Error(d)
	}
	if file[trace.Time].Period != 0 || len(Mapped(nil, nil)) != 0 {
		t.Error("the file's own mapping was changed")
	}
}
