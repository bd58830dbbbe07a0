package sim

import (
	"math"
	"testing"
)

// Second order, times by natural frequency, computed (tolerance 1e-4 of the closed forms).
func TestSecondOrderFigures(t *testing.T) {
	for _, tc := range []struct{ zeta, overshoot, peak, rise, settle2, settle5 float64 }{
		{0.1, 72.9248, 3.15742, 1.10420, 38.38328, 28.96785}, {0.2, 52.6621, 3.20637, 1.20343, 19.60190, 13.74444},
		{0.3, 37.2326, 3.29328, 1.32134, 11.23008, 10.13709}, {0.4, 25.3827, 3.42776, 1.46349, 8.40932, 7.60878},
		{0.5, 16.3034, 3.62760, 1.63757, 8.07635, 5.28909}, {0.6, 9.4780, 3.92699, 1.85405, 5.94299, 5.22905},
		{0.7, 4.5988, 4.39911, 2.12620, 5.97879, 2.89982}, {0.7071, 4.3214, 4.44288, 2.14804, 5.96258, 2.92984},
		{0.8, 1.5165, 5.23599, 2.46749, 3.75584, 3.38535}, {0.9, 0.1524, 7.20731, 2.88296, 4.69960, 4.01434},
		{1, 0, 0, 3.35791, 5.83392, 4.74386}, {2, 0, 0, 8.22924, 14.87792, 11.45828},
	} {
		const period = 1e-3
		y := make([]float64, 80000)
		for i := range y {
			y[i] = 3 - 2*secondOrder(tc.zeta, float64(i)*period) // a step down from 3 to 1
		}
		f, f5 := StepFigures(y, period, 3, 1, 0.02), StepFigures(y, period, 3, 1, 0.05)
		for _, c := range []struct {
			what      string
			got, want float64
		}{{"overshoot", 100 * f.Overshoot, tc.overshoot}, {"rise", f.Rise, tc.rise}, {"settling 2 %", f.Settling, tc.settle2}, {"settling 5 %", f5.Settling, tc.settle5}} {
			if math.Abs(c.got-c.want) > 1e-4*math.Max(c.want, 1) {
				t.Errorf("zeta %g: %s %.5f, want %.5f", tc.zeta, c.what, c.got, c.want)
			}
		}
		if tc.peak > 0 && math.Abs(f.PeakTime-tc.peak) > period {
			t.Errorf("zeta %g: peak at %.5f, want %.5f", tc.zeta, f.PeakTime, tc.peak)
		}
	}
}

func secondOrder(zeta, t float64) float64 {
	switch {
	case zeta == 1:
		return 1 - (1+t)*math.Exp(-t)
	case zeta > 1:
		r := math.Sqrt(zeta*zeta - 1)
		a, b := zeta-r, zeta+r
		return 1 - (b*math.Exp(-a*t)-a*math.Exp(-b*t))/(b-a)
	}
	w := math.Sqrt(1 - zeta*zeta)
	return 1 - math.Exp(-zeta*t)*(math.Cos(w*t)+zeta/w*math.Sin(w*t))
}

// First order: rise ln 9, settling ln 50 and ln 20 time constants (closed form).
func TestFirstOrderFigures(t *testing.T) {
	y := make([]float64, 10000)
	for i := range y {
		y[i] = 1 - math.Exp(-float64(i)*1e-3)
	}
	f, f5 := StepFigures(y, 1e-3, 0, 1, 0.02), StepFigures(y, 1e-3, 0, 1, 0.05)
	if math.Abs(f.Rise-math.Log(9)) > 1e-5 || math.Abs(f.Settling-math.Log(50)) > 1e-5 || math.Abs(f5.Settling-math.Log(20)) > 1e-5 {
		t.Errorf("%+v, 5 %% in %g", f, f5.Settling)
	}
}

func TestFiguresThatDoNotExist(t *testing.T) {
	f := StepFigures([]float64{0, 0.2, 0.5, 0.5}, 1, 0, 1, 0.02)
	if !math.IsInf(f.Rise, 1) || !math.IsInf(f.Settling, 1) || f.Overshoot != 0 {
		t.Errorf("%+v, want no rise and no settling", f)
	}
	f = StepFigures([]float64{0, 1, 1.01}, 1, 0, 1, 0.02)
	if f.Settling != 0.98 {
		t.Errorf("settling %g, want 0.98", f.Settling)
	}
}

// The move ends where it should, and its speed is the slope of its distance.
func TestSmoothCourse(t *testing.T) {
	for _, tc := range []struct{ distance, speed, accel, jerk float64 }{
		{0.1, 0.1, 1, 20}, {0.001, 0.1, 1, 20}, {0.01, 0.1, 1, 20}, {-0.2, 0.3, 1, 2}, {0.05, 0.05, 100, 10},
	} {
		course, duration := SmoothAt(0.5, 0.2, 0.2+tc.distance, tc.speed, tc.accel, tc.jerk)
		before := course(0.5)
		if before.Position != 0.2 || before.Rate != 0 {
			t.Fatalf("begins with %+v", before)
		}
		const h = 1e-4
		accelBefore := 0.0
		for x := 0.5 + h; x < 0.5+duration+2*h; x += h {
			now := course(x)
			mean := (now.Position - before.Position) / h
			if math.Abs(mean-(now.Rate+before.Rate)/2) > 1e-4*tc.speed {
				t.Fatalf("%+v: at %g s speed %g, slope %g", tc, x, now.Rate, mean)
			}
			accel := (now.Rate - before.Rate) / h
			if math.Abs(now.Rate) > tc.speed*1.0001 || math.Abs(accel) > tc.accel*1.001 || math.Abs(accel-accelBefore) > tc.jerk*h*1.01 {
				t.Fatalf("%+v: at %g s speed %g, acceleration %g after %g", tc, x, now.Rate, accel, accelBefore)
			}
			before, accelBefore = now, accel
		}
		if math.Abs(before.Position-0.2-tc.distance) > 1e-12 {
			t.Errorf("%+v ends at %g", tc, before.Position)
		}
	}
}
