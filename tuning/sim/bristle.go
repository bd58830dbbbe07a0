package sim

import (
	"math"

	"eha/strokewise/ident/plant"
)

// bristle is friction as elastic bristles that bend before they slide: C. Canudas de
// Wit, H. Olsson, K. J. Åström and P. Lischinsky, "A new model for control of systems
// with friction", IEEE Trans. Automatic Control 40(3), 1995 (form from memory):
//
//	z' = v - σ0 |v|/g(v)·z,  F = σ0 z + σ1 z',  g = Fc + (Fs - Fc) e^(-(v/vs)²)
type bristle struct {
	z              float64 // m
	coulomb        plant.PerDirection[float64]
	breakaway      float64
	stribeck       float64
	stiff, damping float64
}

// bristleDeflection is how far bristles bend before they let go (m): found to
// tell hunting from rest best on simulated machines.
const bristleDeflection = 12e-6

func newBristle(m *plant.Model, mass float64) *bristle {
	b := &bristle{coulomb: m.Coulomb, breakaway: max(m.Breakaway, m.Coulomb.Extend, m.Coulomb.Retract), stribeck: max(m.StribeckSpeed, 1e-4)}
	b.stiff = b.breakaway / bristleDeflection
	b.damping = 0.5 * math.Sqrt(b.stiff*mass)
	return b
}

// advance returns the speed (m/s) after one step under the pull (N).
func (b *bristle) advance(v, pull, viscous, mass, h float64) float64 {
	level := b.coulomb.Extend
	if v < 0 {
		level = b.coulomb.Retract
	}
	fall := math.Exp(-v * v / (b.stribeck * b.stribeck))
	level += (b.breakaway - level) * fall
	if b.stiff == 0 || level == 0 {
		return (v + h/mass*pull) / (1 + h*viscous/mass)
	}
	before := b.z
	b.z = (b.z + h*v) / (1 + h*b.stiff*math.Abs(v)/level)
	friction := b.stiff*b.z + b.damping*fall*(b.z-before)/h
	return (v + h/mass*(pull-friction)) / (1 + h*viscous/mass)
}
