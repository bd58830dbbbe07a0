package trace

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"eha/strokewise/ident/quantity"
)

// errScale says how the scaling of an analogue input is written on a command line.
var errScale = errors.New("needed the scaling in the form [0.5..9.5 V = 0..300 mm], two different points each")

// parseScale reads what stands in a column's brackets where it is more than a unit: the
// scaling of an analogue input, "0.5..9.5 V = 0..300 mm" (plain numbers are counts), or what
// 100 % means, "% of 2800 rpm". ok is false for other texts.
func parseScale(c Channel, text string, col *Column) (ok bool, err error) {
	if _, full, found := strings.Cut(text, "% of "); found {
		col.Unit = "%"
		col.FullScale, err = quantity.Parse(strings.TrimSpace(full), c.Dimension())
		return true, err
	}
	left, right, found := strings.Cut(text, "=")
	if !found {
		return false, nil
	}
	if col.From, col.Unit, err = parseReadings(left); err != nil {
		return true, err
	}
	first, last, unit, err := parseRange(right)
	if err != nil {
		return true, err
	}
	for i, number := range []string{first, last} {
		if col.To[i], err = quantity.Parse(number+" "+unit, c.Dimension()); err != nil {
			return true, err
		}
	}
	if col.From[0] == col.From[1] || col.To[0] == col.To[1] {
		return true, errScale
	}
	return true, nil
}

// parseReadings reads two readings of an input, in the unit that it returns, "" for counts.
func parseReadings(text string) (from [2]float64, unit string, err error) {
	first, last, unit, err := parseRange(text)
	if err != nil {
		return from, "", err
	}
	for i, number := range []string{first, last} {
		if unit == "" {
			if from[i], err = strconv.ParseFloat(number, 64); err != nil {
				return from, "", errScale
			}
			continue
		}
		v, u, err := quantity.ParseAny(number + " " + unit)
		if err != nil {
			return from, "", err
		}
		from[i], unit = v, u.Symbol
	}
	return from, unit, nil
}

// parseRange parts "0.5 V..9.5 V" into numbers and the unit, which may stand once.
func parseRange(text string) (first, last, unit string, err error) {
	first, last, ok := strings.Cut(text, "..")
	if !ok {
		return "", "", "", errScale
	}
	first, unitFirst := cutUnit(first)
	last, unit = cutUnit(last)
	if first == "" || last == "" {
		return "", "", "", errScale
	}
	if unitFirst != "" && unitFirst != unit {
		return "", "", "", fmt.Errorf("%q and %q: state both points in one unit", Printable(unitFirst), Printable(unit))
	}
	return first, last, unit, nil
}

// cutUnit parts a number from the unit behind it.
func cutUnit(text string) (number, unit string) {
	text = strings.TrimSpace(text)
	end := 0
	for end < len(text) && strings.IndexByte("0123456789.+-", text[end]) >= 0 {
		end++
	}
	return text[:end], strings.TrimSpace(text[end:])
}
