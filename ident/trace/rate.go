package trace

import (
	"strings"

	"eha/strokewise/ident/quantity"
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
	name := meaningOf(strings.TrimSuffix(h.name, h.again))
	full := name
	if h.full != h.name {
		full = meaningOf(h.full)
	}
	for _, c := range Channels() {
		if c == Time {
			continue
		}
		if cand, ok := h.rate(c, name, full); ok {
			list = append(list, cand)
		}
	}
	return list
}

// rate rates one channel; name and full are what the header means without and with its tail.
func (h heading) rate(c Channel, name, full meaning) (candidate, bool) {
	own := strings.TrimSuffix(h.name, h.again)
	m, unit := name, h.unit
	u, ok := quantity.LookupAs(unit, c.Dimension())
	counts := false
	if !ok {
		if any, known := quantity.Lookup(unit); known && !h.loose {
			counts = any.Dimension == quantity.Counts && c == MotorPosition
			if !counts && any.Dimension != quantity.Percent {
				return candidate{}, false
			}
		} else {
			m, unit = full, "" // the tail belongs to the name
		}
	}
	if normalName(own) == c.String() || normalName(h.full) == c.String() {
		return candidate{c, ownName, "the channel's own name", unit}, true
	}
	sure, why := rateMeaning(c, m, ok)
	if sure == 0 && counts && m.has[isPosition] && !m.has[isRod] && !m.any(isCommand) && !m.has[isError] && !m.has[isOther] {
		sure, why = 0.6, "a position in counts"
	}
	if sure == 0 {
		return candidate{}, false
	}
	if foreign := m.ofAnother(c); foreign != "" && sure > askedFor {
		sure, why = askedFor, why+", "+foreign
	}
	if ok {
		why += ", unit " + u.Symbol
	}
	return candidate{c, sure, why, unit}, true
}

const (
	// askedFor is how sure a guess is at most that words say may be another's: it is asked,
	// whatever the data say.
	askedFor = 0.5
	// unitAlone is how sure a guess is that rests on its unit: it is asked unless the data
	// bear it out.
	unitAlone = 0.52
)

// ofAnother returns why the quantity may belong to another part of the machine, "" where
// nothing says so: a temperature, an angle, a current and a torque are found everywhere,
// so that a word that nobody knows may name where.
func (m meaning) ofAnother(c Channel) string {
	ours := map[Channel]concept{OilTemperature: isOil, MotorPosition: isMotor, MotorCurrent: isMotor, MotorTorque: isMotor}
	part, everywhere := ours[c]
	switch {
	case m.has[isElsewhere]:
		return "by its words perhaps another part's"
	case everywhere && m.unknown && !m.has[part]:
		return "with a word that is not known"
	}
	return ""
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
		if m.weak[isCommand] && !m.has[isCommand] && !m.has[isSpeed] {
			return rateIf(fits, askedFor, "perhaps the letter of a command")
		}
		return rateIf(command && (m.any(isSpeed) || fits), 0.92, "words for speed and command")
	case MotorSpeed:
		switch {
		case command || !m.any(isSpeed) && !fits:
			return 0, ""
		case !m.any(isSpeed) && !m.any(isMotor):
			return 0.4, "the unit of a speed, not said of what"
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
		if command && fits && !m.any(isPosition) && !m.has[isRod] && !m.has[isMotor] {
			return rateCommandAlone(m)
		}
		return rateIf(command && (m.any(isPosition) || m.has[isRod]) && !m.has[isMotor] && (fits || !m.any(isSpeed)), 0.9, "words for position and command")
	case ForceCommand:
		if command && fits && !m.any(isForce) {
			return rateCommandAlone(m)
		}
		return rateIf(command && (m.has[isForce] || m.weak[isForce] && fits), 0.92, "words for force and command")
	case Force:
		if fits && !command && !m.any(isForce) {
			return unitAlone, "the unit of a force"
		}
		return rateIf(!command && (m.has[isForce] || fits), 0.85, "a force that is no command")
	case CapPressure:
		return ratePressure(m, fits, isCapSide, isRodSide, "1", "cap side")
	case RodPressure:
		return ratePressure(m, fits, isRodSide, isCapSide, "2", "rod side")
	case MotorCurrent:
		return rateByWord(m, isCurrent, fits, "current")
	case MotorTorque:
		return rateByWord(m, isTorque, fits, "torque")
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

// rateCommandAlone rates a command of the channel's unit, not said of what.
func rateCommandAlone(m meaning) (float64, string) {
	if m.has[isCommand] {
		return 0.7, "a word for a command"
	}
	return askedFor, "perhaps the letter of a command"
}

func rateIf(ok bool, sure float64, why string) (float64, string) {
	if !ok {
		return 0, ""
	}
	return sure, why
}

// rateByWord rates what the motor shows but once, its current and its torque.
func rateByWord(m meaning, quantity concept, fits bool, name string) (float64, string) {
	switch {
	case m.any(isCommand):
		return 0, ""
	case m.has[quantity] || fits && (m.weak[quantity] || m.has[isMotor]):
		return 0.85, "a word for " + name
	case fits:
		return 0.4, "the unit of a " + name + ", not said of what"
	}
	return 0, ""
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
	case command || m.has[isMotor] || m.has[isAngle] || m.has[isSpeed] || m.has[isForce] || m.has[isPressure]:
		return 0, ""
	case m.has[isRod] && (m.has[isPosition] || fits):
		return 0.92, "words for rod and position"
	case fits && m.any(isPosition) && (m.has[isPosition] || !m.numbered):
		return 0.8, "a word for position"
	case m.has[isPosition] && !m.has[isAngle]:
		return 0.4, "a word for position, not said of what"
	case fits:
		return unitAlone, "the unit of a length"
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
	case m.weak[side] && m.any(isPressure):
		return 0.7, "by custom the letter of the " + name
	case m.digit == digit && m.any(isPressure):
		return 0.6, "by custom the number of the " + name
	case m.any(isPressure) && (m.weak[other] || m.digit != ""):
		return 0, ""
	}
	return 0.3, "a pressure, not said of which side"
}
