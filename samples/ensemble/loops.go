package main

import (
	"context"
	"fmt"
	"math"
	"time"

	"eha/strokewise/ident/plant"
	"eha/strokewise/samples/twin"
	"eha/strokewise/tuning"
	"eha/strokewise/tuning/law"
)

// loopsVerdict is what a proposal does on the machine it was made for. Every
// count is "held of asked".
type loopsVerdict struct {
	proposed, force bool
	why             string // not proposed, or an error
	took            time.Duration
	stable          count               // standard steps at 0.6, 1 and 1.6 of the mass, both directions
	gainMargin      count               // stated upward margin kept to 1.5 dB
	phaseMargin     count               // stated margin kept to 7 degrees
	rise            count               // predicted within 10 %
	settling        count               // within 20 %
	overshoot       count               // within 3 points
	final           count               // within the window
	calm            count               // hunting within the window
	droop           count               // error left above the window predicted within 20 %
	repeated        count               // repeated steps come to rest near the reference
	smoothError     count               // largest error of a smooth move predicted within 20 %
	kickError       count               // largest error under a load that comes and goes within 20 %
	kickDroop       count               // error left while that load stands within 20 %, where it exceeds the window
	plainDroop      count               // the same without an integral
	whatIf          [len(whatIfs)]count // settling predicted within 20 % on the machine with that change
	remedies        count               // what a remedy brings promised within 10 %
	guards          guardVerdict
	pressing        forceVerdict
	worstGain       float64
	settled, best   float64 // s, mean of both directions, proposed and by brute force; best is 0 where not asked
}

// count is a number of cases and how many of them held.
type count struct{ held, asked int }

func (c *count) add(held bool) {
	c.asked++
	if held {
		c.held++
	}
}

// namedCount is a count with its target in words.
type namedCount struct {
	name  string
	count *count
}

// counts lists every count of the verdict.
func (v *loopsVerdict) counts() []namedCount {
	own := []namedCount{
		{"standard steps stable at 0.6, 1, 1.6 of the mass", &v.stable},
		{"stated gain margin kept to 1.5 dB", &v.gainMargin},
		{"stated phase margin kept to 7 deg", &v.phaseMargin},
		{"rise predicted within 10 %", &v.rise},
		{"settling predicted within 20 %", &v.settling},
		{"overshoot predicted within 3 points", &v.overshoot},
		{"final error within the window", &v.final},
		{"no hunting beyond the window", &v.calm},
		{"error left predicted within 20 %", &v.droop},
		{"repeated steps come to rest within 3 % or the window", &v.repeated},
		{"largest error of a smooth move within 20 %", &v.smoothError},
		{"largest error under a load kick within 20 %", &v.kickError},
		{"droop under a standing load within 20 %", &v.kickDroop},
		{"the same without an integral", &v.plainDroop},
		{"what a remedy brings promised within 10 %", &v.remedies},
	}
	for i := range whatIfs {
		own = append(own, namedCount{"settling after a what-if of " + whatIfs[i].name + " within 20 %", &v.whatIf[i]})
	}
	own = append(own, v.guards.counts()...)
	return append(own, v.pressing.counts()...)
}

// join adds another verdict's counts.
func (v *loopsVerdict) join(o *loopsVerdict) {
	mine, others := v.counts(), o.counts()
	for i := range mine {
		mine[i].count.held += others[i].count.held
		mine[i].count.asked += others[i].count.asked
	}
}

// line says in a few words what did not hold.
func (v *loopsVerdict) line() string {
	if v == nil {
		return ""
	}
	if !v.proposed {
		return " | no loop: " + v.why
	}
	text := fmt.Sprintf(" | settles in %.2f s", v.settled)
	if v.best > 0 {
		text += fmt.Sprintf(", %.2f times the best", v.settled/v.best)
	}
	for _, c := range v.counts() {
		if c.count.held < c.count.asked {
			text += fmt.Sprintf("; %s: %d of %d", c.name, c.count.held, c.count.asked)
		}
	}
	return text
}

// settingsOf turns proposed settings (SI) into those of the judge's own law.
func settingsOf(l law.Loops) twin.Loops {
	const turn, mm, bar, kN = 2 * math.Pi, 1e-3, 1e5, 1e3
	out := twin.Loops{Format: "strokewise.loops/1"}
	if p := l.Position; p != nil {
		out.Position = &twin.PositionLoop{
			Period: p.Period, KpExtend: p.Kp.Extend, KpRetract: p.Kp.Retract, KiExtend: p.Ki.Extend, KiRetract: p.Ki.Retract,
			Feedforward: p.Feedforward, TurnsExtend: p.Turns.Extend / turn * mm, TurnsRetract: p.Turns.Retract / turn * mm,
			Damping: p.PressureDamping / turn * bar, Highpass: p.Highpass / turn, Lowpass: p.Lowpass / turn,
			SpeedLimit: p.SpeedLimit / turn * 60, Window: p.Window / mm, WindowTime: p.WindowTime,
			ByChamber: p.ByChamber, ChamberBand: p.ChamberBand / kN,
		}
		if t := p.Table; t != nil {
			table := &twin.TurnsTable{}
			for i, x := range t.Position {
				table.Position = append(table.Position, x/mm)
				table.Extend = append(table.Extend, t.Turns.Extend[i]/turn*mm)
				table.Retract = append(table.Retract, t.Turns.Retract[i]/turn*mm)
			}
			out.Position.Table = table
		}
	}
	if f := l.Force; f != nil {
		out.Force = &twin.ForceLoop{
			Presses: f.Presses.String(), ApproachSpeed: f.ApproachSpeed / mm, TravelLimit: f.TravelLimit / mm, Period: f.Period,
			Kp: f.Kp / turn * kN, Ki: f.Ki / turn * kN, RateFeedforward: f.RateFeedforward / turn * kN,
			Lowpass: f.Lowpass / turn, SpeedLimit: f.SpeedLimit / turn * 60,
		}
	}
	return out
}

// judge proposes settings for the fitted plant and runs them on the machine.
func judge(m *twin.Machine, p *plant.Plant, o options) *loopsVerdict {
	v := &loopsVerdict{worstGain: math.Inf(1)}
	opt, pieces := o.ask(), []float64{1}
	if o.stated {
		opt, pieces = stateContact(opt, m), statedPieces
	}
	began := time.Now()
	t, err := tuning.Propose(context.Background(), p, opt)
	v.took = time.Since(began)
	if err != nil {
		v.why = err.Error()
		return v
	}
	settings := settingsOf(t.Loops)
	if settings.Position == nil {
		v.why = t.NotProposed["position"]
		return v
	}
	v.proposed = true
	v.judgePosition(m, t, settings)
	v.judgeCourses(m, p, t)
	v.judgeRepeats(m, settings)
	v.judgePlainDroop(m, p, o)
	v.judgeWhatIfs(m, p, o)
	v.guards.judge(m, p, t, settings)
	if o.best {
		_, v.best = twin.Best(m, twin.UsualTargets(), massFactors)
		v.judgeRemedies(m, t)
	}
	if settings.Force != nil && m.Contact != nil {
		v.force = true
		v.pressing.judge(m, t, settings, pieces)
	}
	return v
}

var massFactors = []float64{0.6, 1, 1.6}

func (v *loopsVerdict) judgePosition(m *twin.Machine, t *tuning.Proposal, settings twin.Loops) {
	for _, factor := range massFactors {
		loaded := m.WithMass(factor)
		for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
			f := twin.StandardStep(loaded, settings, d.Sign())
			v.stable.add(f.Stable)
			if factor == 1 {
				v.settled += math.Min(f.Settling, 6) / 2
				v.comparePosition(t, settings, d, f)
			}
		}
	}
	for _, s := range t.Margins {
		if s.Loop == "position" {
			v.compareMargin(m, s, settings)
		}
	}
}

// compareMargin holds a stated margin against the machine's own at that place,
// where travel is steady and the chamber that was assumed carries.
func (v *loopsVerdict) compareMargin(m *twin.Machine, s tuning.Margin, settings twin.Loops) {
	x := math.Max(0.02*m.Stroke, math.Min(0.98*m.Stroke, s.Position))
	loaded := m.WithMass(s.MassFactor)
	if twin.Carries(loaded, x, s.Direction.Sign()) != s.Chamber.String() {
		return
	}
	real := twin.PositionMargins(loaded, settings.Position, x, s.Direction.Sign())
	if !real.Steady {
		return
	}
	v.worstGain = math.Min(v.worstGain, real.GainMargin)
	v.gainMargin.add(real.Stable && (real.GainMargin >= s.GainMargin*math.Pow(10, -1.5/20) || math.IsInf(real.GainMargin, 1)))
	v.phaseMargin.add(real.Stable && real.PhaseMargin >= s.PhaseMargin-7*math.Pi/180)
}

func (v *loopsVerdict) comparePosition(t *tuning.Proposal, settings twin.Loops, d plant.Direction, f twin.Figures) {
	window := settings.Position.Window
	v.final.add(f.FinalError <= window)
	v.calm.add(f.Hunting <= 2*window)
	for _, s := range t.Predicted {
		if s.Loop == "position" && s.Direction == d {
			v.rise.add(within(s.Rise.Value, f.Rise, 0.1))
			v.settling.add(within(s.Settling.Value, f.Settling, 0.2))
			v.overshoot.add(math.Abs(s.Overshoot.Value-f.Overshoot) <= 0.03)
			// With an integral the error left hangs on how long one waits.
			if f.FinalError > window && settings.Position.KiExtend == 0 && settings.Position.KiRetract == 0 {
				v.droop.add(within(s.FinalError.Value*1e3, f.FinalError, 0.2))
			}
			return
		}
	}
}

// within reports whether the two agree to a share of the achieved one; two
// responses that never get there agree.
func within(predicted, achieved, share float64) bool {
	if math.IsInf(predicted, 1) || math.IsInf(achieved, 1) {
		return math.IsInf(predicted, 1) && math.IsInf(achieved, 1)
	}
	return math.Abs(predicted-achieved) <= share*achieved
}
