package trace

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"eha/strokewise/ident/quantity"
)

// ParseColumn reads a channel stated on a command line, such as
// "rod_position=LT 1[mm]" or "motor_position=enc[4096 counts/rev]". A minus before
// the column, "rod_position=-LT[mm]", flips its sign. An analogue input is scaled as in
// "rod_position=ai1[0.5..9.5 V = 0..300 mm]", a share as in "speed_command=n[% of 2800 rpm]".
// Without brackets the unit is left to the log's header.
//
// ParseColumn returns an error for another form, an unknown channel or unit, or a
// unit that does not suit the channel.
func ParseColumn(text string) (Channel, Column, error) {
	name, rest, ok := strings.Cut(text, "=")
	fail := func(problem string) (Channel, Column, error) {
		return NoChannel, Column{}, fmt.Errorf("trace: channel %q: %s", Printable(text), problem)
	}
	if !ok {
		return fail("needed the form rod_position=COLUMN[unit]")
	}
	c, ok := ParseChannel(strings.TrimSpace(name))
	if !ok {
		return fail("no such channel; channels are " + channelList())
	}
	col := Column{Header: strings.TrimSpace(rest)}
	if open := strings.LastIndexByte(col.Header, '['); open >= 0 && strings.HasSuffix(col.Header, "]") {
		col.Unit = strings.TrimSpace(col.Header[open+1 : len(col.Header)-1])
		col.Header = strings.TrimSpace(col.Header[:open])
	}
	if strings.HasPrefix(col.Header, "-") {
		col.Header, col.Sign = strings.TrimSpace(col.Header[1:]), -1
	}
	if col.Header == "" {
		return fail("the column is missing, needed the form rod_position=COLUMN[unit]")
	}
	if scaled, err := parseScale(c, col.Unit, &col); err != nil {
		return fail(err.Error())
	} else if scaled {
		return c, col, nil
	}
	if before, ok := cutCounts(col.Unit); ok {
		n, err := strconv.ParseFloat(before, 64)
		if err != nil || !(n >= 1) || math.IsInf(n, 0) {
			return fail("needed the counts of one turn, such as [4096 counts/rev]")
		}
		col.Unit, col.CountsPerRev = "counts", n
	}
	if err := CheckUnit(c, col); err != nil && !isCounts(col.Unit) {
		return fail(err.Error()) // plain counts may be completed by the machine file
	}
	return c, col, nil
}

// cutCounts returns what stands before "counts/rev".
func cutCounts(unit string) (number string, ok bool) {
	for _, end := range []string{"counts/rev", "counts/turn", "cts/rev", "inc/rev"} {
		if before, found := strings.CutSuffix(strings.ReplaceAll(unit, " ", ""), end); found {
			return before, true
		}
	}
	return "", false
}

func isCounts(unit string) bool {
	u, ok := quantity.Lookup(unit)
	return ok && u.Dimension == quantity.Counts
}

func channelList() string {
	var names []string
	for _, c := range Channels() {
		names = append(names, c.String())
	}
	return strings.Join(names, ", ")
}
