package quantity

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// ErrNoUnit is wrapped by the errors of Parse for a number that stands alone.
var ErrNoUnit = errors.New("a quantity needs its unit")

// Parse reads a quantity such as "50 mm" or "-12.4mm" and returns its SI value.
// The decimal sign is a point. A number without unit, a unit of another
// dimension and a number that is not finite are errors, each saying what was
// found and what is needed; the first wraps ErrNoUnit.
func Parse(text string, d Dimension) (float64, error) {
	number, unit := split(text)
	v, err := parseNumber(number)
	if err != nil {
		return 0, fmt.Errorf("%q: %w", clip(text), err)
	}
	if unit == "" && d != Number {
		return 0, fmt.Errorf("%q: %w, such as %q", clip(text), ErrNoUnit, number+" "+example(d))
	}
	if unit == "" {
		return v, nil
	}
	u, ok := LookupAs(unit, d)
	if !ok {
		return 0, wrongUnit(text, unit, d)
	}
	si := u.SI(v)
	if math.IsInf(si, 0) {
		return 0, fmt.Errorf("%q: too large", clip(text))
	}
	return si, nil
}

// ParseDifference reads a quantity that is added to another, such as an offset:
// "2 degC" is then 2 K and "1 bara" 1 bar. Errors are those of Parse.
func ParseDifference(text string, d Dimension) (float64, error) {
	v, err := Parse(text, d)
	if err != nil {
		return 0, err
	}
	_, unit := split(text)
	u, _ := LookupAs(unit, d)
	return v - u.Zero, nil
}

func wrongUnit(text, unit string, d Dimension) error {
	if other, ok := Lookup(unit); ok {
		return fmt.Errorf("%q: %s is a %s, needed a %s (%s)", clip(text), other.Symbol, other.Dimension, d, choices(d))
	}
	return fmt.Errorf("%q: unknown unit %q, needed a %s (%s)", clip(text), clip(unit), d, choices(d))
}

func choices(d Dimension) string {
	all := Symbols(d)
	if len(all) == 0 {
		return "a plain number"
	}
	return strings.Join(all, ", ")
}

func example(d Dimension) string { return Display(d, Metric).Symbol }

// split parts a quantity behind its number.
func split(text string) (number, unit string) {
	text = strings.TrimSpace(strings.ReplaceAll(text, "−", "-"))
	end := 0
	for end < len(text) && strings.IndexByte("+-0123456789.,_", text[end]) >= 0 {
		end++
	}
	// An exponent belongs to the number only if digits follow it.
	if rest := text[end:]; len(rest) > 1 && (rest[0] == 'e' || rest[0] == 'E') {
		digits := strings.TrimLeft(rest[1:], "+-")
		if len(digits) > 0 && digits[0] >= '0' && digits[0] <= '9' {
			end = len(text) - len(strings.TrimLeft(digits, "0123456789"))
		}
	}
	return text[:end], strings.TrimSpace(text[end:])
}

func parseNumber(text string) (float64, error) {
	if text == "" {
		return 0, errors.New("needed a number with its unit")
	}
	if strings.Contains(text, ",") {
		return 0, errors.New("write the decimal sign as a point")
	}
	if strings.Contains(text, "_") {
		return 0, fmt.Errorf("%q is not a number", clip(text))
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, fmt.Errorf("%q is not a finite number", clip(text))
	}
	return v, nil
}

// clip keeps messages short whatever the input.
func clip(text string) string {
	const longest = 40
	if r := []rune(text); len(r) > longest {
		return string(r[:longest]) + "…"
	}
	return text
}

// ParseAny reads a number with any known unit and returns both, the number as written.
func ParseAny(text string) (float64, Unit, error) {
	number, unit := split(text)
	v, err := parseNumber(number)
	if err != nil {
		return 0, Unit{}, fmt.Errorf("%q: %w", clip(text), err)
	}
	if unit == "" {
		return 0, Unit{}, fmt.Errorf("%q: %w", clip(text), ErrNoUnit)
	}
	u, ok := Lookup(unit)
	if !ok {
		return 0, Unit{}, fmt.Errorf("%q: unknown unit %q", clip(text), clip(unit))
	}
	return v, u, nil
}
