package twin

import "fmt"

// Kind is a family of machines that Random draws from.
type Kind int

// The kinds of machines.
const (
	Resisting   Kind = iota // a load resists extending, the cap side carries both ways
	Overrunning             // a load pulls the rod out, the rod side carries both ways
	Swap                    // load near zero: the carrying chamber changes with direction
	Vertical                // a hanging or standing weight
	Heavy                   // large mass, low resonance
	Remote                  // power unit at the end of hoses
	Tiny                    // small cylinder, light load
	SlowLog                 // logged every 2 to 4 ms
	Noisy                   // poor sensors
	NoPressures             // pressures not logged
	Pressing                // presses on a work piece
	Rough                   // friction, slip and air behave as the fitted model does not know
	numKinds
)

// Warming machines log the oil's temperature, which rises along the log and thins the
// oil. They are no part of Kinds: they are asked for by name.
const Warming = numKinds

var kindNames = [numKinds + 1]string{"resisting", "overrunning", "swap", "vertical", "heavy", "remote", "tiny", "slowlog", "noisy", "nopressures", "pressing", "rough", "warming"}

// String returns the kind's name as the ensemble command takes it.
func (k Kind) String() string { return kindNames[k] }

// Kinds returns every kind.
func Kinds() []Kind {
	all := make([]Kind, numKinds)
	for i := range all {
		all[i] = Kind(i)
	}
	return all
}

// ParseKind returns the kind of that name.
func ParseKind(name string) (Kind, error) {
	for i, n := range kindNames {
		if n == name {
			return Kind(i), nil
		}
	}
	return 0, fmt.Errorf("twin: kind %q: not one of %v", name, kindNames)
}
