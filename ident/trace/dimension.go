package trace

import "eha/strokewise/ident/quantity"

var channelDimensions = [...]quantity.Dimension{
	NoChannel: quantity.Number, Time: quantity.Time, SpeedCommand: quantity.AngularSpeed, MotorPosition: quantity.Angle,
	RodPosition: quantity.Length, PositionCommand: quantity.Length, ForceCommand: quantity.Force,
	CapPressure: quantity.Pressure, RodPressure: quantity.Pressure, MotorSpeed: quantity.AngularSpeed,
	MotorCurrent: quantity.Current, MotorTorque: quantity.Torque, Force: quantity.Force,
	OilTemperature: quantity.Temperature,
}

// Dimension returns what kind of quantity the channel holds.
func (c Channel) Dimension() quantity.Dimension { return channelDimensions[c] }

// Words returns the channel's name as prose has it, such as "rod position".
func (c Channel) Words() string {
	switch c {
	case CapPressure:
		return "cap-side pressure"
	case RodPressure:
		return "rod-side pressure"
	case Force:
		return "load cell force"
	}
	words := []byte(c.String())
	for i := range words {
		if words[i] == '_' {
			words[i] = ' '
		}
	}
	return string(words)
}
