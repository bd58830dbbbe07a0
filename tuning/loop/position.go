package loop

import (
	"math"

	"eha/strokewise/ident/plant"
)

// Position is the position loop of the law at one place of the stroke, as it runs.
type Position struct {
	Axis Axis
	Hold Sampled // Delay is that from the rod's position to the drive, transducer included
	// PressureShare turns the pressure that Axis gives into the law's
	// p_cap - p_rod·A_rod/A_cap; PressureDelay (s) and PressureLag (s) stand
	// between it and the drive.
	PressureShare, PressureDelay, PressureLag float64

	Kp, Ki          float64 // 1/s, 1/s²
	Turns           float64 // rad/m
	PressureDamping float64 // rad/s per Pa
	Highpass        float64 // rad/s
	Lowpass         float64 // rad/s
}

// NewPosition returns the loop at a place of the model, run with the given outer
// delay (s), its settings still zero.
func NewPosition(m *plant.Model, at Place, outerDelay float64) Position {
	share := 1.0
	if at.Chamber == plant.Rod {
		share = m.Area.Rod / m.Area.Cap
	}
	toDrive := outerDelay + m.Drive.DeadTime
	return Position{
		Axis: NewAxis(m, at), Hold: Sampled{Period: m.ControllerPeriod, Delay: toDrive + m.TransducerDelay},
		PressureShare: share, PressureDelay: toDrive, PressureLag: m.PressureLag,
	}
}

// Plant returns the position read (m) over the speed command (rad/s) before
// filters, and the damping pressure (Pa) over the same.
func (p *Position) Plant(omega float64) (position, pressure complex128) {
	speed, active := p.Axis.At(omega)
	position = speed / complex(0, omega) * p.Hold.At(omega)
	if p.PressureDamping == 0 {
		return position, 0
	}
	hold := Sampled{p.Hold.Period, p.PressureDelay}
	return position, active * complex(p.PressureShare, 0) * hold.At(omega) / complex(1, omega*p.PressureLag)
}

// Open returns the loop broken at the speed command.
func (p *Position) Open(omega float64) complex128 {
	outer, inner := p.parts(omega)
	return outer + inner
}

// parts returns the paths through position and through pressure, gains and filter included.
func (p *Position) parts(omega float64) (outer, inner complex128) {
	outer, inner = p.Parts(omega)
	filter := p.Hold.Lowpass(p.Lowpass, omega)
	return outer * filter * p.Hold.PI(p.Kp, p.Ki, omega), inner * filter
}

// Parts returns the path through position with a gain of one, and the path through
// pressure, both before the low-pass.
func (p *Position) Parts(omega float64) (outer, inner complex128) {
	position, pressure := p.Plant(omega)
	outer = complex(p.Turns, 0) * position
	if p.PressureDamping != 0 {
		inner = complex(p.PressureDamping, 0) * (1 - p.Hold.Lowpass(p.Highpass, omega)) * pressure
	}
	return outer, inner
}

// Grid returns the frequencies (rad/s) to evaluate the loop on.
func (p *Position) Grid(f Fineness) []float64 {
	mode, top := p.Axis.Natural(), math.Pi/p.Hold.Period
	return ModeGrid(min(mode, top)/300, top, mode, f)
}

// Margins returns the loop's margins, broken at the speed command and, with
// pressure damping, at the position signal too: the worse of each counts.
func (p *Position) Margins(f Fineness) Margins {
	integrators := 1
	if p.Ki != 0 {
		integrators = 2
	}
	grid := p.Grid(f)
	m := Analyse(Loop{L: p.Open, Integrators: integrators}, grid)
	if p.PressureDamping == 0 || !m.Stable {
		return m
	}
	unstable := p.dampingPoles(grid)
	return m.worse(Analyse(Loop{Integrators: integrators, Unstable: unstable, L: func(omega float64) complex128 {
		outer, inner := p.parts(omega)
		return outer / (1 + inner)
	}}, grid))
}

// worse returns the worse of each margin.
func (m Margins) worse(o Margins) Margins {
	m.Stable = m.Stable && o.Stable
	if o.Gain < m.Gain {
		m.Gain, m.GainFreq = o.Gain, o.GainFreq
	}
	if o.Phase < m.Phase {
		m.Phase, m.PhaseFreq = o.Phase, o.PhaseFreq
	}
	if o.Sensitivity > m.Sensitivity {
		m.Sensitivity, m.PeakFreq = o.Sensitivity, o.PeakFreq
	}
	m.Delay = min(m.Delay, o.Delay)
	m.ComplementaryPeak = max(m.ComplementaryPeak, o.ComplementaryPeak)
	return m
}

// DampingStable reports whether the pressure path alone, kp at zero, is stable.
func (p *Position) DampingStable(f Fineness) bool { return p.dampingPoles(p.Grid(f)) == 0 }

// dampingPoles returns the number of unstable poles with the pressure path alone.
func (p *Position) dampingPoles(grid []float64) int {
	damping := func(omega float64) complex128 { _, inner := p.parts(omega); return inner }
	return unstablePoles(Loop{L: damping}, refine(damping, grid), 1)
}
