package main

import (
	"fmt"
	"io"
	"math"
	"sort"
	"strings"
)

// report prints what the machines gave: failures, the table of parameters, and
// the loops' record.
func report(w io.Writer, results []result, o options) {
	var outcomes []outcome
	var strokes []float64
	for _, r := range results {
		outcomes = append(outcomes, r.outcomes...)
		if !math.IsNaN(r.stroke) {
			strokes = append(strokes, r.stroke)
		}
		name := fmt.Sprintf("%s-%d", r.machine.Kind, r.machine.Seed)
		if r.err != nil {
			fmt.Fprintf(w, "%s: %v\n", name, r.err)
		}
		if o.details {
			fmt.Fprintf(w, "%-16s stroke off %s %% | %s%s\n", name, percent(r.stroke), worst(r.outcomes), r.loops.line())
		}
	}
	if !o.exact {
		fmt.Fprintf(w, "\n%d machines from seed %d, logs %s: fit takes %.2f s (median)\n", len(results), o.seed, o.logs, medianTime(results))
		printTable(w, summarise(outcomes))
		fmt.Fprintf(w, "rod travel over a full stroke that no log holds, from turns and pressures: off by %s %% of the stroke (50/90 %%), %d machines\n", percents(pair(strokes)), len(strokes))
	}
	if o.loops {
		printLoops(w, results)
	}
}

// worst names the three identified parameters that are most half-widths off, and
// what is not identified.
func worst(outcomes []outcome) string {
	sorted := append([]outcome(nil), outcomes...)
	sort.Slice(sorted, func(i, j int) bool { return sorted[i].widths() > sorted[j].widths() })
	var parts, weak []string
	for _, o := range sorted {
		if !o.known || !o.identified {
			weak = append(weak, o.param.String())
		} else if len(parts) < 3 && o.widths() > 1 {
			parts = append(parts, fmt.Sprintf("%s %s %% off, %s %% stated", o.param, percent(o.near), percent(o.half)))
		}
	}
	text := strings.Join(parts, "; ")
	if len(weak) > 0 {
		text += " | not identified: " + strings.Join(weak, " ")
	}
	return text
}

// widths returns how many half-widths the estimate is off.
func (o outcome) widths() float64 {
	if o.half <= 0 {
		return 0
	}
	return o.near / o.half
}

// printLoops writes the loops' record over all machines.
func printLoops(w io.Writer, results []result) {
	var sum loopsVerdict
	proposed, force := 0, 0
	var ratios, seconds []float64
	for _, r := range results {
		v := r.loops
		if v == nil {
			continue
		}
		seconds = append(seconds, v.took.Seconds())
		if v.proposed {
			proposed++
		}
		if v.force {
			force++
		}
		if v.best > 0 {
			ratios = append(ratios, v.settled/v.best)
		}
		sum.join(v)
	}
	fmt.Fprintf(w, "\nloops: %d of %d machines got a position loop, %d a force loop; proposal takes %.2f s (median)\n", proposed, len(results), force, quantile(seconds, 0.5))
	for _, line := range sum.counts() {
		if line.count.asked > 0 {
			fmt.Fprintf(w, "  %-50s %4d of %4d  %5.1f %%\n", line.name, line.count.held, line.count.asked, 100*float64(line.count.held)/float64(line.count.asked))
		}
	}
	if len(ratios) > 0 {
		fmt.Fprintf(w, "  settling over the best by brute force: median %.2f, 90th percentile %.2f\n", quantile(ratios, 0.5), quantile(ratios, 0.9))
	}
}
