package contact

import (
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// Cell is the load cell against the hydraulic force while pressing: what the
// force loop, which knows pressures only, does not see.
//
//	F_hydraulic = Scale·F_cell + Offset ± Hysteresis
type Cell struct {
	Scale      float64 // hydraulic force per force of the cell
	Offset     float64 // N, weight and friction's mean
	Hysteresis float64 // N, half the difference between force rising and easing off
	Residual   float64 // N, root mean square of what is left
}

// compareCell fits the load cell's force to the hydraulic force over the pressing
// stretches; nil where a load cell or the pressures are missing.
func compareCell(presses []Press, area plant.PerChamber[float64]) *Cell {
	var s cellSums
	for _, p := range presses {
		cell, ok := p.Trace.Samples(trace.Force)
		hyd, okF := force(p.Trace, area)
		if !ok || !okF || !p.Trace.Has(trace.CapPressure, trace.RodPressure) || area.Cap <= 0 {
			continue
		}
		half := int(math.Round(smoothing / p.Trace.Period()))
		for _, span := range outside(p.Span, p.Trace.Gaps()) {
			if span.Len() > 8*half+8 {
				s.add(smooth(cell[span.From:span.To], half), smooth(hyd[span.From:span.To], half), 2*half+1)
			}
		}
	}
	return s.solve()
}

// cellSums are the normal equations of F_hydraulic on (F_cell, 1, direction of change).
type cellSums struct {
	a [3][3]float64
	b [3]float64
	y float64
}

func (s *cellSums) add(cell, hyd []float64, step int) {
	low, high := extremes(cell)
	still := 0.002 * (high - low)
	for i := step; i+step < len(cell); i += step {
		change := cell[i+step] - cell[i-step]
		if math.Abs(change) < still {
			continue // at rest the friction may hold either way
		}
		row := [3]float64{cell[i], 1, math.Copysign(1, change)}
		for j := range row {
			for k := range row {
				s.a[j][k] += row[j] * row[k]
			}
			s.b[j] += row[j] * hyd[i]
		}
		s.y += hyd[i] * hyd[i]
	}
}

func (s *cellSums) solve() *Cell {
	n := s.a[1][1]
	if n < 20 {
		return nil
	}
	a, b := s.a, s.b
	for c := range 3 { // Gauss: the matrix is symmetric and positive, so no pivoting
		if a[c][c] <= 1e-9*s.a[c][c] {
			return nil // the force went one way only, or did not change
		}
		for r := c + 1; r < 3; r++ {
			f := a[r][c] / a[c][c]
			for k := c; k < 3; k++ {
				a[r][k] -= f * a[c][k]
			}
			b[r] -= f * b[c]
		}
	}
	var x [3]float64
	for c := 2; c >= 0; c-- {
		x[c] = b[c]
		for k := c + 1; k < 3; k++ {
			x[c] -= a[c][k] * x[k]
		}
		x[c] /= a[c][c]
	}
	rss := s.y
	for c := range x {
		rss -= x[c] * s.b[c]
	}
	return &Cell{Scale: x[0], Offset: x[1], Hysteresis: math.Abs(x[2]), Residual: math.Sqrt(math.Max(rss, 0) / n)}
}
