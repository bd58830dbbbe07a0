package tuning

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/sim"
)

func contactLost(t *testing.T, out *Proposal, p *pressing) {
	t.Helper()
	const at = 2.0
	m := p.atStiffness(p.contact.Stiffness)
	run := p.play(m, out.Loops, 1, p.lostPlay(out.Loops.Force, at, 0))
	// The oil's own expansion comes first, faster than any loop; then the limits hold.
	from := int(math.Round((at + 0.2) / run.Period))
	window := int(math.Round(0.1 / run.Period))
	most := 1.05 * out.Loops.Force.SpeedLimit * max(m.StrokePerTurn(plant.Cap), m.StrokePerTurn(plant.Rod))
	for i := from; i+window < len(run.Position); i += window {
		if v := math.Abs(run.Position[i+window]-run.Position[i]) / (float64(window) * run.Period); v > most {
			t.Errorf("%.3g mm/s at %.2f s after contact was lost, limit %.3g mm/s", v*inMM, float64(i)*run.Period-at, most*inMM)
			return
		}
	}
	beyond := p.sign() * (run.Position[len(run.Position)-1] - p.contact.Position)
	if most := max(out.Loops.Force.TravelLimit, 1e-3) + 2e-3; beyond > most {
		t.Errorf("the rod comes to rest %.3g mm beyond the contact, command at %.3g mm", beyond*inMM, most*inMM)
	}
}

// A work piece that gives way and comes back: the force is held again, without passing the limit.
func TestContactRegained(t *testing.T) {
	out, p := pressed(t, inventedPress(310, plant.Extend))
	m := p.atStiffness(p.contact.Stiffness)
	// Losing contact at once leaves the rod on its way to the command beyond it; a
	// second approach from there begins with the force integral that was held.
	story := p.onContact(out.Loops.Force, 2)
	back := m.Contact.Position - p.sign()*3e-3
	run := sim.Do(sim.Experiment{Model: m, MassFactor: 1, Loops: out.Loops, Start: story.start, Duration: 9, All: true, Demand: func(t float64) law.Demand {
		d := story.course(t)
		d.Force = p.sign() * p.high * p.limit
		if t > 3 && t < 5 {
			d.Position = back
		} else if t >= 5 {
			d.Position = min(back+out.Loops.Force.ApproachSpeed*(t-5), d.Position)
		}
		return d
	}})
	gone := int(4.9 / run.Period)
	if math.Abs(run.Position[gone]-back) > 1e-3 || run.InForce[gone] {
		t.Errorf("position command took the rod to %.2f mm, want %.2f mm", run.Position[gone]*inMM, back*inMM)
	}
	if peak := p.peak(&run, 1); peak > p.limit {
		t.Errorf("peak %.3g kN, limit %.3g kN", peak*1e-3, p.limit*1e-3)
	}
	if last := run.Force[len(run.Force)-1]; math.Abs(last-p.sign()*p.high*p.limit) > 0.02*p.limit {
		t.Errorf("rests at %.3g kN after the second touch", last*1e-3)
	}
	if last := run.InForce[len(run.InForce)-1-int(1/run.Period):]; switches(last) > 0 || !last[0] {
		t.Errorf("%d hand-overs after the second touch", switches(last))
	}
}

// What holding asks of the motor, worked by hand: n = L p/D and T = D p with p =
// (F + p_low A_rod)/A_cap; and the file's limits are held against it.
func TestHoldingIsStated(t *testing.T) {
	p := inventedPress(304, plant.Extend)
	m := &p.Model
	pressure := (p.Machine.Limits.Force + m.LowPressure*m.Area.Rod) / m.Area.Cap
	p.Machine.Pump.MinSpeed = 2 * m.Leakage * pressure / m.Displacement
	p.Seen.CellOffset = [3]float64{200, 500, 800}
	p.Machine.Motor.ContinuousTorque = 0.5 * m.Displacement * pressure
	text := strings.Join(propose(t, p, DefaultOptions()).Warnings, "\n")
	for _, want := range []string{
		fmt.Sprintf("about %.0f rpm with %.3g Nm", m.Leakage*pressure/m.Displacement*60/(2*math.Pi), m.Displacement*pressure),
		"below the pump's lowest speed", "above the motor's continuous torque", "heat up", "is 0.8 kN more than the rod's while pressing up and 0.2 kN while easing off: friction of 0.3 kN either way", "about 0.5 kN of load",
		fmt.Sprintf("plus or minus %.2g kN", m.Coulomb.Extend*1e-3),
	} {
		if !strings.Contains(text, want) {
			t.Errorf("warnings do not say %q:\n%s", want, text)
		}
	}
}

// Loads along the axis change what a force reference does, worked by hand: a load that
// resists drives the rod back under references less than itself less friction; one that
// pushes adds to the force at the work piece; and a force limit beyond the pressure limit is said.
func TestLoadWhilePressingIsStated(t *testing.T) {
	p := inventedPress(304, plant.Extend)
	m := &p.Model
	m.AxialLoad = -0.45 * p.Machine.Limits.Force
	out := propose(t, p, DefaultOptions())
	text := strings.Join(out.Warnings, "\n")
	for _, want := range []string{
		fmt.Sprintf("below %.3g kN is less than the load", (0.45*p.Machine.Limits.Force-m.Coulomb.Retract)*1e-3),
		"standard force steps are predicted from", "with force not selected, the force reaches",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("warnings do not say %q:\n%s", want, text)
		}
	}
	if s := out.Predicted[len(out.Predicted)-1]; !(s.To > 0.45*p.Machine.Limits.Force) {
		t.Errorf("steps to %.3g kN do not reach the work", s.To*1e-3)
	}
	m.AxialLoad = 0.2 * p.Machine.Limits.Force
	text = strings.Join(propose(t, p, DefaultOptions()).Warnings, "\n")
	if want := fmt.Sprintf("references below %.3g kN", 0.8*p.Machine.Limits.Force*1e-3); !strings.Contains(text, want) {
		t.Errorf("warnings do not say %q:\n%s", want, text)
	}
	m.AxialLoad = -0.9 * p.Machine.Limits.Force
	if why := propose(t, p, DefaultOptions()).NotProposed["force"]; !strings.Contains(why, "load and friction take") {
		t.Errorf("a load near the force limit: %q", why)
	}
	m.AxialLoad = -0.1 * p.Machine.Limits.Force
	p.Machine.Limits.WorkingPressure = 0.5 * p.Machine.Limits.Force / m.Area.Cap
	if text := strings.Join(propose(t, p, DefaultOptions()).Warnings, "\n"); !strings.Contains(text, "above the pressure limit") {
		t.Errorf("a force limit beyond the pressure limit is not said:\n%s", text)
	}
}

// What happens while pressing is predicted with every figure inside its band, on
// machines that press either way, and the worst of it below the limit.
func TestEventsWhilePressing(t *testing.T) {
	for seed, presses := range map[uint64]plant.Direction{311: plant.Extend, 312: plant.Retract} {
		out, p := pressed(t, inventedPress(seed, presses))
		ids := map[string]bool{}
		for _, e := range out.Events {
			ids[e.Scenario.ID] = true
			for name, r := range map[string]Range{"peak force": e.PeakForce, "peak work": e.PeakWork, "rod speed": e.RodSpeed, "thrown": e.Thrown,
				"error": e.Error, "rests": e.Rests, "hand-overs": e.HandOvers, "bounces": e.Bounces} {
				if !(r.Low <= r.Value && r.Value <= r.High) {
					t.Errorf("%s: %s %v", e.Scenario.ID, name, r)
				}
			}
			if e.PeakForce.Value > p.limit || math.Signbit(e.To+e.From) != math.Signbit(p.sign()) {
				t.Errorf("%s: peak %.3g kN, limit %.3g kN, from %.3g to %.3g kN", e.Scenario.ID, e.PeakForce.Value*1e-3, p.limit*1e-3, e.From*1e-3, e.To*1e-3)
			}
			if e.To != 0 && e.Error.Value > 0.1*p.limit {
				t.Errorf("%s: rests %.3g kN off its reference", e.Scenario.ID, e.Error.Value*1e-3)
			}
		}
		for _, id := range []string{"press", "press_ramp", "press_runs_on", "contact_lost", "contact_regained"} {
			if !ids[id] {
				t.Errorf("no %s", id)
			}
		}
	}
}

// Every scenario of a pressing machine runs, the work piece's loss and the ramp among them.
func TestPressScenarios(t *testing.T) {
	out, p := pressed(t, inventedPress(305, plant.Retract))
	for _, s := range p.d.situations(out) {
		if !strings.HasPrefix(s.ID, "press") && !strings.HasPrefix(s.ID, "contact_") {
			continue
		}
		run := s.run(&p.d.model, out.Loops)
		first := int(math.Round(s.begin / run.Period))
		if len(run.Force) <= first {
			t.Fatalf("%s: ends at %d, begins at %d", s.ID, len(run.Force), first)
		}
		if peak := p.peak(&run, 1); s.ID != "contact_lost" && peak > p.limit {
			t.Errorf("%s: peak %.3g kN", s.ID, peak*1e-3)
		}
		if s.ID == "press_ramp" {
			last := p.sign() * (run.Position[len(run.Position)-1] - p.contact.Position)
			if last > 0 {
				t.Errorf("the rod does not let go: %.3g mm beyond the contact", last*inMM)
			}
		}
	}
}
