package machine

import (
	"fmt"
	"math"

	"eha/strokewise/ident/quantity"
)

// Check returns an error that names the first entry that Parse would not take, for
// a machine that comes from elsewhere than a machine file. Entries that are zero are
// not stated. The channels are not looked at.
func (m *Machine) Check() error {
	for _, key := range sortedKeys(fields) {
		f := fields[key]
		if err := f.judge(*f.at(m)); err != nil {
			return fmt.Errorf("machine: %s: %w", key, err)
		}
	}
	for _, key := range sortedKeys(ranges) {
		r := ranges[key]
		pair := *r.at(m)
		for _, v := range pair {
			if err := (field{dimension: r.dimension, sense: r.sense, low: r.low, high: r.high}).judge(v); err != nil {
				return fmt.Errorf("machine: %s: %w", key, err)
			}
		}
		if pair[0] > pair[1] || r.sense == positive && pair[1] > 0 && pair[0] == 0 {
			return fmt.Errorf("machine: %s: %g to %g is no range", key, pair[0], pair[1])
		}
	}
	for _, key := range sortedKeys(capabilities) {
		if c := *capabilities[key](m); c < Unstated || c > Yes {
			return fmt.Errorf("machine: %s: %d is neither yes nor no", key, c)
		}
	}
	c := m.Controller
	if c.Scale < ScaleUnknown || c.Scale > ScaleTable {
		return fmt.Errorf("machine: controller.scale: %d is no scale", c.Scale)
	}
	if c.RatioBits != 0 && (c.RatioBits < leastBits || c.RatioBits > mostBits) {
		return fmt.Errorf("machine: controller.ratio_bits: %d, needed %d to %d", c.RatioBits, leastBits, mostBits)
	}
	for _, name := range sortedKeys(c.Resolution) {
		if v := c.Resolution[name]; !(v > 0) || math.IsInf(v, 0) {
			return fmt.Errorf("machine: controller.resolution.%s: %g, needed a step above zero", name, v)
		}
	}
	if a := m.Load.Angle; a != nil && !(math.Abs(*a) <= steepest) {
		return fmt.Errorf("machine: load.angle: %g rad, needed -pi/2 to pi/2", *a)
	}
	if key, problem := m.contradiction(); problem != "" {
		return fmt.Errorf("machine: %s: %s", key, problem)
	}
	return nil
}

// judge returns an error where a stated value (SI) lies outside what is plausible.
func (f field) judge(v float64) error {
	show := func(v float64) string { return quantity.Format(v, f.dimension, quantity.Metric) }
	if v == 0 || v >= f.low && v <= f.high && (f.sense == anySign || v > 0) {
		return nil
	}
	return fmt.Errorf("%s is not plausible: outside %s to %s", show(v), show(f.low), show(f.high))
}
