package trace

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"
)

// The period of a log without time may stand with the mapping of time, as in a
// machine file; one stated for the reading goes before it.
func TestPeriodStatedWithTheTimeColumn(t *testing.T) {
	for name, text := range map[string]string{
		"no time":      "rod_position_mm,motor_position_rev\n1,2\n2,3\n3,5\n",
		"sample index": "sample,rod_position_mm,motor_position_rev\n1,2,1\n2,3,2\n3,5,3\n",
	} {
		_, err := Read(context.Background(), strings.NewReader(text), "a.csv", ReadOptions{})
		var fault *ReadError
		if !errors.As(err, &fault) || !fault.Timeless {
			t.Errorf("%s: %v does not say that a period would do", name, err)
		}
		mapped := map[Channel]Column{Time: {Period: 2e-3}}
		for _, c := range []struct {
			opt  ReadOptions
			want float64
		}{{ReadOptions{Columns: mapped}, 2e-3}, {ReadOptions{Columns: mapped, Period: 5e-3}, 5e-3}} {
			if r := readText(t, text, c.opt); math.Abs(r.Trace.Period()-c.want) > 1e-12 {
				t.Errorf("%s: period %g s, want %g", name, r.Trace.Period(), c.want)
			}
		}
	}
	if r := readText(t, strings.Join(ten(), "\n")+"\n", ReadOptions{Columns: map[Channel]Column{Time: {Period: 2e-3}}}); math.Abs(r.Trace.Period()-1e-3) > 1e-9 {
		t.Errorf("a log that holds time is read every %g s", r.Trace.Period())
	}
}
