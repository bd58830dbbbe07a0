package trace

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
)

// Every style of stamp gives the same clock, over midnight from the ninth to the tenth
// of a month, where day and month could be taken for each other.
func TestStampsOfEveryStyle(t *testing.T) {
	start := time.Date(2026, 3, 9, 23, 59, 59, 900e6, time.UTC)
	for _, form := range []string{
		"2006-01-02T15:04:05.000Z07:00", "2006-01-02T15:04:05.000+01:00", "2006-01-02T15:04:05.000+0100", "2006-01-02T15:04:05.000000",
		"2006-01-02 15:04:05.000", "2006-01-02 15:04:05,000", "2006-01-02 15:04:05.000 UTC", "2006-01-02-15:04:05.000",
		"2006/01/02 15:04:05.000", "2006.01.02 15:04:05.000", "20060102T150405.000", "20060102 15:04:05.000",
		"02.01.2006 15:04:05,000", "02.01.2006 15:04:05.000", "2.1.2006 15:04:05,000", "02.01.06 15:04:05,000",
		"02/01/2006 15:04:05.000", "01/02/2006 15:04:05.000", "1/2/2006 15:04:05.000", "1/2/06 15:04:05.000", "02-01-2006 15:04:05.000",
		"01/02/2006 03:04:05.000 PM", "1/2/2006 3:04:05.000 PM", "01/02/2006 03:04:05.000 pm", "1/2/2006 3:04:05.000PM", "2006-01-02 03:04:05.000 PM",
		"02-Jan-2006 15:04:05.000", "2 Jan 2006 15:04:05.000", "Jan 2 2006 15:04:05.000",
		"15:04:05.000", "15:04:05,000", "03:04:05.000 PM",
		"15:04:05:000", "2006-01-02 15:04:05:000",
	} {
		var b strings.Builder
		b.WriteString("stamp;motor_position_rev\n")
		for i := range 300 {
			layout, colon := strings.CutSuffix(form, ":000") // which the time package does not write
			stamp := start.Add(time.Duration(i) * 2 * time.Millisecond)
			text := stamp.Format(layout)
			if colon {
				text += fmt.Sprintf(":%03d", stamp.Nanosecond()/1e6)
			}
			fmt.Fprintf(&b, "%s;%d\n", text, i)
		}
		r := readText(t, b.String(), ReadOptions{})
		if r.Trace.Len() != 300 || math.Abs(r.Trace.Period()-2e-3) > 1e-9 || len(r.Clock.Restarts)+len(r.Clock.Missing)+len(r.Clock.Backward) > 0 {
			t.Errorf("%s: %d samples of %g s, %+v; want 300 of 2 ms", form, r.Trace.Len(), r.Trace.Period(), r.Clock)
		}
	}
}

// Seconds, milliseconds, microseconds and nanoseconds since 1970 are told by their size.
func TestTimeCountedFrom1970(t *testing.T) {
	for _, per := range []int64{1, 1e3, 1e6, 1e9} {
		for _, period := range []time.Duration{time.Millisecond, 4 * time.Millisecond} {
			var b strings.Builder
			b.WriteString("Unix time,motor_position_rev\n")
			for i := range 300 {
				stamp := time.Date(2026, 3, 9, 23, 59, 59, 0, time.UTC).Add(time.Duration(i) * period)
				if per == 1 {
					fmt.Fprintf(&b, "%d.%03d,%d\n", stamp.Unix(), stamp.Nanosecond()/1e6, i)
				} else {
					fmt.Fprintf(&b, "%d,%d\n", stamp.UnixNano()/(1e9/per), i)
				}
			}
			r := readText(t, b.String(), ReadOptions{})
			if math.Abs(r.Trace.Period()-period.Seconds()) > 1e-9 || r.Trace.Len() != 300 || r.Clock.Index {
				t.Errorf("%d per second, every %s: %d samples of %g s", per, period, r.Trace.Len(), r.Trace.Period())
			}
		}
	}
}
