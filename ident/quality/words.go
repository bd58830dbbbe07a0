package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/trace"
)

// inUnit words a SI value of the channel in the metric unit of results.
func inUnit(c trace.Channel, value float64) string {
	switch c {
	case trace.RodPosition, trace.PositionCommand:
		return fmt.Sprintf("%.4g mm", value*1e3)
	case trace.CapPressure, trace.RodPressure:
		return fmt.Sprintf("%.4g bar", value*1e-5)
	case trace.SpeedCommand, trace.MotorSpeed:
		return fmt.Sprintf("%.4g rpm", value*30/math.Pi)
	case trace.MotorPosition:
		return fmt.Sprintf("%.5g rev", value/(2*math.Pi))
	case trace.Force, trace.ForceCommand:
		return fmt.Sprintf("%.4g kN", value*1e-3)
	case trace.MotorCurrent:
		return fmt.Sprintf("%.4g A", value)
	case trace.MotorTorque:
		return fmt.Sprintf("%.4g Nm", value)
	case trace.OilTemperature:
		return fmt.Sprintf("%.3g degC", value-273.15)
	}
	return fmt.Sprintf("%.4g s", value)
}

// inTime words a short time.
func inTime(s float64) string {
	if s < 1e-3 {
		return fmt.Sprintf("%.2g ms", s*1e3)
	}
	if s < 1 {
		return fmt.Sprintf("%.3g ms", s*1e3)
	}
	return fmt.Sprintf("%.3g s", s)
}
