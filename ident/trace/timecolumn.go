package trace

import (
	"fmt"
	"math"

	"eha/strokewise/ident/quantity"
)

// timeColumn is the column that orders the rows, in s or as a sample index.
type timeColumn struct {
	index int     // column, -1 for none
	scale float64 // s per unit; the stated period for a sample index
	count bool    // a sample index
	zero  float64 // of a stamp column, what was taken off its stamps (s)
	guess Guess
}

// findTime chooses the time column or the sample index of a log.
func findTime(headings []heading, t *table, opt ReadOptions) (timeColumn, error) {
	none := timeColumn{index: -1}
	if col, ok := opt.Columns[Time]; ok && col.Header != "" {
		if j := matchHeader(headings, col.Header); j >= 0 {
			return timeAt(j, headings[j], t, col, opt.Period, Guess{Sure: 1, Why: "stated", Stated: true})
		}
	}
	tries := []func(int) (float64, string){
		func(j int) (float64, string) { return rateTime(headings[j], t, j) },
		func(j int) (float64, string) { return rateIndex(headings[j], t, j) },
	}
	if opt.Columns[Time].Header == NoColumn {
		tries = nil
	}
	for _, try := range tries {
		best, at, why := 0.0, -1, ""
		for j := range headings {
			if sure, w := try(j); sure > best {
				best, at, why = sure, j, w
			}
		}
		if at >= 0 {
			return timeAt(at, headings[at], t, opt.Columns[Time], opt.Period, Guess{Sure: best, Why: why})
		}
	}
	if !(opt.Period > 0) {
		fault := &ReadError{Problem: "holds no time and no sample period was stated", Advice: "state it, such as --log-period 1ms", Timeless: true}
		if j := steadiest(headings, t); j >= 0 {
			name := Printable(headings[j].name)
			fault.Problem = fmt.Sprintf("holds no time by name and no sample period was stated; %q advances in even steps", name)
			fault.Advice = fmt.Sprintf("state either, such as --channel 'time=%s[s]' or --log-period 1ms, or open the log in the terminal program and press m", name)
		}
		return none, fault
	}
	return none, nil
}

// newestFirst reports whether a column that could be time by its header runs backwards
// from the first row to the last.
func newestFirst(headings []heading, t *table) bool {
	for j, h := range headings {
		_, unit := quantity.LookupAs(h.unit, quantity.Time)
		kind := t.layout.kinds[j]
		if kind == stampColumn || kind == numberColumn && (meaningOf(h.name).any(isTime) || unit && !h.loose) {
			forward, back := steps(t.cols[j][:t.rows])
			if back > 0 && forward*20 <= back {
				return true
			}
		}
	}
	return false
}

// rateTime returns how sure it is that a column is time.
func rateTime(h heading, t *table, j int) (float64, string) {
	kind := t.layout.kinds[j]
	m := meaningOf(h.name)
	_, unit := quantity.LookupAs(h.unit, quantity.Time)
	sure, why := 0.0, ""
	switch {
	case kind == textColumn:
		return 0, ""
	case kind == stampColumn:
		sure, why = 0.9, "date and clock time, advancing"
	case m.any(isTime) && unit:
		sure, why = 0.98, "a word for time, unit of time, advancing"
	case m.any(isTime) && h.unit == "":
		sure, why = 0.85, "a word for time, advancing"
	case unit && !h.loose && !m.has[isCommand]:
		sure, why = 0.8, "unit of time, advancing"
	}
	if sure == 0 || !advances(t.cols[j][:t.rows]) {
		return 0, ""
	}
	return sure, why
}

// rateIndex returns how sure it is that a column numbers the samples.
func rateIndex(h heading, t *table, j int) (float64, string) {
	if t.layout.kinds[j] != numberColumn || t.rows < 2 {
		return 0, ""
	}
	x := t.cols[j][:t.rows]
	if len(x) > 100 && medianStep(x[:100]) != 1 {
		return 0, ""
	}
	ones := 0
	for i := 1; i < len(x); i++ {
		if x[i]-x[i-1] == 1 {
			ones++
		}
	}
	if 10*ones < 9*(len(x)-1) {
		return 0, ""
	}
	if meaningOf(h.name).any(isIndex) {
		return 0.95, "a word for sample, counts up by one"
	}
	if j == 0 && h.unit == "" && len(h.candidates()) == 0 {
		return 0.6, "the first column, counts up by one"
	}
	return 0, ""
}

// advances reports whether nearly all steps go forward, restarts and repeats apart.
func advances(x []float64) bool {
	forward, back := steps(x)
	return forward > 0 && back*20 <= forward
}

func steps(x []float64) (forward, back int) {
	for i := 1; i < len(x); i++ {
		if x[i] > x[i-1] {
			forward++
		} else if x[i] < x[i-1] {
			back++
		}
	}
	return forward, back
}

// steadiest returns the first column without a meaning of its own that advances in
// even steps, as only time does, or -1.
func steadiest(headings []heading, t *table) int {
	for j := range headings {
		if t.layout.kinds[j] != numberColumn || len(headings[j].candidates()) > 0 {
			continue
		}
		x := t.cols[j][:t.rows]
		step, even := medianStep(x), 0
		for i := 1; i < len(x); i++ {
			if d := x[i] - x[i-1]; d > 0.5*step && d < 1.5*step {
				even++
			}
		}
		if step > 0 && even*100 >= 95*(len(x)-1) {
			return j
		}
	}
	return -1
}

// timeAt settles the unit of the time column.
func timeAt(j int, h heading, t *table, col Column, period float64, g Guess) (timeColumn, error) {
	g.Channel, g.Column, g.Index = Time, Printable(h.name), j
	tc := timeColumn{index: j, scale: 1}
	fail := func(problem, advice string) (timeColumn, error) {
		return tc, &ReadError{Column: g.Column, Problem: problem, Advice: advice}
	}
	if t.layout.kinds[j] == textColumn {
		return fail("holds text, needed times", "")
	}
	if t.layout.kinds[j] == stampColumn {
		g.Unit = "s"
		tc.guess = g
		unrollMidnight(t.cols[j][:t.rows])
		tc.zero = fromFirst(t.cols[j][:t.rows])
		return tc, nil
	}
	unit := col.Unit
	if unit == "" {
		unit = h.unit
	}
	u, isTimeUnit := quantity.LookupAs(unit, quantity.Time)
	sure, _ := rateIndex(h, t, j)
	epoch := epochUnit(t.cols[j][:t.rows])
	switch {
	case isTimeUnit:
		tc.scale, g.Unit = u.Factor, u.Symbol
	case unit == "" && epoch != "" && meaningOf(h.name).any(isTime):
		u, _ = quantity.LookupAs(epoch, quantity.Time)
		tc.scale, g.Unit = u.Factor, u.Symbol
		g.Why += "; counted from 1970 in " + u.Symbol
	case unit == "" && sure == 0:
		u, certain := timeUnitOf(t.cols[j][:t.rows])
		if u.Factor == 0 {
			return fail("the unit of time is not stated and cannot be told from the steps", "state it, such as --channel 'time="+g.Column+"[ms]'")
		}
		tc.scale, g.Unit = u.Factor, u.Symbol
		g.Sure = math.Min(g.Sure, certain)
		g.Why += fmt.Sprintf("; unit %s told from the steps", u.Symbol)
	default:
		if k, ok := quantity.Lookup(unit); ok && k.Dimension != quantity.Counts && k.Dimension != quantity.Number {
			return fail("unit "+k.Symbol+" is a "+k.Dimension.String()+", needed a time (s, ms, us, ns)", "")
		}
		if !(period > 0) {
			return tc, &ReadError{Column: g.Column, Problem: "counts up by one without a unit of time, and no sample period was stated",
				Advice: "state either, such as --log-period 1ms or --channel 'time=" + g.Column + "[ms]'", Timeless: true}
		}
		tc.scale, tc.count, g.Unit = period, true, "samples"
	}
	tc.guess = g
	return tc, nil
}
