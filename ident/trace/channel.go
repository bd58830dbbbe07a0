package trace

import "fmt"

// Channel names one measured or commanded quantity of the machine.
type Channel int

// The channels a log may hold. Inside the program every sample is in SI units
// and follows one sign rule: extending is positive for rod position, motor
// position and speed command; force is positive when it pushes the rod out;
// pressures are gauge.
const (
	NoChannel       Channel = iota // invalid zero
	Time                           // s, from the first row
	SpeedCommand                   // rad/s at the motor
	MotorPosition                  // rad, unwrapped
	RodPosition                    // m, 0 is fully retracted where a true zero is known
	PositionCommand                // m
	ForceCommand                   // N
	CapPressure                    // Pa
	RodPressure                    // Pa
	MotorSpeed                     // rad/s, as the drive reports it
	MotorCurrent                   // A
	MotorTorque                    // N·m
	Force                          // N, load cell
	OilTemperature                 // K
)

var channelNames = [...]string{
	NoChannel: "", Time: "time", SpeedCommand: "speed_command", MotorPosition: "motor_position",
	RodPosition: "rod_position", PositionCommand: "position_command", ForceCommand: "force_command",
	CapPressure: "cap_pressure", RodPressure: "rod_pressure", MotorSpeed: "motor_speed",
	MotorCurrent: "motor_current", MotorTorque: "motor_torque", Force: "force",
	OilTemperature: "oil_temperature",
}

// String returns the channel's name as the machine file and the JSON results
// spell it, such as "rod_position"; the invalid channel gives "".
func (c Channel) String() string {
	if c < 0 || int(c) >= len(channelNames) {
		return ""
	}
	return channelNames[c]
}

// ParseChannel returns the channel of that name and whether there is one.
func ParseChannel(name string) (Channel, bool) {
	for c, n := range channelNames {
		if n == name && n != "" {
			return Channel(c), true
		}
	}
	return NoChannel, false
}

// Channels returns every valid channel in a fixed order.
func Channels() []Channel {
	all := make([]Channel, 0, len(channelNames)-1)
	for c := Time; int(c) < len(channelNames); c++ {
		all = append(all, c)
	}
	return all
}

// MarshalText gives the channel's name.
func (c Channel) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// UnmarshalText accepts a channel's name and returns an error for any other text.
func (c *Channel) UnmarshalText(text []byte) error {
	parsed, ok := ParseChannel(string(text))
	if !ok {
		return fmt.Errorf("trace: unknown channel %.40q", text)
	}
	*c = parsed
	return nil
}
