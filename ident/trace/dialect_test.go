package trace

import (
	"fmt"
	"strings"
	"testing"
)

// A sign in numbers is a thousands separator or a decimal sign by what the other
// numbers of its column, and of the log, look like.
func TestThousandsAreToldFromDecimals(t *testing.T) {
	grouped := func(v int, sign string) string {
		if v < 1000 {
			return fmt.Sprint(v)
		}
		return fmt.Sprintf("%d%s%03d", v/1000, sign, v%1000)
	}
	for _, sign := range []string{".", ","} {
		for _, c := range []struct {
			name string
			cell func(i int) string
			want func(i int) float64 // mm
		}{
			{"groups among small numbers", func(i int) string { return grouped(300+37*i, sign) }, func(i int) float64 { return float64(300 + 37*i) }},
			{"groups of millions", func(i int) string { return "1" + sign + grouped(100_000+37*i, sign) }, func(i int) float64 { return float64(1_100_000 + 37*i) }},
			{"three decimals each", func(i int) string { return fmt.Sprintf("%d%s%03d", 1+i, sign, 37*i%1000) }, func(i int) float64 { return float64(1+i) + float64(37*i%1000)/1000 }},
			{"decimals, zeros cut off", func(i int) string {
				return strings.TrimRight(strings.TrimRight(fmt.Sprintf("%d%s%03d", 1+i, sign, 37*i%1000), "0"), sign)
			}, func(i int) float64 { return float64(1+i) + float64(37*i%1000)/1000 }},
		} {
			var b strings.Builder
			b.WriteString("time_ms;rod_position_mm\n")
			for i := range 90 {
				fmt.Fprintf(&b, "%d;%s\n", i, c.cell(i))
			}
			r := readText(t, b.String(), ReadOptions{})
			x, _ := r.Trace.Samples(RodPosition)
			for i := range x {
				if d := x[i]*1e3 - c.want(i); d > 1e-6 || d < -1e-6 {
					t.Errorf("%s with %q: row %d (%s) reads as %g mm, want %g", c.name, sign, i, c.cell(i), x[i]*1e3, c.want(i))
					break
				}
			}
		}
	}
}
