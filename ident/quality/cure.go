package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/trace"
)

// Cure is a change of how the logs are read that would clear a finding. Whether it is
// the right one the machine decides: what is wrong in the controller stays wrong there.
type Cure struct {
	Kind    CureKind
	Channel trace.Channel
	With    trace.Channel // whose column it is exchanged with
	Factor  float64       // the channel reads so many times what it should
}

// CureKind says what to change.
type CureKind int

// The kinds of cure.
const (
	NoCure     CureKind = iota
	TurnSign            // the channel's sign
	Exchange            // the columns of two channels
	Rescale             // the channel's unit, or its counts per turn
	CountTurns          // the motor position is in counts, Factor of them a turn
	Reference           // a pressure that is read as absolute is gauge
	Retime              // the sample period that was stated, which is so many times what it should be
)

// turned adds the turn of its channel's sign as the cure.
func (f Finding) turned() Finding {
	f.Cure = Cure{Kind: TurnSign, Channel: f.Channel}
	return f
}

// exchanged adds the exchange of its channel's column with another's as the cure.
func (f Finding) exchanged(with trace.Channel) Finding {
	f.Cure = Cure{Kind: Exchange, Channel: f.Channel, With: with}
	return f
}

// rescaled adds the unit that explains the ratio as the cure.
func (f Finding) rescaled(ratio float64, m mistake) Finding {
	factor := m.factor
	if ratio < 1 {
		factor = 1 / factor
	}
	f.Cure = Cure{Kind: Rescale, Channel: f.Channel, Factor: factor}
	return f
}

// retimed adds the sample period as the cure where it is a stated one: it scales every
// speed seen from the encoder.
func (v *view) retimed(f Finding, ratio float64) Finding {
	const most = 20.0 // what is farther off is no slip of the pen
	if (!v.r.Clock.Has || v.r.Clock.Index) && ratio < most && ratio > 1/most {
		f.Cure = Cure{Kind: Retime, Channel: trace.Time, Factor: ratio}
		f.Do += " The sample period was stated, and may be wrong by this factor instead."
	}
	return f
}

// countsTaken finds counts that were taken for turns: the motor position moves in whole
// ones, and a speed (the channel c) gives so small a share of them (ratio) that a
// usual number of counts, a power of two or a round one, lies within 2 %.
func (v *view) countsTaken(c trace.Channel, ratio float64) (Finding, bool) {
	const least, turn = 200.0, 2 * math.Pi
	theta, _ := v.samples(trace.MotorPosition)
	whole, seen := 0, 0
	for i := 0; i < len(theta); i += max(1, len(theta)/2000) {
		if y := theta[i] / turn; math.Abs(y-math.Round(y)) < 1e-6 {
			whole++
		}
		seen++
	}
	if !(ratio > 0) || 1/ratio < least || whole*10 < seen*9 {
		return Finding{}, false
	}
	counts := 1 / ratio
	usual := math.Exp2(math.Round(math.Log2(counts)))
	if round := 100 * math.Round(counts/100); math.Abs(usual/counts-1) > math.Abs(round/counts-1) && math.Abs(usual/counts-1) > 0.02 {
		usual = round
	}
	if math.Abs(usual/counts-1) > 0.02 {
		return Finding{}, false
	}
	f := v.finding(UnitDoubtful, Stop, trace.MotorPosition, join(strokeParams, driveParams),
		fmt.Sprintf("the motor position moves in whole turns, %.4g of them to a turn by the %s: counts taken for turns.", counts, c.Words()),
		"State the unit counts and counts_per_rev of motor_position in the machine file; the encoder's data sheet or the drive's scaling has them.")
	f.Cure = Cure{Kind: CountTurns, Channel: trace.MotorPosition, Factor: usual}
	return f, true
}

// leftOut notes the stretches that are left out at the user's request.
func (v *view) leftOut() []Finding {
	var found []Finding
	for _, s := range v.r.LeftOut {
		f := v.finding(LeftOut, Note, trace.NoChannel, nil, "left out of everything, as asked for.", "")
		f.From, f.To = s.From, s.To
		found = append(found, f)
	}
	return found
}

// outside drops the findings that lie within a stretch that is left out, by half a
// sample at the ends.
func (v *view) outside(found []Finding) []Finding {
	grace := v.t.Period()/2 + 1e-9*math.Abs(v.t.TimeAt(v.t.Len()-1))
	var kept []Finding
	for _, f := range found {
		within := false
		for _, s := range v.r.LeftOut {
			within = within || f.From >= s.From-grace && f.To <= s.To+grace
		}
		if !within {
			kept = append(kept, f)
		}
	}
	return kept
}
