// Package plant holds the machine as numbers: parameters with their intervals,
// the equations of the compact model and its linearisation. Nothing is fitted here.
package plant

// Chamber is one side of the cylinder.
type Chamber int

// The chambers.
const (
	Cap Chamber = iota
	Rod
)

// String returns "cap" or "rod".
func (c Chamber) String() string { return [...]string{"cap", "rod"}[c] }

// Other returns the opposite chamber.
func (c Chamber) Other() Chamber { return 1 - c }

// Direction is a direction of travel of the rod.
type Direction int

// The directions.
const (
	Extend Direction = iota
	Retract
)

// String returns "extend" or "retract".
func (d Direction) String() string { return [...]string{"extend", "retract"}[d] }

// Sign returns +1 for Extend and -1 for Retract.
func (d Direction) Sign() float64 { return 1 - 2*float64(d) }

// PerChamber holds one value for each chamber.
type PerChamber[T any] struct{ Cap, Rod T }

// At returns the value of the chamber.
func (p PerChamber[T]) At(c Chamber) T {
	if c == Rod {
		return p.Rod
	}
	return p.Cap
}

// Set changes the value of the chamber.
func (p *PerChamber[T]) Set(c Chamber, v T) {
	if c == Rod {
		p.Rod = v
	} else {
		p.Cap = v
	}
}

// PerDirection holds one value for each direction of travel.
type PerDirection[T any] struct{ Extend, Retract T }

// At returns the value of the direction.
func (p PerDirection[T]) At(d Direction) T {
	if d == Retract {
		return p.Retract
	}
	return p.Extend
}

// Set changes the value of the direction.
func (p *PerDirection[T]) Set(d Direction, v T) {
	if d == Retract {
		p.Retract = v
	} else {
		p.Extend = v
	}
}

// Status says how far an estimate may be trusted. The zero value is Missing.
type Status int

// The statuses, from nothing to best.
const (
	Missing    Status = iota // the logs cannot tell; From names the move to log
	Assumed                  // a typical value, with the band it was assumed in
	Given                    // from the machine file
	Weak                     // found, but the interval is wide
	Identified               // found
)

// String returns the status as the JSON results spell it.
func (s Status) String() string {
	return [...]string{"missing", "assumed", "given", "weak", "identified"}[s]
}

// Estimate is a number with its 95 % interval, in SI units, and where it comes from.
// With status Missing the numbers mean nothing and are zero.
type Estimate struct {
	Value, Low, High float64
	Status           Status
	// From says in words what the number was found from, or for a missing one
	// which move to log.
	From string
}

// Known reports whether there is a number at all.
func (e Estimate) Known() bool { return e.Status != Missing }

// HalfWidth returns half the interval.
func (e Estimate) HalfWidth() float64 { return (e.High - e.Low) / 2 }

// Sigma returns the standard deviation of a normal distribution with that 95 % interval.
func (e Estimate) Sigma() float64 { return e.HalfWidth() / 1.959963985 }

// MissingFrom returns a missing estimate that names what would supply it.
func MissingFrom(move string) Estimate { return Estimate{From: move} }
