package tuning

import (
	"context"
	"errors"
	"slices"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/loop"
)

// QuickLook judges settings at hand under other options before a search for better
// ones has ended: t is the proposal made with the options was, now are those asked for, and
// id names the scenario to run (the usual one where there is none of that name).
//
// The settings are those of t with what the options change at once: the gains in
// proportion to the gain share, the scale, no integral and no pressure damping where those
// are to be off. Margins are exact, over the whole grid of the options' plant and targets, and may
// miss the targets. The response is one run of the fitted model, without a band.
//
// The proposal returned holds settings, margins and the model alone. Nothing was
// tried in simulation over the grid, so it is to look at, not to type. The force loop and its
// margins are those of t. QuickLook returns an error as Propose does, and where t holds no position loop.
func QuickLook(p *plant.Plant, t *Proposal, was, now Options, id string) (*Proposal, *Response, error) {
	if t.Loops.Position == nil {
		return nil, nil, errors.New("tuning: quick look: there is no position loop to look at")
	}
	d, err := newDesign(p, now)
	if err != nil {
		return nil, nil, err
	}
	set := d.adapted(*t.Loops.Position, was, now)
	look := &Proposal{
		Loops: law.Loops{Position: &set, Force: t.Loops.Force}, Targets: now.Targets, Model: d.model, Demo: t.Demo,
		NotProposed: t.NotProposed, Worst: map[string]Margin{}, Cautions: t.Cautions,
	}
	if worst, ok := t.Worst["force"]; ok {
		look.Worst["force"] = worst
	}
	look.Margins, look.Worst["position"] = d.positionMargins(&set, loop.Fine)
	for _, m := range t.Margins {
		if m.Loop == "force" {
			look.Margins = append(look.Margins, m)
		}
	}
	list := d.situations(look)
	at := max(slices.IndexFunc(list, func(s situation) bool { return s.ID == id }), 0)
	r, err := d.respond(context.Background(), list[at], look, now.AsFound, nil)
	if err != nil {
		return nil, nil, err
	}
	r.Quick, r.Note = true, "Quick look: one run of the fitted model; the band comes with the search."
	return look, r, nil
}

// adapted returns the settings with what the change of options does to them at once.
func (d *design) adapted(set law.Position, was, now Options) law.Position {
	set.Period = d.model.ControllerPeriod
	if was.GainShare > 0 {
		share := now.GainShare / was.GainShare
		set.Kp.Extend, set.Kp.Retract = share*set.Kp.Extend, share*set.Kp.Retract
		// What the integral gathers goes with ki/kp².
		set.Ki.Extend, set.Ki.Retract = share*share*set.Ki.Extend, share*share*set.Ki.Retract
	}
	if now.Integral == machine.No {
		set.Ki = plant.PerDirection[float64]{}
	}
	if now.PressureDamping == machine.No {
		set.PressureDamping, set.Highpass = 0, 0
	}
	if now.Scale != was.Scale {
		set.ByChamber, set.ChamberBand, set.Table = false, 0, nil
		d.setScale(&set)
		set.SpeedLimit = min(set.SpeedLimit, d.speedCap(set.Turns))
	}
	d.sameGains(&set)
	return set
}
