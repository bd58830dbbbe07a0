package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// Ratios between two readings of one quantity that mistaken units or counts per
// turn give.
var (
	speedMistakes = []mistake{{60, "rev/s taken for rpm or the like"}, {2 * math.Pi, "rad/s taken for rev/s or the like"}, {30 / math.Pi, "rpm taken for rad/s or the like"},
		{180 / math.Pi, "deg/s taken for rad/s or the like"}, {1000, "a factor of a thousand"}, {10, "a factor of ten"}, {360, "deg/s taken for rev/s or the like"}, {6, "deg/s taken for rpm or the like"}}
	lengthMistakes = []mistake{{25.4, "inch taken for mm or the like"}, {10, "cm taken for mm or the like"}, {1000, "m taken for mm or the like"}, {39.37, "m taken for inch or the like"}}
	turnMistakes   = []mistake{{2, "counts per turn wrong by two"}, {4, "lines taken for counts (four counts a line)"}, {2 * math.Pi, "rad taken for rev or the like"}, {360, "deg taken for rev or the like"}, {16, "counts per turn wrong by sixteen"}, {180 / math.Pi, "deg taken for rad or the like"}}
)

type mistake struct {
	factor float64
	text   string
}

// explain finds the mistake whose factor, or one over it, is within the tolerance of
// the ratio. A factor under five may also be an error of the nameplate, and must fit to 4 %.
func explain(ratio float64, mistakes []mistake, tolerance float64) (mistake, bool) {
	for _, m := range mistakes {
		tolerance := tolerance
		if m.factor < 5 {
			tolerance = math.Min(tolerance, 0.04)
		}
		if math.Abs(math.Abs(math.Log(ratio))-math.Log(m.factor)) < tolerance {
			return m, true
		}
	}
	return mistake{}, false
}

// speedScaleLimit is the share by which a logged speed may differ from encoder
// turns: drives print four digits, and a speed loop with integral action leaves nothing.
const speedScaleLimit = 0.015

// speedScale compares the speed that the drive reports, and the steady speed
// command, with the encoder's turns.
func (v *view) speedScale() []Finding {
	if !v.has(trace.MotorPosition) {
		return nil
	}
	n := v.motorSpeed()
	var found []Finding
	if y := v.frame[trace.MotorSpeed]; y != nil {
		// The drive's speed over a frame against the turns from the middle of one frame to the next.
		found = append(found, v.judgeScale(trace.MotorSpeed, v.steadyRatios(n, midpoints(y)))...)
	}
	if y := v.frame[trace.SpeedCommand]; y != nil {
		found = append(found, v.judgeScale(trace.SpeedCommand, v.steadyRatios(n, midpoints(y)))...)
	}
	return found
}

// midpoints averages neighbours, so that a level belongs to the same time as a change.
func midpoints(y []float64) []float64 {
	out := make([]float64, len(y))
	for k := range y {
		out[k] = (y[k] + y[min(k+1, len(y)-1)]) / 2
	}
	return out
}

// steadyRatios is |y|/|n| in steady travel above a tenth of top speed; where there
// is little of that, in all travel in which both hardly change from frame to frame.
func (v *view) steadyRatios(n, y []float64) []float64 {
	var steady, calm []float64
	for k := range n {
		if !v.good[k] || math.Abs(n[k]) < 0.1*v.motion.TopSpeed || y[k] == 0 || k == 0 {
			continue
		}
		ratio := math.Abs(y[k] / n[k])
		if v.kind[k] == motion.Steady && v.kind[min(k+1, len(v.kind)-1)] == motion.Steady {
			steady = append(steady, ratio)
		}
		if math.Abs(n[k]-n[k-1]) < 0.03*math.Abs(n[k]) && math.Abs(y[k]-y[k-1]) < 0.03*math.Abs(y[k]) {
			calm = append(calm, ratio)
		}
	}
	if len(steady) < 20 {
		return calm
	}
	return steady
}

func (v *view) judgeScale(c trace.Channel, ratios []float64) []Finding {
	if len(ratios) < 20 {
		return nil
	}
	r := median(ratios)
	spread := quantile(ratios, 0.75) - quantile(ratios, 0.25)
	// The scatter must not explain it: a loop that droops or hunts scatters.
	if math.Abs(r-1) < math.Max(speedScaleLimit, spread) {
		return nil
	}
	if f, ok := v.countsTaken(c, r); ok {
		return []Finding{f}
	}
	if m, ok := explain(r, speedMistakes, 0.04); ok {
		return []Finding{v.finding(UnitDoubtful, Stop, c, driveParams,
			fmt.Sprintf("%s is %.4g times what the encoder's turns give: %s.", c.Words(), r, m.text),
			"State the unit of the column in the machine file.").rescaled(r, m)}
	}
	severity := Harm
	if r > 2 || r < 0.5 {
		severity = Stop
	}
	return []Finding{v.retimed(v.finding(SpeedScale, severity, c, driveParams,
		fmt.Sprintf("%s reads %+.1f %% of what the encoder's turns give in steady travel.", c.Words(), 100*(r-1)),
		"The encoder is taken as right. Check speed scaling in the drive and counts per turn; gains per rpm are wrong by this factor until it is cleared."), r)}
}

// encoderJumps finds single steps of the motor position that no motor makes.
func (v *view) encoderJumps() []Finding {
	theta, ok := v.samples(trace.MotorPosition)
	if !ok {
		return nil
	}
	limit := v.encoderStep()
	var jumps []int
	disorder := v.disorder()
	for _, part := range motion.Stretches(v.t, 2) {
		for i := part.From + 1; i < part.To; i++ {
			if math.Abs(theta[i]-theta[i-1]) > limit && !disorder(v.t.TimeAt(i)) {
				jumps = append(jumps, i)
			}
		}
	}
	if len(jumps) == 0 {
		return nil
	}
	i := jumps[0]
	f := v.finding(EncoderWrap, Stop, trace.MotorPosition, strokeParams,
		fmt.Sprintf("the motor position jumps by %s within one sample, %d times, first at %.3f s: it starts again at a count that is not known, or misses.", inUnit(trace.MotorPosition, theta[i]-theta[i-1]), len(jumps), v.t.TimeAt(i)),
		"State counts_per_rev and wrap of motor_position in the machine file; check the encoder cable if the jumps are not equal.")
	f.From, f.To = v.t.TimeAt(i), v.t.TimeAt(jumps[len(jumps)-1])
	return []Finding{f}
}

// swappedColumns finds columns that bear each other's names: position and speed
// command, motor and rod position, motor speed and its command, rod position and its command.
func (v *view) swappedColumns() []Finding {
	var found []Finding
	n, x := v.motorSpeed(), v.frame[trace.RodPosition]
	u, r := v.frame[trace.SpeedCommand], v.frame[trace.PositionCommand]
	if n != nil && x != nil && u != nil && r != nil {
		c := centred(x)
		asNamed := math.Min(math.Abs(correlation(u, n, v.good)), math.Abs(correlation(centred(r), c, nil)))
		asSwapped := math.Min(math.Abs(correlation(r, n, v.good)), math.Abs(correlation(centred(u), c, nil)))
		if asSwapped > 0.7 && asSwapped > asNamed+0.3 {
			found = append(found, v.finding(SwappedColumns, Stop, trace.SpeedCommand, join(driveParams, []plant.Param{plant.OuterDelay}),
				"speed command and position command bear each other's names: the one called speed command follows the rod position.", "Exchange the two columns in the machine file.").exchanged(trace.PositionCommand))
		}
	}
	if f, ok := v.swappedPositions(); ok {
		found = append(found, f)
	}
	if f, ok := v.swappedSpeeds(); ok {
		found = append(found, f)
	}
	if len(found) > 0 {
		return found
	}
	if f, ok := v.swappedLengths(); ok {
		found = append(found, f)
	}
	return found
}

// swappedPositions compares the stroke per turn with the nameplate: with motor
// and rod position exchanged, in mm and rev, it comes out as its own reciprocal.
func (v *view) swappedPositions() (Finding, bool) {
	areaCap, areaRod := v.areas()
	if areaRod <= 0 || v.m.Pump.Displacement <= 0 || v.motion.StrokePerTurn == 0 {
		return Finding{}, false
	}
	seen := v.motion.StrokePerTurn * 2 * math.Pi * 1e3 // mm/rev
	low, high := v.m.Pump.Displacement/areaCap*2*math.Pi*1e3, v.m.Pump.Displacement/areaRod*2*math.Pi*1e3
	if seen > 0.8*low && seen < 1.25*high || 1/seen < 0.9*low || 1/seen > 1.1*high {
		return Finding{}, false
	}
	// The encoder is far cleaner than a transducer; exchanged it is the other way round.
	x, _ := v.samples(trace.RodPosition)
	theta, _ := v.samples(trace.MotorPosition)
	if v.quickNoise(x) >= v.quickNoise(theta)*v.motion.StrokePerTurn {
		return Finding{}, false
	}
	return v.finding(SwappedColumns, Stop, trace.RodPosition, join(strokeParams, forceParams),
		fmt.Sprintf("motor and rod position bear each other's names, as it seems: the rod would travel %.3g mm a turn, the nameplate gives %.3g to %.3g, and the noise is on the motor position.", seen, low, high),
		"Exchange the two columns in the machine file.").exchanged(trace.MotorPosition), true
}

// swappedSpeeds compares the reported speed with the encoder: a command comes
// before the speed, a report does not.
func (v *view) swappedSpeeds() (Finding, bool) {
	theta, ok := v.samples(trace.MotorPosition)
	u, ok2 := v.samples(trace.SpeedCommand)
	y, ok3 := v.samples(trace.MotorSpeed)
	if !ok || !ok2 || !ok3 {
		return Finding{}, false
	}
	n := motion.Slope(v.t, theta, 0)
	uLag, ok := v.lagBehind(n, u)
	yLag, ok2 := v.lagBehind(n, y)
	// Positive: the encoder comes later than the channel.
	if ok && ok2 && yLag.value-yLag.width > 2e-3 && uLag.value < 1e-3 {
		return v.finding(SwappedColumns, Stop, trace.SpeedCommand, driveParams,
			fmt.Sprintf("speed command and motor speed bear each other's names: the one called motor speed is %s ahead of the encoder.", inTime(yLag.value)), "Exchange the two columns in the machine file.").exchanged(trace.MotorSpeed), true
	}
	return Finding{}, false
}
