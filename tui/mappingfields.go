package tui

import (
	"fmt"
	"strconv"
	"strings"

	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tuning/job"
)

// mapField is one thing to say of the column in hand: chosen with left and right, or
// typed where read is not nil.
type mapField struct {
	name, text string
	turn       func(by int)
	// read takes what was typed; it reports whether that could be read.
	read func(text string) bool
	need string // what can be typed
	none string // shown while nothing is typed; "" where something must be
}

// fields lists what there is to say of column j; past the last column it is the sample
// period.
func (m *mapping) fields(j int) []mapField {
	if j >= len(m.sheet.Columns) {
		return []mapField{m.periodField()}
	}
	u := m.uses()[j]
	list := []mapField{m.channelField(j, u)}
	if u.channel == trace.NoChannel {
		return list
	}
	list = append(list, m.unitField(j, u))
	switch scalingOf(u.channel, u.column.Unit) {
	case byCounts:
		list = append(list, m.countsField(j, u))
	case byShare:
		list = append(list, m.shareField(j, u))
	case byPoints:
		list = append(list, m.pointsField(j, u))
	}
	if u.channel != trace.Time {
		list = append(list, m.signField(j, u))
	}
	switch u.channel {
	case trace.MotorPosition:
		list = append(list, m.wrapField(j, u))
	case trace.RodPosition, trace.CapPressure, trace.RodPressure, trace.Force:
		list = append(list, m.offsetField(j, u))
	}
	if shown, _ := quantity.LookupAs(u.column.Unit, quantity.Pressure); u.channel.Dimension() == quantity.Pressure && !shown.Absolute() {
		list = append(list, m.referenceField(j, u))
	}
	return list
}

func (m *mapping) channelField(j int, u use) mapField {
	all := append([]trace.Channel{trace.NoChannel}, trace.Channels()...)
	return mapField{name: "read as", text: channelText(u.channel), turn: func(by int) {
		if list := m.asked(j); u.channel == trace.NoChannel && by > 0 && len(list) > 0 {
			m.take(j, list[0].Channel) // what it was asked about comes first
			return
		}
		for i, c := range all {
			if c == u.channel {
				m.take(j, all[turnRound(i, by, len(all))])
				return
			}
		}
	}}
}

func channelText(c trace.Channel) string {
	if c == trace.NoChannel {
		return "not read"
	}
	return c.Words()
}

// letter takes the next channel whose name begins with the letter.
func (m *mapping) letter(j int, letter string) {
	all := trace.Channels()
	now := m.uses()[j].channel
	for i := 1; i <= len(all); i++ {
		// NoChannel comes before the first.
		c := all[(int(now)-int(all[0])+i+len(all))%len(all)]
		if strings.HasPrefix(c.Words(), letter) {
			m.take(j, c)
			return
		}
	}
}

func (m *mapping) unitField(j int, u use) mapField {
	text := u.column.Unit
	switch {
	case text != "":
	case u.channel == trace.Time:
		text = "told from its steps"
	default:
		text = "?"
	}
	return mapField{name: "unit", text: text, turn: func(by int) {
		list := unitsFor(u.channel, u.column.Unit)
		at := -1
		for i, symbol := range list {
			if symbol == u.column.Unit {
				at = i
			}
		}
		if at < 0 && by < 0 {
			at = 0
		}
		unit := list[turnRound(at, by, len(list))]
		m.alter(j, func(c *trace.Column) { c.Unit, c.From, c.To, c.FullScale = unit, [2]float64{}, [2]float64{}, 0 })
	}}
}

func (m *mapping) signField(j int, u use) mapField {
	text := "as logged"
	if u.column.Sign < 0 {
		text = "turned round"
	}
	return mapField{name: "sign", text: text, turn: func(int) { m.alter(j, turnSign) }}
}

func turnSign(c *trace.Column) {
	if c.Sign < 0 {
		c.Sign = 1
	} else {
		c.Sign = -1
	}
}

func (m *mapping) referenceField(j int, u use) mapField {
	text := "gauge"
	if u.column.Absolute {
		text = "absolute"
	}
	return mapField{name: "zero at", text: text, turn: func(int) { m.alter(j, func(c *trace.Column) { c.Absolute = !c.Absolute }) }}
}

func (m *mapping) countsField(j int, u use) mapField {
	text := ""
	if n := u.column.CountsPerRev; n > 0 {
		text = strconv.FormatFloat(n, 'f', -1, 64)
	}
	return mapField{name: "counts per turn", text: text, need: "a number such as 4096", read: func(text string) bool {
		n, ok := decimal(text)
		if ok = ok && n >= 1 && n < 1e18; ok {
			m.alter(j, func(c *trace.Column) { c.CountsPerRev = n })
		}
		return ok
	}}
}

// wrapField is the number at which an encoder starts again.
func (m *mapping) wrapField(j int, u use) mapField {
	text := ""
	if n := u.column.Wrap; n > 0 {
		text = strconv.FormatFloat(n, 'f', -1, 64)
	}
	return mapField{name: "starts again at", text: text, none: "no number", need: "the number at which the column starts again, such as 65536", read: func(text string) bool {
		n, ok := decimal(text)
		if text == "" {
			n, ok = 0, true
		}
		if ok = ok && (n == 0 || n >= 1) && n < 1e18; ok {
			m.alter(j, func(c *trace.Column) { c.Wrap = n })
		}
		return ok
	}}
}

// offsetField is what is added to a reading whose zero is off.
func (m *mapping) offsetField(j int, u use) mapField {
	d := u.channel.Dimension()
	shown := quantity.Display(d, quantity.Metric)
	text := ""
	if u.column.Offset != 0 {
		text = digits(u.column.Offset/shown.Factor, 6) + " " + shown.Symbol
	}
	return mapField{name: "add", text: text, none: "nothing", need: "what to add to every reading, such as -1.5 " + shown.Symbol, read: func(text string) bool {
		v, err := quantity.ParseDifference(comma(text), d)
		if text == "" {
			v, err = 0, nil
		}
		if err == nil {
			m.alter(j, func(c *trace.Column) { c.Offset = v })
		}
		return err == nil
	}}
}

func (m *mapping) shareField(j int, u use) mapField {
	d := u.channel.Dimension()
	text := ""
	if u.column.FullScale != 0 {
		text = quantity.Format(u.column.FullScale, d, quantity.Metric)
	}
	example := "250 " + quantity.Display(d, quantity.Metric).Symbol
	return mapField{name: "100 % is", text: text, need: "a quantity such as " + example, read: func(text string) bool {
		v, err := quantity.Parse(comma(text), d)
		if ok := err == nil && v > 0; !ok {
			return false
		}
		m.alter(j, func(c *trace.Column) { c.FullScale = v })
		return true
	}}
}

// pointsField is two readings of an analogue input with what they stand for.
func (m *mapping) pointsField(j int, u use) mapField {
	d := u.channel.Dimension()
	own, _ := quantity.Lookup(u.column.Unit)
	point := func(i int) string {
		return fmt.Sprintf("%s %s = %s", digits(u.column.From[i], 6), own.Symbol, quantity.Format(u.column.To[i], d, quantity.Metric))
	}
	text := ""
	if u.column.From != u.column.To {
		text = point(0) + "; " + point(1)
	}
	shown := quantity.Display(d, quantity.Metric).Symbol
	need := fmt.Sprintf("two readings and what they stand for, such as 0 %s = 0 %s; 10 %s = 250 %s", own.Symbol, shown, own.Symbol, shown)
	return mapField{name: "where", text: text, need: need, read: func(text string) bool {
		var from, to [2]float64
		points := strings.Split(strings.ReplaceAll(text, ",", "."), ";")
		for i, p := range points {
			reading, stands, parted := strings.Cut(p, "=")
			if !parted || len(points) != 2 {
				return false
			}
			x, ok := readingOf(reading, own)
			y, err := quantity.Parse(stands, d)
			if !ok || err != nil {
				return false
			}
			from[i], to[i] = x, y
		}
		if from[0] == from[1] || to[0] == to[1] || len(points) != 2 {
			return false
		}
		m.alter(j, func(c *trace.Column) { c.From, c.To = from, to })
		return true
	}}
}

// readingOf reads a number in the column's own unit, which may be left out.
func readingOf(text string, own quantity.Unit) (float64, bool) {
	if v, ok := decimal(text); ok {
		return v, true
	}
	v, u, err := quantity.ParseAny(strings.TrimSpace(text))
	return own.From(u.SI(v)), err == nil && u.Dimension == own.Dimension
}

func (m *mapping) periodField() mapField {
	text := ""
	if p := job.Mapped(m.stated, m.draft)[trace.Time].Period; p > 0 {
		text = quantity.Digits(p*1e3, 6) + " ms"
	}
	return mapField{name: "a row every", text: text, need: "a time with its unit such as 2 ms", read: func(text string) bool {
		p, err := quantity.Parse(comma(text), quantity.Time)
		if err != nil || !(p > 0) {
			return false
		}
		m.period(p)
		return true
	}}
}

// comma takes a decimal comma for a point.
func comma(text string) string { return strings.TrimSpace(strings.Replace(text, ",", ".", 1)) }

func decimal(text string) (float64, bool) {
	v, err := strconv.ParseFloat(comma(text), 64)
	return v, err == nil
}
