package sim

// delay is a delay line of any length, whole steps or not. Pushed once per step.
type delay struct {
	ring  []float64
	next  int
	whole int
	share float64 // of a step, beyond whole
}

// newDelay returns a line of the given length (steps) filled with value.
func newDelay(steps, value float64) delay {
	d := delay{whole: int(steps)}
	d.share = steps - float64(d.whole)
	size := 1
	for size < d.whole+2 {
		size *= 2
	}
	d.ring = make([]float64, size)
	for i := range d.ring {
		d.ring[i] = value
	}
	return d
}

func (d *delay) push(v float64) {
	d.ring[d.next] = v
	d.next = (d.next + 1) & (len(d.ring) - 1)
}

func (d *delay) back(steps int) float64 { return d.ring[(d.next-1-steps)&(len(d.ring)-1)] }

func (d *delay) last() float64 { return d.back(0) }

// out returns the delayed value: for a value held over each step the mean over
// the step, for samples of a smooth course the straight line between two.
func (d *delay) out() float64 {
	return (1-d.share)*d.back(d.whole) + d.share*d.back(d.whole+1)
}
