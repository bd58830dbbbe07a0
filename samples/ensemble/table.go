package main

import (
	"fmt"
	"io"
	"math"
	"sort"

	"eha/strokewise/ident/plant"
)

// summary is one parameter over all machines.
type summary struct {
	param                    plant.Param
	asked, known, identified int
	strict, near             [2]float64 // median and 90th percentile where identified
	anyNear                  [2]float64 // the same where there is any number
	half                     float64    // median half-width where identified
	covered, far             int
}

// summarise gathers the outcomes by parameter, in the parameters' order.
func summarise(all []outcome) []summary {
	var out []summary
	for _, p := range plant.Params() {
		s := summary{param: p}
		var strict, near, half, anyNear []float64
		for _, o := range all {
			if o.param != p {
				continue
			}
			s.asked++
			if !o.known {
				continue
			}
			s.known++
			anyNear = append(anyNear, o.near)
			if o.covered {
				s.covered++
			}
			if o.identified {
				s.identified++
				strict, near, half = append(strict, o.strict), append(near, o.near), append(half, o.half)
			}
			if o.far {
				s.far++
			}
		}
		if s.asked == 0 {
			continue
		}
		s.strict, s.near, s.anyNear = pair(strict), pair(near), pair(anyNear)
		s.half = quantile(half, 0.5)
		out = append(out, s)
	}
	return out
}

func pair(v []float64) [2]float64 { return [2]float64{quantile(v, 0.5), quantile(v, 0.9)} }

// quantile returns the q quantile by linear interpolation, NaN of nothing.
func quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	sorted := append([]float64(nil), v...)
	sort.Float64s(sorted)
	at := q * float64(len(sorted)-1)
	i := min(int(at), len(sorted)-1)
	j := min(i+1, len(sorted)-1)
	return sorted[i] + (at-float64(i))*(sorted[j]-sorted[i])
}

// wilson returns the 95 % interval of a share of k in n (E. B. Wilson, J. Amer.
// Statist. Assoc. 22, 1927, pp. 209-212).
func wilson(k, n int) (low, high float64) {
	if n == 0 {
		return 0, 1
	}
	const z = 1.959963985
	p, m := float64(k)/float64(n), float64(n)
	centre := (p + z*z/(2*m)) / (1 + z*z/m)
	half := z / (1 + z*z/m) * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	return centre - half, centre + half
}

// printTable writes the summaries. Errors are in % of the true value, median and
// 90th percentile: strict against the definition's value and near against the
// nearest defensible one, where identified; all, near, where there is any number.
func printTable(w io.Writer, all []summary) {
	fmt.Fprintf(w, "%-24s %5s %6s | %-15s %-15s %-15s %6s | %-20s %s\n", "parameter", "asked", "ident.",
		"strict 50/90 %", "near 50/90 %", "all 50/90 %", "half %", "coverage %", "far")
	for _, s := range all {
		low, high := wilson(s.covered, s.known)
		fmt.Fprintf(w, "%-24s %5d %5.0f%% | %-15s %-15s %-15s %6s | %4.0f [%3.0f %3.0f] of %3d %3d\n", s.param, s.asked,
			100*float64(s.identified)/float64(s.asked), percents(s.strict), percents(s.near), percents(s.anyNear), percent(s.half),
			100*float64(s.covered)/math.Max(float64(s.known), 1), 100*low, 100*high, s.known, s.far)
	}
}

func percents(v [2]float64) string { return percent(v[0]) + " / " + percent(v[1]) }

func percent(v float64) string {
	switch {
	case math.IsNaN(v):
		return "-"
	case 100*v < 1:
		return fmt.Sprintf("%.2f", 100*v)
	case 100*v < 100:
		return fmt.Sprintf("%.1f", 100*v)
	}
	return fmt.Sprintf("%.0f", 100*v)
}
