package balance

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/ident/window"
)

// pneumatic reads one log of a pneumatic cylinder moved slowly to and fro at one
// pressure, brought to an even sample period. Source: measured data in the public
// domain (CC0-1.0) from a repository of open hardware, with a README that states
// the check values; bore 25 mm.
func pneumatic(t *testing.T, file string) (tr *trace.Trace, pressure float64) {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "..", "shared", "data", "pneumatic_friction", file))
	if err != nil {
		t.Skip("open data not at hand: ", err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var columns [4][]float64
	for _, row := range rows[1:] {
		for c := range columns {
			v, err := strconv.ParseFloat(row[c], 64)
			if err != nil {
				t.Fatal(err)
			}
			columns[c] = append(columns[c], v)
		}
	}
	const period = 0.010
	n := int((columns[0][len(columns[0])-1] - columns[0][0]) / period)
	even := func(c int, scale float64) []float64 {
		out := make([]float64, n)
		k := 0
		for i := range out {
			at := columns[0][0] + float64(i)*period
			for k+2 < len(columns[0]) && columns[0][k+1] < at {
				k++
			}
			share := (at - columns[0][k]) / (columns[0][k+1] - columns[0][k])
			out[i] = scale * (columns[c][k] + share*(columns[c][k+1]-columns[c][k]))
		}
		return out
	}
	for _, p := range columns[2] {
		pressure += p / float64(len(columns[2]))
	}
	tr, err = trace.New(file, period, 0, map[trace.Channel][]float64{trace.RodPosition: even(1, 1e-3), trace.Force: even(3, 1)}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return tr, pressure * 1e5
}

// outside returns the spans in which x is not between low and high.
func outside(x []float64, low, high float64) []trace.Span {
	var spans []trace.Span
	for i, v := range x {
		if v < low || v > high {
			spans = append(spans, trace.Span{From: i, To: i + 1})
		}
	}
	return spans
}

// Area from the offset force against pressure, and friction at the speed of
// travel, by the entry that takes force and position alone. Check values and
// tolerances (area 2 %, friction 10 %) from the data's README, computed there
// with SciPy from samples faster than 2 mm/s between 5 and 32 mm.
func TestPneumaticCylinder(t *testing.T) {
	want := map[string]float64{"O-ring_1bar.csv": 5.6, "O-ring_3bar.csv": 7.5, "O-ring_5bar.csv": 9.0, "O-ring_7bar.csv": 10.8}
	var sp, spp, sf, spf, n float64
	for file, friction := range want {
		tr, pressure := pneumatic(t, file)
		x, _ := tr.Samples(trace.RodPosition)
		f, err := FromForceLogs([]Log{{Trace: tr, Exclude: outside(x, 5e-3, 32e-3)}})
		if err != nil {
			t.Fatal(err)
		}
		var speed, moving float64
		for i, v := range window.Rate(x, tr.Period(), 0.1) {
			if math.Abs(v) > 2e-3 && x[i] > 5e-3 && x[i] < 32e-3 {
				speed, moving = speed+math.Abs(v), moving+1
			}
		}
		near(t, file+": friction", f.Coulomb.Value+f.Viscous.Value*speed/moving, friction, 0.10)
		if f.Mass.Status == plant.Identified {
			t.Errorf("%s: mass %+v from travel at one slow speed", file, f.Mass)
		}
		sp, spp, sf, spf, n = sp+pressure, spp+pressure*pressure, sf+f.Offset.Value, spf+pressure*f.Offset.Value, n+1
	}
	area := (n*spf - sp*sf) / (n*spp - sp*sp)
	near(t, "area", area, 493.0e-6, 0.02)
}
