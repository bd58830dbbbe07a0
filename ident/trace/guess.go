package trace

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"eha/strokewise/ident/quantity"
)

// A guess is taken from sureEnough on, and if no other column comes nearer than
// clearLead; else it is asked.
const (
	sureEnough = 0.55
	clearLead  = 0.1
	ownName    = 0.99
)

// candidate is a channel that a column could hold.
type candidate struct {
	channel Channel
	sure    float64
	why     string
	unit    string
}

// candidates rates every channel that a column's header and unit allow.
func (h heading) candidates() []candidate {
	var list []candidate
	for _, c := range Channels() {
		if c == Time {
			continue
		}
		if cand, ok := h.rate(c); ok {
			list = append(list, cand)
		}
	}
	return list
}

func (h heading) rate(c Channel) (candidate, bool) {
	own := strings.TrimSuffix(h.name, h.again)
	name, unit := own, h.unit
	u, ok := quantity.LookupAs(unit, c.Dimension())
	counts := false
	if !ok {
		if any, known := quantity.Lookup(unit); known && !h.loose {
			counts = any.Dimension == quantity.Counts && c == MotorPosition
			if !counts && any.Dimension != quantity.Percent {
				return candidate{}, false
			}
		} else {
			name, unit = h.full, "" // the tail belongs to the name
		}
	}
	if normalName(own) == c.String() || normalName(h.full) == c.String() {
		return candidate{c, ownName, "the channel's own name", unit}, true
	}
	sure, why := rateMeaning(c, meaningOf(name), ok)
	if sure == 0 {
		return candidate{}, false
	}
	if ok {
		why += ", unit " + u.Symbol
	}
	return candidate{c, sure, why, unit}, true
}

// rateMeaning returns how sure it is that a header of that meaning names the
// channel, 0 for not at all, and the reason. fits says that its unit is one of
// the channel's.
func rateMeaning(c Channel, m meaning, fits bool) (sure float64, why string) {
	if m.has[isError] || m.has[isOther] {
		return 0, ""
	}
	command := m.has[isCommand] || m.weak[isCommand]
	switch c {
	case SpeedCommand:
		return rateIf(command && (m.any(isSpeed) || fits), 0.92, "words for speed and command")
	case MotorSpeed:
		switch {
		case command || !m.any(isSpeed) && !(fits && m.any(isMotor)):
			return 0, ""
		case m.has[isActual]:
			return 0.92, "words for speed and actual value"
		case m.has[isMotor]:
			return 0.85, "words for motor and speed"
		}
		return 0.5, "a speed, not said whether command or actual value"
	case MotorPosition:
		return rateMotorPosition(m, command, fits)
	case RodPosition:
		return rateRodPosition(m, command, fits)
	case PositionCommand:
		return rateIf(command && (m.any(isPosition) || m.has[isRod]) && !m.has[isMotor] && (fits || !m.any(isSpeed)), 0.9, "words for position and command")
	case ForceCommand:
		return rateIf(command && (m.has[isForce] || m.weak[isForce] && fits), 0.92, "words for force and command")
	case Force:
		return rateIf(!command && (m.has[isForce] || fits), 0.85, "a force that is no command")
	case CapPressure:
		return ratePressure(m, fits, isCapSide, isRodSide, "1", "cap side")
	case RodPressure:
		return ratePressure(m, fits, isRodSide, isCapSide, "2", "rod side")
	case MotorCurrent:
		return rateIf(!command && (m.has[isCurrent] || m.weak[isCurrent] && fits || fits && m.has[isMotor]), 0.85, "a word for current")
	case MotorTorque:
		return rateIf(!command && (m.has[isTorque] || m.weak[isTorque] && fits || fits && m.has[isMotor]), 0.85, "a word for torque")
	case OilTemperature:
		if m.has[isMotor] || !m.has[isTemperature] && !fits {
			return 0, ""
		}
		if m.has[isOil] {
			return 0.95, "words for oil and temperature"
		}
		return 0.7, "a temperature that is not said to be another's"
	}
	return 0, ""
}

func rateIf(ok bool, sure float64, why string) (float64, string) {
	if !ok {
		return 0, ""
	}
	return sure, why
}

func rateMotorPosition(m meaning, command, fits bool) (float64, string) {
	switch {
	case command:
		return 0, ""
	case m.has[isMotor] && (m.has[isPosition] || m.has[isAngle]) && !m.has[isSpeed]:
		return 0.9, "words for motor and angle"
	case fits && m.any(isAngle):
		return 0.75, "a word for an angle"
	case fits:
		return 0.7, "the unit of an angle"
	}
	return 0, ""
}

func rateRodPosition(m meaning, command, fits bool) (float64, string) {
	switch {
	case command || m.has[isMotor] || m.has[isSpeed] || m.has[isForce] || m.has[isPressure]:
		return 0, ""
	case m.has[isRod] && (m.has[isPosition] || fits):
		return 0.92, "words for rod and position"
	case fits && m.any(isPosition):
		return 0.8, "a word for position"
	case fits:
		return 0.6, "the unit of a length"
	}
	return 0, ""
}

// ratePressure rates one side's pressure. "Rod" and "cap" are clear; port letters
// and numbers are custom only.
func ratePressure(m meaning, fits bool, side, other concept, digit, name string) (float64, string) {
	if m.any(isCommand) || m.has[isOil] || !(m.has[isPressure] || fits) {
		return 0, ""
	}
	switch {
	case m.has[side] && !m.has[other]:
		return 0.95, "words for pressure and " + name
	case m.has[other]:
		return 0, ""
	case m.weak[side]:
		return 0.7, "by custom the letter of the " + name
	case m.digit == digit:
		return 0.6, "by custom the number of the " + name
	case m.weak[other] || m.digit != "":
		return 0, ""
	}
	return 0.3, "a pressure, not said of which side"
}

// choose assigns columns to the channels that the user has not stated, and
// returns the guesses, taken and asked. stated says of a stated channel whether
// its column is in the log: one that is not may only be a column of the channel's own name. hints hold what is stated of a channel
// without naming its column; motor is the column
// stated for the encoder, -1 for none; used marks the columns that are taken.
func choose(headings []heading, kinds []columnKind, t *table, stated map[Channel]bool, hints map[Channel]Column, motor int, used []bool) []Guess {
	rated := map[Channel][]Guess{}
	for j, h := range headings {
		if used[j] || kinds[j] != numberColumn {
			continue
		}
		list := h.candidates()
		best := 0.0
		for _, cand := range list {
			best = math.Max(best, cand.sure)
		}
		for _, cand := range list {
			if cand.sure < best-clearLead {
				continue // the column is another channel's by its own words
			}
			if found, is := stated[cand.channel]; is && (found || cand.sure < ownName) {
				continue
			}
			rated[cand.channel] = append(rated[cand.channel], Guess{Channel: cand.channel, Column: Printable(h.name), Index: j,
				Unit: Printable(cand.unit), Sure: cand.sure, Why: cand.why})
		}
	}
	var order []Channel
	for _, c := range Channels() {
		if list := rated[c]; len(list) > 0 {
			if c != RodPosition {
				evidence(list, t, motor)
			}
			if c == MotorPosition && motor < 0 && list[0].Sure >= sureEnough {
				motor = list[0].Index
			}
			order = append(order, c)
		}
	}
	evidence(rated[RodPosition], t, motor)
	// The surest channels choose first.
	sort.SliceStable(order, func(a, b int) bool { return rated[order[a]][0].Sure > rated[order[b]][0].Sure })
	var guesses []Guess
	for _, c := range order {
		if g, ok := settle(rated[c], t, hints[c], used); ok {
			guesses = append(guesses, g)
		}
	}
	return guesses
}

// settle decides one channel among the columns still free.
func settle(list []Guess, t *table, col Column, used []bool) (Guess, bool) {
	var free []Guess
	for _, g := range list {
		if !used[g.Index] && !emptyColumn(t.cols[g.Index][:t.rows]) {
			free = append(free, g)
		}
	}
	if len(free) == 0 {
		return Guess{}, false
	}
	g := free[0]
	for _, rival := range free[1:] {
		if g.Sure-rival.Sure >= clearLead {
			continue
		}
		if same(t.cols[g.Index][:t.rows], t.cols[rival.Index][:t.rows]) {
			used[rival.Index] = true
			g.Why += fmt.Sprintf("; %q holds the same", rival.Column)
			continue
		}
		g.Others = append(g.Others, rival.Column)
	}
	if col.Unit == "" {
		col.Unit = g.Unit
	}
	err := CheckUnit(g.Channel, col)
	switch {
	case len(g.Others) > 0:
		g.Asked, g.Why = true, g.Why+"; as well "+strings.Join(g.Others, ", ")
	case g.Sure < sureEnough:
		g.Asked = true
	case col.Unit == "" && col.From == col.To:
		g.Asked, g.Why = true, g.Why+"; no unit stated"
	case err != nil:
		g.Asked, g.Why = true, g.Why+"; "+err.Error()
	default:
		used[g.Index] = true
	}
	g.Unit = col.Unit
	return g, true
}

func emptyColumn(x []float64) bool {
	for _, v := range x {
		if !math.IsNaN(v) {
			return false
		}
	}
	return true
}

// same reports whether two columns hold the same numbers.
func same(a, b []float64) bool {
	for i := range a {
		if a[i] != b[i] && !(math.IsNaN(a[i]) && math.IsNaN(b[i])) {
			return false
		}
	}
	return true
}
