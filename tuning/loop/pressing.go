package loop

import (
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
)

// Pressing is the force loop of the law while the rod presses on a contact, as it
// runs. With p the pressure in the chamber that presses and x the rod's travel
//
//	(m s² + b s + k)·x = A p,  (C s + L)·p = D n - A s x,  F = A p
//
// A rod that friction holds has an infinite contact stiffness k: then p = D n/(C s + L).
type Pressing struct {
	Axis        Axis
	Stiffness   float64 // N/m of the contact, +Inf where the rod sticks
	Hold        Sampled // Delay is that from the chamber's pressure to the drive
	PressureLag float64 // s

	Kp, Ki  float64 // rad/s per N, rad/s² per N
	Lowpass float64 // rad/s, on the measured force
}

// NewPressing returns the loop at a place of the model, run with the given outer
// delay (s), its settings still zero.
func NewPressing(m *plant.Model, at Place, stiffness, outerDelay float64) Pressing {
	return Pressing{
		Axis: NewAxis(m, at), Stiffness: stiffness, PressureLag: m.PressureLag,
		Hold: Sampled{Period: m.ControllerPeriod, Delay: outerDelay + m.Drive.DeadTime},
	}
}

// LeakCorner returns the frequency (rad/s) below which slip holds the force
// instead of storing it, L k_s/A², with k_s oil and contact in series.
func (p *Pressing) LeakCorner() float64 {
	a := &p.Axis
	oil := a.Area * a.Area / a.Compliance
	series := oil
	if !math.IsInf(p.Stiffness, 1) {
		series = oil * p.Stiffness / (oil + p.Stiffness)
	}
	return a.Leakage * series / (a.Area * a.Area)
}

// Natural returns the undamped frequency (rad/s) of the mass between oil and contact with the motor held.
func (p *Pressing) Natural() float64 {
	a := &p.Axis
	k := a.Area * a.Area / a.Compliance
	if !math.IsInf(p.Stiffness, 1) {
		k += p.Stiffness
	}
	return math.Sqrt(k / a.Mass)
}

// Plant returns the force read (N) over the speed command (rad/s).
func (p *Pressing) Plant(omega float64) complex128 {
	a, s := &p.Axis, complex(0, omega)
	flow := complex(a.Leakage, omega*a.Compliance)
	if !math.IsInf(p.Stiffness, 1) {
		flow += complex(a.Area*a.Area, 0) * s / complex(p.Stiffness-a.Mass*omega*omega, a.Viscous*omega)
	}
	pressure := complex(a.Displacement, 0) / flow
	drive := complex(a.Omega*a.Omega-omega*omega, 2*a.Zeta*a.Omega*omega)
	motor := complex(a.Omega*a.Omega, 0) / (drive + complex(a.LoadAccel, 0)*s*pressure)
	return complex(a.Area, 0) * pressure * motor * p.Hold.At(omega) / complex(1, omega*p.PressureLag)
}

// Open returns the loop broken at the speed command.
func (p *Pressing) Open(omega float64) complex128 {
	return p.Hold.PI(p.Kp, p.Ki, omega) * p.Hold.Lowpass(p.Lowpass, omega) * p.Plant(omega)
}

// Grid returns the frequencies (rad/s) to evaluate the loop on.
func (p *Pressing) Grid(f Fineness) []float64 {
	top := math.Pi / p.Hold.Period
	low := math.Min(p.Axis.Leakage/p.Axis.Compliance, p.LeakCorner())
	if !(low > 1e-3) {
		low = 1e-3
	}
	return ModeGrid(math.Min(low/30, top/1e4), top, p.Natural(), f)
}

// Margins returns the loop's margins.
func (p *Pressing) Margins(f Fineness) Margins {
	return Analyse(Loop{L: p.Open, Integrators: p.integrators()}, p.Grid(f))
}

// integrators counts the poles at the origin: the controller's, and the oil's
// where nothing leaks.
func (p *Pressing) integrators() int {
	n := 0
	if p.Ki != 0 {
		n++
	}
	if p.Axis.Leakage == 0 {
		n++
	}
	return n
}

// PermittedGains returns the kp (rad/s per N) that keep the targets with ki =
// ratio·kp (1/s), as disjoint intervals.
func (p Pressing) PermittedGains(ratio float64, t law.Targets, f Fineness) []Interval {
	p.Kp, p.Ki = 1, ratio
	grid := p.Grid(f)
	g := make([]complex128, len(grid))
	for i, omega := range grid {
		g[i] = p.Open(omega)
	}
	return PermittedGains(grid, g, p.integrators(), t)
}

// Common returns what two lists of disjoint intervals, each from small to large, share.
func Common(a, b []Interval) []Interval {
	var both []Interval
	for i, j := 0, 0; i < len(a) && j < len(b); {
		if low, high := max(a[i].Low, b[j].Low), min(a[i].High, b[j].High); low < high {
			both = append(both, Interval{low, high})
		}
		if a[i].High < b[j].High {
			i++
		} else {
			j++
		}
	}
	return both
}
