package ident_test

import (
	"context"
	"testing"

	"eha/strokewise/ident"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/twin"
)

// BenchmarkFit is the fit of one machine's survey of some 200 s at 1 kHz with
// its closed-loop log.
func BenchmarkFit(b *testing.B) {
	m := makeMachine(b, twin.Resisting, 400)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := ident.Fit(context.Background(), m.logs, m.machine, ident.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkFitTenMinutes is the fit of three surveys of one machine together,
// some 600,000 rows.
func BenchmarkFitTenMinutes(b *testing.B) {
	m := makeMachine(b, twin.Vertical, 401)
	logs := []*trace.Trace{m.logs[0], m.logs[0], m.logs[0]}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := ident.Fit(context.Background(), logs, m.machine, ident.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
