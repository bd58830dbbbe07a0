package quality

import (
	"math"

	"eha/strokewise/ident/trace"
)

// table gathers rows of a relation.
type table struct{ columns [][]float64 }

func (t *table) add(values ...float64) {
	if t.columns == nil {
		t.columns = make([][]float64, len(values))
	}
	for j, y := range values {
		t.columns[j] = append(t.columns[j], y)
	}
}

// torqueRelation is the balance of torques of motor and pump. With i the current or
// torque, n the motor speed and p the pressure across the pump
//
//	∫i = J·Δn + D·∫p + e·∫|p|·sgn n + f·sgn n·T + b·Δθ + c·T - τ·Δi
//
// nothing of which takes time, so that τ is a lag of sensor and clock.
func torqueRelation(of trace.Channel) relation {
	return relation{
		late: [][]trace.Channel{{of}},
		rows: func(f *fineFrames, starts []int, w int) ([][]float64, []float64) {
			var t table
			var y []float64
			i, p1, p2, theta := f.of[of], f.of[trace.CapPressure], f.of[trace.RodPressure], f.theta()
			span := float64(w) * f.dt
			for _, k := range starts {
				sign := math.Copysign(1, theta[k+w]-theta[k])
				across := f.integral(p1, k, w) - f.integral(p2, k, w)
				y = append(y, f.integral(i, k, w))
				t.add(change(i, k, w), across, f.rate(theta, k+w)-f.rate(theta, k), sign*math.Abs(across), sign*span, change(theta, k, w), span)
			}
			return t.columns, y
		},
		lags: func(x []float64) []float64 { return []float64{-x[0]} },
	}
}

// forceRelation is the balance of forces at the piston, F of the areas and pressures, δ
// the lag of both pressures behind the rod position x:
//
//	∫F = m·Δv + b·Δx + f·sgn v·T + c·T + k·∫x - δ·ΔF
func forceRelation(areaCap, areaRod float64) relation {
	return relation{
		late: [][]trace.Channel{{trace.CapPressure, trace.RodPressure}},
		rows: func(f *fineFrames, starts []int, w int) ([][]float64, []float64) {
			var t table
			var y []float64
			p1, p2, x, theta := f.of[trace.CapPressure], f.of[trace.RodPressure], f.of[trace.RodPosition], f.theta()
			span := float64(w) * f.dt
			for _, k := range starts {
				y = append(y, areaCap*f.integral(p1, k, w)-areaRod*f.integral(p2, k, w))
				t.add(areaCap*change(p1, k, w)-areaRod*change(p2, k, w), f.rate(x, k+w)-f.rate(x, k), change(x, k, w),
					math.Copysign(span, theta[k+w]-theta[k]), span, span*(x[k]+x[k+w])/2)
			}
			return t.columns, y
		},
		lags: func(x []float64) []float64 { return []float64{-x[0]} },
	}
}

// forceRelationApart is forceRelation with a lag of its own for each pressure:
//
//	∫F = … - δ_cap·A_cap·Δp_cap + δ_rod·A_rod·Δp_rod
func forceRelationApart(areaCap, areaRod float64) relation {
	r := forceRelation(areaCap, areaRod)
	together := r.rows
	r.late = [][]trace.Channel{{trace.CapPressure}, {trace.RodPressure}}
	r.rows = func(f *fineFrames, starts []int, w int) ([][]float64, []float64) {
		columns, y := together(f, starts, w)
		first, second := make([]float64, len(starts)), make([]float64, len(starts))
		for i, k := range starts {
			first[i], second[i] = areaCap*change(f.of[trace.CapPressure], k, w), -areaRod*change(f.of[trace.RodPressure], k, w)
		}
		return append([][]float64{first, second}, columns[1:]...), y
	}
	r.lags = func(x []float64) []float64 { return []float64{-x[0], -x[1]} }
	return r
}

// flowRelation is the travel that turns and oil make: with x the rod position, s the
// stroke per turn of each direction, τ the lag of rod and pressures behind the encoder, e slip,
// c_i + d_i·x what the oil of either side takes up and g_i what free air does
//
//	Δx = s·(Δθ - τ·Δn) - e·∫(p1-p2) - Σ (c_i + d_i·x)·Δp_i - Σ g_i·Δln(p_i)
//
// Without pressures only s, τ and a constant are left, and what the oil takes up looks like a lag.
func flowRelation(pressures bool) relation {
	return relation{
		late: [][]trace.Channel{{trace.RodPosition, trace.CapPressure, trace.RodPressure}},
		rows: func(f *fineFrames, starts []int, w int) ([][]float64, []float64) {
			var t table
			var y []float64
			x, theta, p1, p2 := f.of[trace.RodPosition], f.theta(), f.of[trace.CapPressure], f.of[trace.RodPressure]
			for _, k := range starts {
				turned := change(theta, k, w)
				var way [2]float64
				way[int(extendOrRetract(turned))] = turned
				y = append(y, change(x, k, w))
				row := []float64{way[0], way[1], f.rate(theta, k+w) - f.rate(theta, k)}
				if pressures {
					place := (x[k] + x[k+w]) / 2
					d1, d2 := change(p1, k, w), change(p2, k, w)
					row = append(row, f.integral(p1, k, w)-f.integral(p2, k, w), d1, d2, place*d1, place*d2, airs(p1, k, w), airs(p2, k, w))
				} else {
					row = append(row, float64(w)*f.dt)
				}
				t.add(row...)
			}
			return t.columns, y
		},
		lags: func(x []float64) []float64 { return []float64{-2 * x[2] / (x[0] + x[1])} },
	}
}

// airs is what free air takes up beside the oil, up to a factor: the change of the
// logarithm of the absolute pressure, as of gas at constant temperature.
func airs(p []float64, k, w int) float64 {
	const atmosphere = 101325.0
	abs := func(k int) float64 { return math.Max(level(p, k)+atmosphere, 0.3*atmosphere) }
	return 1e5 * math.Log(abs(k+w)/abs(k))
}

// cellRelation is the balance of forces between piston and load cell:
//
//	∫F = a1·∫p1 - a2·∫p2 - f·sgn v·T - b·Δx - m·Δv + c·T - τ·ΔF
func cellRelation() relation {
	return relation{
		late: [][]trace.Channel{{trace.Force}},
		rows: func(f *fineFrames, starts []int, w int) ([][]float64, []float64) {
			var t table
			var y []float64
			cell, p1, p2, theta := f.of[trace.Force], f.of[trace.CapPressure], f.of[trace.RodPressure], f.theta()
			span := float64(w) * f.dt
			for _, k := range starts {
				y = append(y, f.integral(cell, k, w))
				t.add(change(cell, k, w), f.integral(p1, k, w), f.integral(p2, k, w), math.Copysign(span, theta[k+w]-theta[k]),
					change(theta, k, w), f.rate(theta, k+w)-f.rate(theta, k), span)
			}
			return t.columns, y
		},
		lags: func(x []float64) []float64 { return []float64{-x[0]} },
	}
}

// speedRelation compares the speed that the drive reports with the encoder:
//
//	∫y = a·Δθ + c·T - τ·Δy
func speedRelation() relation {
	return relation{
		late: [][]trace.Channel{{trace.MotorSpeed}},
		rows: func(f *fineFrames, starts []int, w int) ([][]float64, []float64) {
			var t table
			var y []float64
			n, theta := f.of[trace.MotorSpeed], f.theta()
			for _, k := range starts {
				y = append(y, f.integral(n, k, w))
				t.add(change(n, k, w), change(theta, k, w), float64(w)*f.dt)
			}
			return t.columns, y
		},
		lags: func(x []float64) []float64 { return []float64{-x[0]} },
	}
}
