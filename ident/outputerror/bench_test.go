package outputerror_test

import (
	"testing"

	"eha/strokewise/ident/outputerror"
	"eha/strokewise/samples/traces"
	"eha/strokewise/samples/twin"
)

// BenchmarkFit picks sixteen stretches from the survey of one machine, some 200 s
// at 1 kHz, and fits all dynamics to them.
func BenchmarkFit(b *testing.B) {
	m := twin.Random(twin.Resisting, 402)
	t := traces.Of(b, twin.Survey(m))
	p := problemOf(m)
	b.ReportAllocs()
	for b.Loop() {
		p.Stretches = outputerror.Pick(t, 100, 16)
		if _, err := outputerror.Fit(p); err != nil {
			b.Fatal(err)
		}
	}
}
