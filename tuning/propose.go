package tuning

import (
	"context"
	"math"
	"slices"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/loop"
)

// Propose returns loop settings for the plant that keep the targets at every
// point of the design grid, with margins, predicted responses, limits, guards and
// bring-up steps. A loop that cannot be proposed stands in NotProposed with the
// reason. It returns an error if the options make no sense, if the plant's
// numbers cannot be, or if the context ends.
func Propose(ctx context.Context, p *plant.Plant, opt Options) (*Proposal, error) {
	if p.Model.Check() != nil {
		return nothingFound(p, opt, "there is no plant to design on: "+p.Est(plant.StrokePerTurnExtend).From), nil
	}
	if !scaleKnown(p) {
		return nothingFound(p, opt, "how far a turn of the motor moves the rod is not known; log motor position and rod position together (slow_strokes)"), nil
	}
	d, err := newDesign(p, opt)
	if err != nil {
		return nil, err
	}
	d.ended = ctx.Err
	out := &Proposal{
		Targets: opt.Targets, Model: d.model, Demo: p.Demo,
		NotProposed: map[string]string{}, Worst: map[string]Margin{},
		Cautions: Cautions(vertical(p), d.model.Contact != nil),
		Scales:   scaleForms(p, &d.model),
	}
	d.remarks()
	found, err := d.designPosition()
	switch {
	case d.over():
		return nil, ctx.Err()
	case err != nil:
		out.NotProposed["position"] = err.Error()
		out.NotProposed["force"] = "a force loop hands over to a position loop, and none is proposed"
	default:
		d.complete(ctx, out, found)
	}
	out.Guards = d.guards(out.Loops)
	out.Foremost = d.foremost
	out.Warnings = slices.Concat(d.foremost, p.Warnings, d.warnings)
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return out, nil
}

// complete adds to a proposal what stands on its position loop: margins,
// predictions, what limits it, the force loop and the steps of bringing up.
func (d *design) complete(ctx context.Context, out *Proposal, found positionLoop) {
	set := found.set
	out.Loops.Position = &set
	out.Margins, out.Worst["position"] = d.positionMargins(&set, loop.Fine)
	out.Predicted = d.predictSteps(set, d.draws)
	out.Limits = d.limits(found)
	if d.over() {
		return
	}
	d.addForce(ctx, out)
	if d.over() {
		return
	}
	out.BringUp = d.bringUp(out.Loops)
	out.Forms = d.settingForms(out.Loops)
}

// addForce adds the force loop to a proposal that holds a position loop, or why there is none.
func (d *design) addForce(ctx context.Context, out *Proposal) {
	found, why := d.proposeForce(ctx, out.Loops.Position)
	if found.set == nil {
		out.NotProposed["force"] = why
		return
	}
	out.Loops.Force = found.set
	out.Margins = append(out.Margins, found.margins...)
	out.Worst["force"] = found.worst
	out.Predicted = append(out.Predicted, found.steps...)
	out.Events = found.events
}

// nothingFound is the proposal for a plant of which too little is known to design on.
func nothingFound(p *plant.Plant, opt Options, why string) *Proposal {
	return &Proposal{
		Targets: opt.Targets, Demo: p.Demo, Cautions: Cautions(true, true), Warnings: p.Warnings,
		NotProposed: map[string]string{"position": why, "force": why}, Worst: map[string]Margin{},
	}
}

// Judgement is what given settings would do on a plant.
type Judgement struct {
	Margins   []Margin
	Worst     Margin
	Predicted []Step
}

// Judge returns margins over the whole grid and predicted steps, without bands from
// draws, of settings that were not proposed here, as those found in the drive or
// those of a knob being turned. It returns an error as Propose does.
func Judge(p *plant.Plant, opt Options, set law.Position) (*Judgement, error) {
	d, err := newDesign(p, opt)
	if err != nil {
		return nil, err
	}
	margins, worst := d.positionMargins(&set, loop.Fine)
	return &Judgement{Margins: margins, Worst: worst, Predicted: d.predictSteps(set, nil)}, nil
}

// vertical reports whether gravity acts along the axis.
func vertical(p *plant.Plant) bool {
	if a := p.Machine.Load.Angle; a != nil {
		return math.Abs(math.Sin(*a)) > 0.1
	}
	// Without an angle: a load beyond friction that follows the mass.
	return math.Abs(p.Model.GravityShare) > 0.5*p.Model.Coulomb.Extend && p.Model.GravityShare != 0
}

// remarks warns of what the plant leaves open and how the design meets it.
func (d *design) remarks() {
	d.tellTooHeavy()
	for _, param := range []plant.Param{plant.HydraulicFrequency, plant.DriveBandwidth} {
		if e := d.p.Est(param); e.Status != plant.Identified && e.Status != plant.Given {
			d.warn("The %s is %s: the gains hold for what the logs leave possible; log a multisine to be faster.", spoken(param), e.Status)
		}
	}
	if e := d.p.Est(plant.OuterDelay); e.Status == plant.Assumed {
		d.warn("The outer delay is assumed: the margins are the worst between %.2g and %.2g ms; log a closed loop or state it.", d.delays[0]*1e3, d.delays[len(d.delays)-1]*1e3)
	}
	if drive := d.model.Drive; !drive.AccelMet && drive.AccelLimit > 0 {
		d.warn("The drive's torque limit was never met: the largest acceleration seen, %s rev/s², is taken as the limit; predictions reckon with %.2g times that.", three(drive.AccelLimit*inHz), unmetLimit)
	}
}

// spoken returns the parameter's name as prose.
func spoken(p plant.Param) string {
	switch p {
	case plant.HydraulicFrequency:
		return "hydraulic resonance"
	case plant.DriveBandwidth:
		return "drive's bandwidth"
	}
	return p.Info().Meaning
}
