package trace

import (
	"fmt"
	"strings"
	"unicode"

	"eha/strokewise/ident/quantity"
)

// ReadError is a log that cannot be used as it stands: where, what is wrong and
// what to do. Every text in it is free of control characters.
type ReadError struct {
	File     string
	Row      int    // line of the file, from 1; 0 for the whole file
	Column   string // header or channel; "" for the whole row
	Problem  string // found, needed
	Advice   string // what to do next; may be ""
	Timeless bool   // a sample period stated would do
}

// Error returns the fault in one line.
func (e *ReadError) Error() string {
	text := "trace: " + e.File
	if e.Row > 0 {
		text += fmt.Sprintf(":%d", e.Row)
	}
	if e.Column != "" {
		text += ": " + e.Column
	}
	text += ": " + e.Problem
	if e.Advice != "" {
		text += "; " + e.Advice
	}
	return text
}

// CheckUnit returns an error if a column of that unit and scaling cannot be read
// as the channel; it says which units can.
func CheckUnit(c Channel, col Column) error {
	if col.Unit == "" || col.From != col.To {
		return nil
	}
	d := c.Dimension()
	if _, ok := quantity.LookupAs(col.Unit, d); ok {
		return nil
	}
	u, ok := quantity.Lookup(col.Unit)
	switch {
	case !ok:
		return fmt.Errorf("unknown unit %q, needed a %s (%s)", Printable(col.Unit), d, strings.Join(quantity.Symbols(d), ", "))
	case u.Dimension == quantity.Percent && col.FullScale != 0:
		return nil
	case u.Dimension == quantity.Percent:
		own := quantity.Display(d, quantity.Metric).Symbol
		return fmt.Errorf("unit %% needs full_scale, such as full_scale = \"100 %s\" in the machine file, or [%% of 100 %s] behind the column", own, own)
	case u.Dimension == quantity.Counts && c == MotorPosition && col.CountsPerRev > 0:
		return nil
	case u.Dimension == quantity.Counts && c == MotorPosition:
		return fmt.Errorf("unit counts needs counts_per_rev")
	case u.Dimension == quantity.Counts && c == Time:
		return nil
	case u.Dimension == quantity.Voltage || u.Dimension == quantity.Counts || u.Dimension == quantity.Current:
		own := quantity.Display(d, quantity.Metric).Symbol
		return fmt.Errorf("unit %s needs its scaling: from = [\"0 %s\", \"10 %s\"], to = [\"0 %s\", \"100 %s\"] in the machine file, or [0..10 %s = 0..100 %s] behind the column", u.Symbol, u.Symbol, u.Symbol, own, own, u.Symbol, own)
	}
	return fmt.Errorf("unit %s is a %s, needed a %s (%s)", u.Symbol, u.Dimension, d, strings.Join(quantity.Symbols(d), ", "))
}

// Printable returns text with every character that a terminal or a page could
// take for a command replaced by a dot, cut to a readable length.
func Printable(text string) string {
	const longest = 80
	var b strings.Builder
	n := 0
	for _, r := range text {
		if n++; n > longest {
			b.WriteString("…")
			break
		}
		b.WriteRune(printableRune(r))
	}
	return b.String()
}

func printableRune(r rune) rune {
	switch {
	case r == '\t' || r == 0xa0:
		return ' '
	case r == unicode.ReplacementChar, !unicode.IsGraphic(r), unicode.Is(unicode.Cf, r), unicode.Is(unicode.Z, r) && r != ' ':
		return '·'
	}
	return r
}
