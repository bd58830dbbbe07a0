package tuning

import "math"

// Factors from SI to the JSON unit that controller.resolution is stated in.
const (
	revPerMM    = 1 / (2 * math.Pi * 1e3) // rad/m
	revPerSBar  = 1e5 / (2 * math.Pi)     // rad/s per Pa
	inHz        = 1 / (2 * math.Pi)       // rad/s
	inRPM       = 60 / (2 * math.Pi)      // rad/s
	inMM        = 1e3                     // m
	revPerSPerN = 1e3 / (2 * math.Pi)     // rad/s per N to rev/s per kN
)

// typed rounds settings to what the controller can hold, before they are judged.
type typed struct{ resolution map[string]float64 }

// down returns the value (SI) rounded towards zero to the setting's resolution, or to
// three digits where none is stated; factor turns SI into the setting's JSON unit.
func (t typed) down(name string, value, factor float64) float64 {
	return t.round(name, value, factor, math.Floor, 3)
}

// up is down the other way.
func (t typed) up(name string, value, factor float64) float64 {
	return t.round(name, value, factor, math.Ceil, 2)
}

// fine is down with six digits where no resolution is stated, for scales.
func (t typed) fine(name string, value, factor float64) float64 {
	return t.round(name, value, factor, math.Floor, 6)
}

func (t typed) round(name string, value, factor float64, whole func(float64) float64, digits int) float64 {
	if value == 0 {
		return 0
	}
	shown := value * factor
	step := t.resolution[name]
	if step <= 0 {
		step = math.Pow(10, math.Ceil(math.Log10(math.Abs(shown)))-float64(digits))
	}
	steps := math.Abs(shown) / step
	if near := math.Round(steps); math.Abs(steps-near) < 1e-9*near {
		steps = near // whole but for the last bits
	}
	rounded := whole(steps) * step
	if inverse := math.Round(1 / step); inverse > 0 && math.Abs(1/step-inverse) < 1e-9*inverse {
		rounded = whole(steps) / inverse // 11.6, not 11.600000000000001
	}
	return math.Copysign(rounded/factor, value)
}
