package balance

import (
	"math"

	"eha/strokewise/ident/window"
)

// rows is the balance of forces with one entry per window, every column divided
// by the bump's area so that force is in N, speed in m/s and so on.
type rows struct {
	width                     float64 // s, of the windows
	force, accel, speed, jerk []float64
	flow                      []float64 // motor speed times its magnitude ((rad/s)²); nil where a log has no encoder
	slope, bend               []float64 // position, -1 to 1 over the travel, and its square less a third
	position                  []float64 // m
	direction                 []int     // 0 extending, 1 retracting
	block                     []int
	instruments               [][]float64 // nil where a log has no encoder
	// noise and jerkNoise are the sums over all windows of the variance that the
	// transducer's noise gives acceleration ((m/s²)²) and jerk ((m/s³)²).
	noise, jerkNoise float64
}

// blockLength (s) is that of the stretches whose windows count as dependent.
const blockLength = 1.0

// collect returns the rows of all windows of the width (s) over which the rod
// keeps moving one way faster than low and, at the middle, slower than high (m/s).
func (s *survey) collect(width, low, high float64) *rows {
	all := &rows{width: width}
	var classes []instrumentSet
	block := 0
	for _, r := range s.records {
		slider := window.NewSlider(4, width, s.stride, r.period, len(r.position))
		windows, group := r.choose(slider, low, high)
		if len(windows) == 0 {
			continue
		}
		all.add(s, r, slider, windows, group, block)
		block = all.block[len(all.block)-1] + 1
		classes = append(classes, r.instruments(slider, windows, group))
	}
	all.instruments = joinInstruments(classes)
	return all
}

// choose returns the windows to use and the direction of each.
func (r *record) choose(slider *window.Slider, low, high float64) (windows, group []int) {
	usable := r.mask.Usable(slider)
	side := window.Side(slider, r.speed, low)
	for w, ok := range usable {
		if !ok || side[w] == 0 || math.Abs(r.speed[slider.Middle(w)]) > high {
			continue
		}
		windows = append(windows, w)
		group = append(group, (1-side[w])/2)
	}
	return windows, group
}

func (a *rows) add(s *survey, r *record, slider *window.Slider, windows, group []int, block int) {
	unit := r.unit(slider)
	column := func(y []float64, k int) []float64 {
		c := window.Pick(slider.Slide(y, k), windows)
		for i := range c {
			c[i] /= unit
		}
		return c
	}
	position := column(r.position, 0)
	white := float64(len(windows)) * r.noise() / (unit * unit)
	gain := func(k int) float64 { return math.Pow(slider.Noise(k, 0), 2) }
	a.noise += white * gain(2)
	a.jerkNoise += white * gain(3)
	a.force = append(a.force, column(r.force, 0)...)
	speed := column(r.position, 1)
	a.speed = append(a.speed, speed...)
	a.accel = append(a.accel, column(r.position, 2)...)
	a.jerk = append(a.jerk, column(r.position, 3)...)
	a.position = append(a.position, position...)
	a.direction = append(a.direction, group...)
	if r.angle != nil {
		for _, n := range column(r.angle, 1) {
			a.flow = append(a.flow, n*math.Abs(n))
		}
	}
	perBlock := blockLength / (float64(slider.Stride()) * r.period)
	for i, x := range position {
		xi := (x - s.center) / s.reach
		a.slope = append(a.slope, xi)
		a.bend = append(a.bend, xi*xi-1.0/3)
		a.block = append(a.block, block+int(float64(windows[i])/perBlock))
	}
}

// unit returns the area of the slider's bump (s).
func (r *record) unit(slider *window.Slider) float64 {
	one := make([]float64, slider.Samples())
	for i := range one {
		one[i] = 1
	}
	return window.NewSlider(4, float64(len(one)-1)*r.period, r.period, r.period, len(one)).Slide(one, 0)[0]
}

// noise returns the variance (m²) of the position's noise, taken as white, from
// its fourth differences while the rod moves: quantisation hides it at rest.
func (r *record) noise() float64 {
	var sum, n float64
	x := r.position
	for i := 2; i+2 < len(x); i++ {
		if x[i+2] == x[i-2] || r.mask.Bad(i) {
			continue
		}
		d := x[i-2] - 4*x[i-1] + 6*x[i] - 4*x[i+1] + x[i+2]
		sum, n = sum+d*d, n+1
	}
	if n == 0 {
		return 0
	}
	return sum / n / 70 // 1 + 16 + 36 + 16 + 1
}

// instrumentSet holds the instruments of one log; logs with the same distance
// of windows share columns.
type instrumentSet struct {
	step    float64 // s; 0 without an encoder
	columns [][]float64
	rows    int
}

func (r *record) instruments(slider *window.Slider, windows, group []int) instrumentSet {
	set := instrumentSet{rows: len(windows)}
	if r.angle == nil {
		return set
	}
	set.step = float64(slider.Stride()) * r.period
	sources := [][]float64{slider.Slide(r.angle, 1), slider.Slide(r.angle, 2)}
	set.columns = window.Instruments(slider, sources, windows, group, 2)
	return set
}

// joinInstruments puts the logs' instruments one behind the other. Without an
// encoder in every log there are none.
func joinInstruments(sets []instrumentSet) [][]float64 {
	total := 0
	for _, set := range sets {
		if set.step == 0 {
			return nil
		}
		total += set.rows
	}
	var joined [][]float64
	first := map[float64]int{} // of each step's columns
	row := 0
	for _, set := range sets {
		at, seen := first[set.step]
		if !seen {
			at = len(joined)
			first[set.step] = at
			for range set.columns {
				joined = append(joined, make([]float64, total))
			}
		}
		for j, c := range set.columns {
			copy(joined[at+j][row:], c)
		}
		row += set.rows
	}
	return joined
}

// bothWays reports whether there is travel in both directions.
func (a *rows) bothWays() bool {
	var n [2]int
	for _, d := range a.direction {
		n[d]++
	}
	return min(n[0], n[1]) >= 20
}

// sign returns the column that is v where the rod extends and -v where it retracts.
func (a *rows) sign() []float64 {
	c := make([]float64, len(a.direction))
	for i, d := range a.direction {
		c[i] = 1 - 2*float64(d)
	}
	return c
}

func (a *rows) ones() []float64 {
	c := make([]float64, len(a.direction))
	for i := range c {
		c[i] = 1
	}
	return c
}
