package tuning

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/loop"
	"eha/strokewise/tuning/sim"
)

// inventedPress is an invented machine with something to press on while it moves the one way or the other.
func inventedPress(seed uint64, presses plant.Direction) *plant.Plant {
	p := invented(seed)
	rng := rand.New(rand.NewPCG(seed, 78))
	between := func(low, high float64) float64 { return low * math.Pow(high/low, rng.Float64()) }
	m := &p.Model
	area := m.Area.At(carries(presses))
	p.Machine.Limits.WorkingPressure, p.Machine.Limits.Relief = 160e5, 200e5
	p.Machine.Limits.Force = math.Round(0.7*160e5*area/1e3) * 1e3
	m.AxialLoad, m.GravityShare = -presses.Sign()*between(0.04, 0.14)*160e5*area, 0
	place := 0.7 + 0.18*rng.Float64()
	if presses == plant.Retract {
		place = 1 - place
	}
	m.Contact = &plant.Contact{Presses: presses, Position: place * m.Stroke, Stiffness: between(5e6, 40e6)}
	know(p, plant.ContactStiffness, m.Contact.Stiffness, 0.05)
	share := p.Machine.Limits.Force * presses.Sign()
	p.Seen.PressForce = [2]float64{min(0.2*share, 0.8*share), max(0.2*share, 0.8*share)}
	p.Seen.Noise.Pressure = 8e3
	return p
}

// pressed proposes for the machine and returns what the force loop was designed on beside it.
func pressed(t *testing.T, p *plant.Plant) (*Proposal, *pressing) {
	t.Helper()
	out := propose(t, p, DefaultOptions())
	if out.Loops.Force == nil {
		t.Fatalf("no force loop: %s", out.NotProposed["force"])
	}
	d, err := newDesign(p, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	pr, why := d.newPressing()
	if pr == nil {
		t.Fatal(why)
	}
	return out, pr
}

// steepest returns the largest change of command (rad/s) at a change of the loop in charge.
func steepest(run *sim.Run) float64 {
	most := 0.0
	for i := 1; i < len(run.InForce); i++ {
		if run.InForce[i] != run.InForce[i-1] {
			most = max(most, math.Abs(run.Command[i]-run.Command[i-1]))
		}
	}
	return most
}

// Whatever the machine and the direction pressed: the targets hold at every point
// of the grid, counted anew from the settings; no approach passes the force limit, with friction
// as bristles too; the hand-over neither jumps nor chatters; and a rod that loses the work piece
// is held by the limits of force mode.
func TestNoForceLoopBreaksItsPromises(t *testing.T) {
	count := uint64(8)
	if testing.Short() {
		count = 4
	}
	for seed := range count {
		presses := plant.Direction(seed % 2)
		t.Run(fmt.Sprintf("%d %s", seed, presses), func(t *testing.T) {
			out, p := pressed(t, inventedPress(300+seed, presses))
			set := out.Loops.Force
			if set.Presses != presses || !(set.SpeedLimit > 0 && set.ApproachSpeed > 0 && set.TravelLimit > 0) {
				t.Errorf("limits of force mode missing: %+v", set)
			}
			marginsHold(t, out, p)
			approachHolds(t, out, p)
			contactLost(t, out, p)
		})
	}
}

func marginsHold(t *testing.T, out *Proposal, p *pressing) {
	t.Helper()
	margins, _ := p.margins(out.Loops.Force, loop.Fine)
	stated := 0
	for _, m := range out.Margins {
		if m.Loop == "force" {
			stated++
		}
	}
	if stated != len(margins) || stated < 3 || out.Worst["force"].Why == "" {
		t.Errorf("%d margins stated, %d counted; worst: %q", stated, len(margins), out.Worst["force"].Why)
	}
	for _, m := range margins {
		if !m.Stable || m.Sensitivity > out.Targets.SensitivityPeak || m.GainMargin < out.Targets.GainMargin || m.PhaseMargin < out.Targets.PhaseMargin {
			t.Errorf("targets broken at %+v", m)
		}
	}
}

func approachHolds(t *testing.T, out *Proposal, p *pressing) {
	t.Helper()
	set := out.Loops.Force
	story := p.approaching(set, 1.5)
	for _, stiff := range []float64{p.contact.Stiffness, p.stiffest()} {
		m := p.atStiffness(stiff)
		for _, bristle := range []bool{false, true} {
			run := sim.Do(sim.Experiment{Model: m, MassFactor: 1, Loops: out.Loops, Start: story.start, Duration: story.first, All: true, Bristle: bristle,
				Demand: func(t float64) law.Demand {
					d := story.course(t)
					d.Force = p.sign() * p.high * p.limit
					return d
				}})
			if peak := p.peak(&run, 1); peak > p.limit {
				t.Errorf("approach peaks at %.3g kN, limit %.3g kN", peak*1e-3, p.limit*1e-3)
			}
			if jump := steepest(&run); jump > 0.02*out.Loops.Position.SpeedLimit {
				t.Errorf("hand-over jumps by %.3g rpm", jump*inRPM)
			}
			held := run.InForce[len(run.InForce)-1-int(1/run.Period):]
			if n := switches(held); n > 0 || !held[0] {
				t.Errorf("%d hand-overs while the force is held, force in charge: %t", n, held[0])
			}
			if last := run.Force[len(run.Force)-1]; math.Abs(last-p.sign()*p.high*p.limit) > 0.03*p.limit {
				t.Errorf("rests at %.3g kN, asked for %.3g kN", last*1e-3, p.sign()*p.high*p.limit*1e-3)
			}
		}
	}
	if p.hardest(out.Loops.Position, set) > p.limit && !strings.Contains(strings.Join(out.Warnings, "\n"), "keep references below") {
		t.Error("a position command that runs on passes the limit and no warning says so")
	}
}

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

func TestNoForceLoopWithoutItsGround(t *testing.T) {
	for what, change := range map[string]func(*plant.Plant){
		"chamber pressures": func(p *plant.Plant) { p.PressuresSeen = false },
		"bore and rod":      func(p *plant.Plant) { p.AreasKnown = false },
		"force_select":      func(p *plant.Plant) { p.Machine.Controller.ForceSelect = machine.No },
		"hold no pressing":  func(p *plant.Plant) { p.Model.Contact = nil },
		"limits.force":      func(p *plant.Plant) { p.Machine.Limits.Force, p.Seen.PressForce = 0, [2]float64{} },
	} {
		p := inventedPress(302, plant.Extend)
		change(p)
		out := propose(t, p, DefaultOptions())
		if out.Loops.Force != nil || !strings.Contains(out.NotProposed["force"], what) {
			t.Errorf("%s: got %+v and %q", what, out.Loops.Force, out.NotProposed["force"])
		}
	}
}

// A contact that no log shows can be stated, and a range of stiffness; the stiffer it
// may be, the lower the gain. What makes no sense is refused by name.
func TestStatedContact(t *testing.T) {
	p := inventedPress(307, plant.Extend)
	logged := propose(t, p, DefaultOptions()).Loops.Force
	c := *p.Model.Contact
	p.Model.Contact = nil
	delete(p.Params, plant.ContactStiffness)
	opt := DefaultOptions()
	opt.Contact = &c
	stated := propose(t, p, opt)
	if stated.Loops.Force == nil || math.Abs(stated.Loops.Force.Kp/logged.Kp-1) > 0.2 {
		t.Errorf("stated: %+v, logged: %+v", stated.Loops.Force, logged)
	}
	if !strings.Contains(strings.Join(stated.Warnings, "\n"), "stated, not logged") {
		t.Error("no warning that the contact was not logged")
	}
	if Scenarios(p, stated)[len(Scenarios(p, stated))-1].ID != "contact_regained" {
		t.Error("a stated contact has no scenarios")
	}
	// The machine file states it as well: soft to stiff with the same mean gives the same loop
	// as the options do, and what a log showed goes first.
	p.Machine.Contact = machine.Contact{Position: c.Position, Stiffness: [2]float64{c.Stiffness / 2, 2 * c.Stiffness}}
	opt.ContactRange = p.Machine.Contact.Stiffness
	if a, b := propose(t, p, opt).Loops.Force, propose(t, p, DefaultOptions()).Loops.Force; a == nil || b == nil || *a != *b {
		t.Errorf("by options %+v, by the machine file %+v", a, b)
	}
	p.Machine.Contact.Position = 2 * p.Model.Stroke
	if why := propose(t, p, DefaultOptions()).NotProposed["force"]; !strings.Contains(why, "not within the stroke") {
		t.Errorf("a contact beyond the stroke: %q", why)
	}
	p.Machine.Contact = machine.Contact{}
	opt.ContactRange = [2]float64{c.Stiffness / 2, 8 * c.Stiffness}
	wide := propose(t, p, opt)
	if f := wide.Loops.Force; f == nil || f.Kp > stated.Loops.Force.Kp || f.ApproachSpeed >= stated.Loops.Force.ApproachSpeed || f.TravelLimit <= stated.Loops.Force.TravelLimit {
		t.Errorf("half to eight times as stiff: %+v, at one stiffness %+v", f, stated.Loops.Force)
	}
	for what, change := range map[string]func(*Options){
		"contact stiffness": func(o *Options) { o.Contact = &plant.Contact{Stiffness: -1} },
		"contact range":     func(o *Options) { o.ContactRange = [2]float64{2, 1} },
	} {
		opt := DefaultOptions()
		change(&opt)
		if _, err := Propose(t.Context(), p, opt); err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("%s: got %v", what, err)
		}
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

// The same gains in other forms, each worked by hand from its law.
func TestSettingForms(t *testing.T) {
	d := &design{p: &plant.Plant{}, opt: DefaultOptions()}
	d.p.Machine.Motor.MaxSpeed = 3000 / inRPM
	d.p.Machine.Limits.Force = 25e3
	d.model.Area = plant.PerChamber[float64]{Cap: 2e-3, Rod: 1e-3}
	d.model.Displacement = 8e-7
	turn := 2 * math.Pi
	l := law.Loops{
		Position: &law.Position{Kp: plant.PerDirection[float64]{Extend: 10, Retract: 5}, Ki: plant.PerDirection[float64]{Extend: 2, Retract: 1},
			Turns: plant.PerDirection[float64]{Extend: 400 * turn, Retract: 200 * turn}, SpeedLimit: 2400 / inRPM},
		Force: &law.Force{Kp: 0.5 * turn / 1e3, Ki: 2 * turn / 1e3, SpeedLimit: 300 / inRPM}, // 0.5 rev/s per kN
	}
	want := map[string]string{
		"position 1/s":                 "extend 10, retract 5 1/s",
		"position (m/min)/mm":          "extend 0.6, retract 0.3",       // 10 1/s: 1 mm asks for 10 mm/s = 0.6 m/min
		"position (in/min)/mil":        "extend 0.6, retract 0.3",       // 0.001 in asks for 0.01 in/s = 0.6 in/min
		"position rpm/mm":              "extend 240, retract 60",        // 10 mm/s at 0.4 rev/mm is 4 rev/s
		"position %/mm":                "extend 8, retract 2",           // of 3000 rpm
		"position integral time":       "extend 5000, retract 5000",     // kp/ki = 5 s
		"position following error":     "extend 5, retract 10 mm at 50", // half of 2400 rpm at 0.4 rev/mm is 50 mm/s, over 10 1/s
		"force rpm/kN":                 "30 rpm/kN, integral 120",
		"force rpm/bar":                "6 rpm/bar, integral 24", // 1 bar on 2e-3 m² is 0.2 kN
		"force %/%":                    "0.25",                   // 1 % of 25 kN asks for 7.5 rpm, 0.25 % of 3000
		"force integral time":          "250 ms",
		"force speed limit at the rod": "12.6 mm/s", // 300 rpm times 2 pi 8e-7/2e-3 m
	}
	for _, f := range d.settingForms(l) {
		name := f.Loop + " " + f.Form
		if !strings.HasPrefix(f.Text, want[name]) || f.Law == "" || want[name] == "" {
			t.Errorf("%s: %q (%s), want %q", name, f.Text, f.Law, want[name])
		}
		delete(want, name)
	}
	if len(want) > 0 {
		t.Errorf("missing: %v", want)
	}
	l.Force.Presses = plant.Retract
	for _, f := range d.forceForms(l.Force) {
		if f.Form == "rpm/bar" && !(strings.HasPrefix(f.Text, "3 rpm/bar") && strings.Contains(f.Law, "p_rod - p_cap A_cap/A_rod")) {
			t.Errorf("pulling: %+v", f)
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

func TestForceSettingsAreWhatCanBeTyped(t *testing.T) {
	p := inventedPress(308, plant.Extend)
	p.Machine.Controller.Resolution = map[string]float64{"force_kp": 0.05, "force_ki": 0.02, "force_lowpass": 2, "speed_limit": 25}
	out, pr := pressed(t, p)
	l := out.Loops.Force
	for what, v := range map[string]float64{"kp": l.Kp * revPerSPerN / 0.05, "ki": l.Ki * revPerSPerN / 0.02, "low-pass": l.Lowpass * inHz / 2, "speed limit": l.SpeedLimit * inRPM / 25} {
		if math.Abs(v-math.Round(v)) > 1e-6 {
			t.Errorf("%s is %g steps of its resolution", what, v)
		}
	}
	marginsHold(t, out, pr)
}

// A breakaway force that starts hardly showed is weighed with what is usual; one that is known is not.
func TestWeakBreakawayIsWeighed(t *testing.T) {
	p := inventedPress(309, plant.Extend)
	fc := p.Model.Coulomb.Extend
	p.Model.Breakaway = 1.1 * fc
	for _, tc := range []struct{ share, low, high float64 }{{0.8, 1.3, 1.4}, {0.1, 1.1, 1.1}} {
		know(p, plant.BreakawayForce, 1.1*fc, tc.share)
		_, pr := pressed(t, p)
		if got := pr.model.Breakaway / fc; got < tc.low-1e-9 || got > tc.high+1e-9 {
			t.Errorf("known to %g: breakaway %.3f times Coulomb friction, want %g to %g", tc.share, got, tc.low, tc.high)
		}
	}
}
