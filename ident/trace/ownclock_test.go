package trace

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// Each channel with a time column of its own is read at its own times: a rod sampled
// 0.4 ms later, every second row or from later on lies where it was.
func TestChannelsWithTimesOfTheirOwn(t *testing.T) {
	turns := func(s float64) float64 { return 20 * math.Sin(3*s) }
	mm := func(s float64) float64 { return 100 + 50*math.Sin(3*s+0.1) }
	const n, period = 2000, 1e-3
	for _, c := range []struct {
		name         string
		later        float64
		every        int
		rodFirst     bool
		missing      int // samples of the rod at the start
		counts, wrap float64
	}{
		{"0.4 ms later", 0.4e-3, 1, false, 1, 0, 0},
		{"half the rate", 0, 2, false, 0, 0, 0},
		{"half the rate, rod first", 0, 2, true, 0, 0, 0},
		{"later on", 0.25, 1, false, 250, 0, 0},
		{"an encoder that wraps", 0.4e-3, 1, false, 1, 4096, 65536},
	} {
		t.Run(c.name, func(t *testing.T) {
			var b strings.Builder
			names := []string{"t1 [s],motor position [rev]", "t2 [s],rod position [mm]"}
			if c.counts > 0 {
				names[0] = "t1 [s],motor position [counts]"
			}
			if c.rodFirst {
				names[0], names[1] = names[1], names[0]
			}
			b.WriteString(names[0] + "," + names[1] + "\n")
			for i := range n {
				s := float64(i) * period
				motor, rod := fmt.Sprintf("%.5f,%.6f", s, turns(s)), ","
				if c.counts > 0 {
					v := math.Round(turns(s) * c.counts)
					motor = fmt.Sprintf("%.5f,%.0f", s, v-c.wrap*math.Floor(v/c.wrap))
				}
				if own := float64(i*c.every)*period + c.later; i*c.every < n {
					rod = fmt.Sprintf("%.5f,%.5f", own, mm(own))
				}
				if c.rodFirst {
					motor, rod = rod, motor
				}
				b.WriteString(motor + "," + rod + "\n")
			}
			opt := ReadOptions{}
			if c.counts > 0 {
				opt.Columns = map[Channel]Column{MotorPosition: {Unit: "counts", CountsPerRev: c.counts}}
			}
			r := readText(t, b.String(), opt)
			if r.Trace.Len() != n || math.Abs(r.Trace.Period()-period) > 1e-9 || len(r.Unused) > 0 {
				t.Fatalf("%d samples of %g s, unused %v; want %d of 1 ms, none", r.Trace.Len(), r.Trace.Period(), r.Unused, n)
			}
			x, _ := r.Trace.Samples(RodPosition)
			m, _ := r.Trace.Samples(MotorPosition)
			for i := c.missing; i < n-2; i++ {
				s := float64(i) * period
				// A line over 2 ms of this wave is off by at most 50·3²·0.002²/8 mm, the cells by 1e-5 mm.
				if math.Abs(x[i]*1e3-mm(s)) > 0.3e-3 {
					t.Fatalf("rod %d is %g mm, want %g", i, x[i]*1e3, mm(s))
				}
				if d := (m[i]-m[0])/(2*math.Pi) - turns(s); math.Abs(d) > 2e-4 {
					t.Fatalf("motor %d is off by %g rev", i, d)
				}
			}
			if held := len(r.Held) == 1 && r.Held[0].Channel == RodPosition; held != (c.every == 2) {
				t.Errorf("held %v", r.Held)
			}
		})
	}
}

// A second time that counts from another moment is no clock of a channel's own.
func TestASecondTimeFromAnotherMoment(t *testing.T) {
	var b strings.Builder
	b.WriteString("Time [s],motor_position_rev,Time of day [s],rod_position_mm\n")
	for i := range 200 {
		fmt.Fprintf(&b, "%.3f,%d,%.1f,%d\n", float64(i)*1e-3, i, 43200+math.Floor(float64(i)*1e-2)/10, 3*i)
	}
	r := readText(t, b.String(), ReadOptions{})
	x, _ := r.Trace.Samples(RodPosition)
	if math.Abs(x[150]-0.45) > 1e-12 || len(r.Unused) != 1 {
		t.Errorf("rod %g m, unused %v; want 0.45 m as in its row, the time of day", x[150], r.Unused)
	}
}

// Whole seconds over three of them do not tell that rows are 2 ms apart; a stated period does.
func TestStampsTooCoarseToTellThePeriod(t *testing.T) {
	var b strings.Builder
	b.WriteString("Timestamp,motor_position_rev\n")
	for i := range 1500 {
		fmt.Fprintf(&b, "2026-03-09 10:00:%02d,%d\n", (i+100)/500, i)
	}
	if err := refused(t, b.String()); !strings.Contains(err.Error(), "do not tell the sample period") || !err.Timeless {
		t.Errorf("error %v", err)
	}
	if r := readText(t, b.String(), ReadOptions{Period: 2e-3}); r.Trace.Period() != 2e-3 || r.Trace.Len() != 1500 {
		t.Errorf("%d samples of %g s, want 1500 of 2 ms", r.Trace.Len(), r.Trace.Period())
	}
}
