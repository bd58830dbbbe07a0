// Package traces turns the simulator's logs into traces for tests, without the
// way through a file: what a reader of the file would see, but for the rounding
// that twin.Log.Rounded does.
package traces

import (
	"testing"

	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/twin"
)

// Of returns a simulated log as a trace of its own name, in SI units. It ends
// the test if no trace can be made of it.
func Of(t testing.TB, l *twin.Log) *trace.Trace {
	t.Helper()
	samples := map[trace.Channel][]float64{}
	for _, c := range l.Columns {
		if ch, ok := trace.ParseChannel(c.Channel); ok && ch != trace.Time {
			samples[ch] = c.SI
		}
	}
	tr, err := trace.New(l.Name, l.Period, 0, samples, nil)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}
