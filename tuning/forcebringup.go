package tuning

import (
	"fmt"
	"math"

	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/loop"
)

// timidShares are the shares of the gains that the force loop is first tried with,
// the first that is stable: with an integral against slip less gain is not always safer.
var timidShares = []float64{0.25, 0.5, 0.7}

// forceSteps bring the force loop up on a contact where no person can reach.
func (d *design) forceSteps(l law.Loops) []BringUpStep {
	p, why := d.newPressing()
	if why != "" {
		return nil
	}
	const back = "Ease off in position mode, then enter the settings of the step before."
	timid, share := p.timid(l.Force)
	full := *l.Force
	first := max(0.1*p.limit, 1.1*p.leastForce())
	return []BringUpStep{
		{
			Title: fmt.Sprintf("Force loop at %.0f %% of its gains, on a test spring or stop", 100*share), Settings: &law.Loops{Position: l.Position, Force: &timid},
			Do: []string{
				"Nobody within reach of rod and work piece. Set speed and travel limit of force mode first, and the torque limit to what the force limit takes.",
				fmt.Sprintf("Force reference %.3g kN, well below the limit and enough to move the rod; approach at %.3g mm/s.", first*1e-3, timid.ApproachSpeed*inMM),
				fmt.Sprintf("Then step from %.3g to %.3g kN and back.", p.low*p.limit*1e-3, p.high*p.limit*1e-3),
			},
			Expect: append([]string{"one touch, at most one bounce"}, p.expected(l.Position, &timid)...),
			StopIf: append(stopSigns(), "the rod runs on after contact is lost"),
			Back:   back,
		},
		{
			Title: "Force loop as proposed", Settings: &law.Loops{Position: l.Position, Force: &full},
			Do:     []string{fmt.Sprintf("Steps from %.3g to %.3g kN and back; then approach and press as in production; then lose the contact on purpose, slowly.", p.low*p.limit*1e-3, p.high*p.limit*1e-3)},
			Expect: append(p.expected(l.Position, &full), p.expectedLoss(l)),
			StopIf: append(stopSigns(), fmt.Sprintf("force above %.3g kN", p.limit*1e-3)),
			Back:   back,
		},
	}
}

// timid returns the settings with the least share of the gains that is stable over the grid.
func (p *pressing) timid(full *law.Force) (law.Force, float64) {
	for _, share := range timidShares {
		set := *full
		set.Kp = p.d.typed.down("force_kp", share*full.Kp, revPerSPerN)
		set.Ki = p.d.typed.down("force_ki", share*full.Ki, revPerSPerN)
		margins, _ := p.margins(&set, loop.Coarse)
		stable := set.Kp > 0
		for _, m := range margins {
			stable = stable && m.Stable
		}
		if stable {
			return set, share
		}
	}
	return *full, 1
}

// expectedLoss says what the rod does when contact is lost.
func (p *pressing) expectedLoss(l law.Loops) string {
	play := p.lostPlay(l.Force, eventHold, 0)
	m := p.atStiffness(p.contact.Stiffness)
	run := p.play(m, l, 1, play)
	f := p.measure(&run, m, play)
	return fmt.Sprintf("no jump at hand-over; when contact is lost the oil's expansion throws the rod at up to %s mm/s for a moment, then at most %s mm/s, and it comes to rest %.2g mm beyond the contact",
		three(f.thrown*inMM), three(f.speed*inMM), f.rests*inMM)
}

// expected says what the standard force steps should look like with the settings.
func (p *pressing) expected(position *law.Position, set *law.Force) []string {
	run := p.run(p.atStiffness(p.contact.Stiffness), law.Loops{Position: position, Force: set}, p.onContact(set, trialHold))
	var lines []string
	for i, o := range p.figures(&run) {
		rise, settle := "slower than the two seconds tried", "not settled to 2 % by then"
		if !math.IsInf(o.Rise, 1) {
			rise = fmt.Sprintf("rise %.2g s", o.Rise)
		}
		if !math.IsInf(o.Settling, 1) {
			settle = fmt.Sprintf("settled to 2 %% in %.2g s", o.Settling)
		}
		lines = append(lines, fmt.Sprintf("step %s: %s, overshoot %.1f %%, %s", [2]string{"up", "down"}[i], rise, 100*o.Overshoot, settle))
	}
	return lines
}
