package machine

import (
	"fmt"
	"strconv"
	"strings"

	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
)

// inlineColumn writes a column as an inline table.
func inlineColumn(c trace.Channel, col trace.Column) string {
	return "{ " + strings.Join(columnPairs(c, col), ", ") + " }"
}

// columnPairs writes a column as the keys and values of the machine file.
func columnPairs(c trace.Channel, col trace.Column) []string {
	unit := quantity.Display(c.Dimension(), quantity.Metric)
	if own, ok := quantity.LookupAs(col.Unit, c.Dimension()); ok {
		unit = own
	}
	value := func(v float64) string { return fmt.Sprintf("%q", plain(unit.From(v))+" "+unit.Symbol) }
	var pairs []string
	add := func(key, text string) { pairs = append(pairs, key+" = "+text) }
	if col.Header != "" {
		add("column", tomlText(col.Header))
	}
	if col.Unit != "" {
		add("unit", tomlText(col.Unit))
	}
	if col.Sign < 0 {
		add("sign", "-1")
	}
	if col.CountsPerRev > 0 {
		add("counts_per_rev", counts(col.CountsPerRev))
	}
	if col.Wrap > 0 {
		add("wrap", counts(col.Wrap))
	}
	if col.From != col.To {
		add("from", fmt.Sprintf("[%q, %q]", plain(col.From[0])+" "+fromUnit(col), plain(col.From[1])+" "+fromUnit(col)))
		add("to", "["+value(col.To[0])+", "+value(col.To[1])+"]")
	}
	if col.Offset != 0 {
		difference := unit
		difference.Zero = 0
		add("offset", fmt.Sprintf("%q", plain(difference.From(col.Offset))+" "+unit.Symbol))
	}
	if col.Absolute {
		add("reference", `"absolute"`)
	}
	if col.Period != 0 {
		ms, _ := quantity.LookupAs("ms", quantity.Time)
		add("period", fmt.Sprintf("%q", plain(ms.From(col.Period))+" ms"))
	}
	if col.FullScale != 0 {
		add("full_scale", value(col.FullScale))
	}
	return pairs
}

func fromUnit(col trace.Column) string {
	if col.Unit == "" {
		return "counts"
	}
	return col.Unit
}

// plain prints a number with all that matters of it and no rounding noise.
func plain(v float64) string {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 12, 64), 64)
	if err != nil {
		rounded = v
	}
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

func counts(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// tomlText writes a text as a TOML basic string.
func tomlText(text string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range text {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < ' ' || r == 0x7f:
			fmt.Fprintf(&b, "\\u%04X", r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
