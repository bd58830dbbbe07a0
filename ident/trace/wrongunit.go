package trace

import (
	"fmt"
	"strings"

	"eha/strokewise/ident/quantity"
)

// wrongUnit returns the fault of a column that bears a channel's own name with a
// unit that nobody can convert, such as "Rod position [furlong]", while no other
// column was taken for the channel. Leaving it out would only move the complaint to a
// place where its cause no longer shows.
func (b *builder) wrongUnit(list []taken) error {
	have := map[Channel]bool{}
	for _, t := range list {
		have[t.channel] = true
	}
	for j, h := range b.headings {
		if b.used[j] || b.layout.kinds[j] != numberColumn {
			continue
		}
		for _, c := range Channels() {
			unit, named := unitOfOwnName(h, c)
			if _, known := quantity.Lookup(unit); !named || known || have[c] || c == Time {
				continue
			}
			return &ReadError{Row: b.layout.HeaderRow, Column: Printable(h.full),
				Problem: fmt.Sprintf("unknown unit %q, needed a %s (%s)", Printable(unit), c.Dimension(), strings.Join(quantity.Symbols(c.Dimension()), ", ")),
				Advice:  fmt.Sprintf("state it, such as --channel '%s=%s[%s]', or in the machine file", c, Printable(h.name), exampleUnit(c))}
		}
	}
	return nil
}

// unitOfOwnName returns the unit that stands behind the channel's own name in a header.
func unitOfOwnName(h heading, c Channel) (unit string, named bool) {
	if h.unit != "" {
		return h.unit, normalName(h.name) == c.String()
	}
	tail, found := strings.CutPrefix(normalName(h.full), c.String()+"_")
	return tail, found && !strings.Contains(tail, "_") && letters(tail)
}

func letters(text string) bool {
	for _, r := range text {
		if r < 'a' || r > 'z' {
			return false
		}
	}
	return len(text) > 2
}
