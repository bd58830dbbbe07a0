package compare

import (
	"math"

	"eha/strokewise/ident/quantity"
)

// Figure is a figure of a move.
type Figure int

// The figures; less is better for every one of them.
const (
	Rise          Figure = iota // s, from 10 to 90 % of the travel
	Settling                    // s, from the start of the move to 2 % of the travel about its end for good
	Overshoot                   // share of the travel beyond its end
	FollowingPeak               // m, largest error against the position command
	FollowingRMS                // m, rms error against it over the time compared
	FinalError                  // m, mean error at the end of the time compared
	Hunting                     // m, half of peak to peak at the end of the time compared, drift taken out
	PeakPressure                // Pa, gauge, the higher chamber
	PeakSpeed                   // rad/s, motor
	OilWork                     // J that the oil gives to the piston where it drives it
	numFigures
)

// FigureInfo describes a figure to the outside.
type FigureInfo struct {
	Name      string  // in the JSON results
	Words     string  // in text
	Factor    float64 // from SI to the JSON results' unit
	Unit      string  // that unit
	Dimension quantity.Dimension
	// A difference is useful above the larger of Share of the larger mean and
	// Least (SI): what a technician would retune for (common practice, no source).
	Share, Least float64
}

var figureInfos = [numFigures]FigureInfo{
	Rise:          {"rise_s", "rise time", 1, "s", quantity.Time, 0.10, 5e-3},
	Settling:      {"settling_s", "settling time", 1, "s", quantity.Time, 0.10, 20e-3},
	Overshoot:     {"overshoot_pct", "overshoot", 100, "%", quantity.Percent, 0, 0.02},
	FollowingPeak: {"following_error_peak", "following error, peak", 1e3, "mm", quantity.Length, 0.10, 20e-6},
	FollowingRMS:  {"following_error_rms", "following error, rms", 1e3, "mm", quantity.Length, 0.10, 20e-6},
	FinalError:    {"final_error", "final error", 1e3, "mm", quantity.Length, 0.20, 20e-6},
	Hunting:       {"hunting_amplitude", "hunting amplitude", 1e3, "mm", quantity.Length, 0.20, 20e-6},
	PeakPressure:  {"peak_pressure_bar", "peak pressure", 1e-5, "bar", quantity.Pressure, 0.05, 2e5},
	PeakSpeed:     {"peak_speed_rpm", "peak motor speed", 60 / (2 * math.Pi), "rpm", quantity.AngularSpeed, 0.05, 1},
	OilWork:       {"oil_work_J", "oil work", 1, "J", quantity.Energy, 0.05, 0.1},
}

// Info returns the figure's description.
func (f Figure) Info() FigureInfo { return figureInfos[f] }

// String returns the figure's name in the JSON results.
func (f Figure) String() string { return figureInfos[f].Name }

// Figures returns all figures in their fixed order.
func Figures() []Figure {
	all := make([]Figure, numFigures)
	for i := range all {
		all[i] = Figure(i)
	}
	return all
}

// useful returns the size (SI) that a difference between the means must exceed.
func (f Figure) useful(before, after float64) float64 {
	info := figureInfos[f]
	return math.Max(info.Least, info.Share*math.Max(math.Abs(before), math.Abs(after)))
}
