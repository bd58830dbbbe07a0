package trace

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// driven writes a log in which a motor moves a rod of 300 mm stroke to and fro, the
// motor slipping on while the rod stands at its stops; low and high (mm) are what
// stops it, and the transducer reads offset (mm) too much.
func driven(low, high, offset, sign float64) string {
	rng := rand.New(rand.NewPCG(41, 42))
	var b strings.Builder
	b.WriteString("time_s,motor_position_rev,rod_position_mm,position_command_mm\n")
	turns, x := 0.0, 150.0
	for i := range 30_000 {
		speed := 20 * math.Copysign(1, math.Sin(float64(i)*2e-3*0.35)) // rev/s
		if i > 25_000 {
			speed = 0
		}
		next := x + 2.5*speed*2e-3
		if next < low || next > high {
			speed *= 0.2 // only slip is left
			next = math.Max(low, math.Min(high, next))
		}
		turns += speed * 2e-3
		x = next
		fmt.Fprintf(&b, "%.3f,%.4f,%.3f,%.3f\n", float64(i)*2e-3, turns, sign*(x+offset)+0.01*rng.NormFloat64(), sign*(x+offset))
	}
	return b.String()
}

func TestZeroIsFoundFromTheEndStops(t *testing.T) {
	r := readText(t, driven(0, 300, 12.4, 1), ReadOptions{Stroke: 0.3})
	// The least of the block means lies a few hundredths of the noise below.
	if math.Abs(r.ZeroShift+0.0124) > 2e-5 {
		t.Fatalf("shift %g m, want -12.4 mm", r.ZeroShift)
	}
	x, _ := r.Trace.Samples(RodPosition)
	c, _ := r.Trace.Samples(PositionCommand)
	low, high := math.Inf(1), math.Inf(-1)
	for i := range x {
		low, high = math.Min(low, x[i]), math.Max(high, x[i])
		if math.Abs(x[i]-c[i]) > 1e-4 {
			t.Fatalf("sample %d: position %g and its command %g part", i, x[i], c[i])
		}
	}
	if math.Abs(low) > 1e-4 || math.Abs(high-0.3) > 1e-4 {
		t.Errorf("the rod goes from %g to %g m, want 0 to 0.3", low, high)
	}
}

func TestZeroIsNotInvented(t *testing.T) {
	cases := []struct {
		name string
		text string
		opt  ReadOptions
	}{
		{"stroke unknown", driven(0, 300, 12.4, 1), ReadOptions{}},
		{"zero is right already", driven(0, 300, 0.3, 1), ReadOptions{Stroke: 0.3}},
		{"a work piece on the way", driven(0, 260, 12.4, 1), ReadOptions{Stroke: 0.3}},
		{"soft limits, never at the stops", driven(-1e9, 1e9, 12.4, 1), ReadOptions{Stroke: 0.3}},
		{"transducer the wrong way round", driven(0, 300, 12.4, -1), ReadOptions{Stroke: 0.3}},
		{"offset stated", driven(0, 300, 12.4, 1), ReadOptions{Stroke: 0.3, Columns: map[Channel]Column{RodPosition: {Header: "rod_position", Unit: "mm", Offset: -0.010}}}},
	}
	for _, c := range cases {
		if r := readText(t, c.text, c.opt); r.ZeroShift != 0 {
			t.Errorf("%s: shifted by %g m", c.name, r.ZeroShift)
		}
	}
}

// The zero belongs to the transducer, so that a log of the same machine that reaches no stop
// takes it over, unless it would leave the stroke by it or another column was read.
func TestZeroIsSharedByLogsOfOneMachine(t *testing.T) {
	opt := ReadOptions{Stroke: 0.3}
	read := func(low, high, offset float64) *Reading { return readText(t, driven(low, high, offset, 1), opt) }
	stops, inside, outside := read(0, 300, 12.4), read(60, 250, 12.4), read(60, 250, -80)
	other := readText(t, strings.Replace(driven(60, 250, 12.4, 1), "rod_position_mm", "cylinder position [mm]", 1), opt)
	before, _ := inside.Trace.Samples(RodPosition)
	first := before[0]
	ShareZero([]*Reading{stops, inside, outside, other}, opt)
	if inside.ZeroShift != stops.ZeroShift || inside.ZeroFrom != stops.Trace.Name() {
		t.Errorf("shift %g m from %q, want %g", inside.ZeroShift, inside.ZeroFrom, stops.ZeroShift)
	}
	if after, _ := inside.Trace.Samples(RodPosition); math.Abs(after[0]-first-stops.ZeroShift) > 1e-12 {
		t.Errorf("the rod went from %g to %g m", first, after[0])
	}
	if outside.ZeroShift != 0 || other.ZeroShift != 0 {
		t.Errorf("shifts %g and %g m, want none outside the stroke and on another column", outside.ZeroShift, other.ZeroShift)
	}
	disagrees := read(0, 300, 40)
	late := read(60, 250, 12.4)
	ShareZero([]*Reading{stops, disagrees, late}, opt)
	if late.ZeroShift != 0 {
		t.Errorf("a zero was taken from logs that disagree")
	}
}
