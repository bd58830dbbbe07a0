// Package record is what is kept and shown of the work: the JSON documents, the
// text reports and the commissioning record. Units are
// converted here, from SI to those that each document states.
package record

import (
	"encoding/json"
	"math"
	"strconv"
)

// number is a JSON number of at most seven significant digits, null where it is
// not finite: JSON has no infinity, and "none" is what an infinite margin means.
type number float64

// MarshalJSON writes the number, or null where it is not finite.
func (n number) MarshalJSON() ([]byte, error) {
	v := float64(n)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return []byte("null"), nil
	}
	return []byte(strconv.FormatFloat(roundTo(v, 7), 'g', -1, 64)), nil
}

// UnmarshalJSON reads a number; null gives +Inf.
func (n *number) UnmarshalJSON(data []byte) error {
	if string(data) == "null" {
		*n = number(math.Inf(1))
		return nil
	}
	return json.Unmarshal(data, (*float64)(n))
}

// roundTo returns v rounded to so many significant digits.
func roundTo(v float64, digits int) float64 {
	if v == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return v
	}
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', digits-1, 64), 64)
	if err != nil {
		return v
	}
	return r
}

// numbers scales and rounds a slice; an empty one stays a JSON array.
func numbers(v []float64, factor float64) []number {
	out := make([]number, len(v))
	for i := range v {
		out[i] = number(v[i] * factor)
	}
	return out
}

// floats undoes numbers.
func floats(v []number, factor float64) []float64 {
	out := make([]float64, len(v))
	for i := range v {
		out[i] = float64(v[i]) / factor
	}
	return out
}

// encode writes a document the one way that all are written: indented, one
// trailing newline, no HTML escapes.
func encode(document any) ([]byte, error) {
	data, err := json.MarshalIndent(document, "", "  ")
	if err != nil {
		return nil, err
	}
	return append(data, '\n'), nil
}
