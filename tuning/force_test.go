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

// A fit that finds Coulomb friction of nothing, as of a hydrostatic rod bearing, beside a
// breakaway force that is weak gave a breakaway force that was no number.
func TestPressingWithoutFriction(t *testing.T) {
	p := inventedPress(2, plant.Extend)
	p.Model.Coulomb, p.Model.Breakaway = plant.PerDirection[float64]{}, 100
	p.Params[plant.BreakawayForce] = plant.Estimate{Value: 100, Low: 20, High: 180, Status: plant.Weak}
	_, pr := pressed(t, p)
	if pr.model.Breakaway != 100 {
		t.Errorf("breakaway force %g N, want the 100 N found", pr.model.Breakaway)
	}
}

// A contact so soft that it gives way further than the stroke goes asked for kilometres of
// travel, a simulation of months and in the end a panic.
func TestAContactSofterThanTheStrokeIsNamed(t *testing.T) {
	for _, presses := range []plant.Direction{plant.Extend, plant.Retract} {
		p := inventedPress(2, presses)
		opt := DefaultOptions()
		opt.ContactRange = [2]float64{1e-300, p.Model.Contact.Stiffness}
		out := propose(t, p, opt)
		if why := out.NotProposed["force"]; out.Loops.Force != nil || !strings.Contains(why, "gives way by") {
			t.Errorf("%sing: force loop %+v, %q", presses, out.Loops.Force, why)
		}
	}
}
