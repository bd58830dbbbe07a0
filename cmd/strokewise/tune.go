package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"

	"github.com/spf13/cobra"

	"eha/strokewise/ident"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/tuning"
	"eha/strokewise/tuning/job"
	"eha/strokewise/tuning/record"
)

// whatIf holds the flags of changes to the fitted plant, as typed.
type whatIf struct {
	mass, load, outerDelay, controllerPeriod, lineVolume string
	softest, stiffest, position, presses                 string // of what the rod presses on
}

func newTune(s streams) *cobra.Command {
	c, what := &common{}, &whatIf{}
	var earlier string
	cmd := &cobra.Command{
		Use:   "tune LOG ...",
		Short: "Loop settings, margins, predicted responses, bring-up steps",
		Args:  needLogs,
		RunE: func(cmd *cobra.Command, args []string) error {
			opt, err := what.options()
			if err != nil {
				return err
			}
			return runTune(cmd.Context(), c, opt, earlier, args, s)
		},
	}
	c.addResultFlags(cmd)
	f := cmd.Flags()
	f.StringVar(&earlier, "plant", "", "plant `file` from before a change of load or oil: what moved is said, the rest kept")
	f.StringVar(&what.mass, "mass", "", "what if the moving `mass` were this, such as \"400 kg\"")
	f.StringVar(&what.load, "load", "", "what if this process `force` acted along the axis, positive pushing the rod out")
	f.StringVar(&what.outerDelay, "outer-delay", "", "what if measurement to speed command took this `time`")
	f.StringVar(&what.controllerPeriod, "controller-period", "", "what if the outer loop ran at this `period`")
	f.StringVar(&what.lineVolume, "line-volume", "", "what if this `volume` of hose were added to each side")
	f.StringVar(&what.softest, "contact-softest", "", "softest contact `stiffness` that the force loop must hold for, such as \"10 kN/mm\"")
	f.StringVar(&what.stiffest, "contact-stiffest", "", "stiffest contact `stiffness` that the force loop must hold for")
	f.StringVar(&what.position, "contact-position", "", "rod `position` at which it touches, where no log shows it pressing, such as \"210 mm\"; needs both stiffnesses")
	f.StringVar(&what.presses, "contact-presses", "extend", "`direction` in which it presses there, extend or retract")
	return cmd
}

func (w *whatIf) options() (tuning.Options, error) {
	opt := tuning.DefaultOptions()
	for _, f := range []struct {
		flag, text string
		d          quantity.Dimension
		low, high  float64 // SI, as far as the machine file takes them; below and above, the unit is likely wrong
		into       **float64
	}{
		{"mass", w.mass, quantity.Mass, 1e-3, 1e7, &opt.WhatIf.Mass},
		{"load", w.load, quantity.Force, -1e8, 1e8, &opt.WhatIf.Load},
		{"outer-delay", w.outerDelay, quantity.Time, 0, 1, &opt.WhatIf.OuterDelay},
		{"controller-period", w.controllerPeriod, quantity.Time, plant.ShortestPeriod, 1, &opt.WhatIf.ControllerPeriod},
		{"line-volume", w.lineVolume, quantity.Volume, 0, 10, &opt.WhatIf.LineVolume},
	} {
		if f.text == "" {
			continue
		}
		v, err := quantity.Parse(f.text, f.d)
		if err != nil {
			return opt, usageError{fmt.Errorf("--%s: %w", f.flag, err)}
		}
		if v < f.low || v > f.high {
			return opt, usageError{fmt.Errorf("--%s %q: expected %s to %s", f.flag, f.text,
				quantity.Format(f.low, f.d, quantity.Metric), quantity.Format(f.high, f.d, quantity.Metric))}
		}
		*f.into = &v
	}
	return opt, w.contact(&opt)
}

// stiffest is the stiffest contact (N/m) that may be stated.
const stiffest = 1e12

// contact takes the range of stiffness, which needs both ends, and with a position
// what no log shows the rod pressing on.
func (w *whatIf) contact(opt *tuning.Options) error {
	if w.presses != "extend" && w.presses != "retract" {
		return usageError{fmt.Errorf("--contact-presses %q: expected extend or retract", w.presses)}
	}
	if w.softest == "" && w.stiffest == "" && w.position == "" {
		return nil
	}
	for i, text := range []string{w.softest, w.stiffest} {
		v, err := quantity.Parse(text, quantity.Stiffness)
		if err != nil || !(v > 0) || v > stiffest {
			return usageError{fmt.Errorf("--contact-softest %q, --contact-stiffest %q: expected a stiffness above zero and up to 1000000 kN/mm for both, such as \"10 kN/mm\"", w.softest, w.stiffest)}
		}
		opt.ContactRange[i] = v
	}
	if opt.ContactRange[0] > opt.ContactRange[1] {
		return usageError{fmt.Errorf("--contact-softest %q is stiffer than --contact-stiffest %q", w.softest, w.stiffest)}
	}
	if w.position == "" {
		return nil
	}
	at, err := quantity.Parse(w.position, quantity.Length)
	if err != nil || !(at > 0) {
		return usageError{fmt.Errorf("--contact-position %q: expected a length above zero, such as \"210 mm\"", w.position)}
	}
	// Between soft and stiff: the mean of both as factors.
	opt.Contact = &plant.Contact{Position: at, Stiffness: math.Sqrt(opt.ContactRange[0] * opt.ContactRange[1])}
	if w.presses == "retract" {
		opt.Contact.Presses = plant.Retract
	}
	return nil
}

func runTune(ctx context.Context, c *common, opt tuning.Options, earlier string, logs []string, s streams) error {
	system, j, err := c.begin(ctx, logs, s)
	if err != nil {
		return err
	}
	p, fitErr := fitted(ctx, j, s)
	if p == nil {
		return fitErr
	}
	if earlier != "" {
		old, err := job.ReadPlant(earlier)
		if err != nil {
			return err
		}
		p = ident.Update(old, p)
	}
	t, err := j.Propose(ctx, p, opt)
	if err != nil && ctx.Err() == nil {
		return usageError{fmt.Errorf("what is asked for goes beyond any machine: %w", err)}
	}
	if err != nil {
		return err
	}
	err = c.deliver(s, func(w io.Writer) error {
		if c.json {
			return writeJSON(w, func() ([]byte, error) { return record.EncodeProposal(t, p) })
		}
		return record.WriteTune(w, t, p, system)
	})
	if err == nil && t.Loops.Position == nil {
		return unsupportedError{errors.New("no position loop proposed: " + t.NotProposed["position"])}
	}
	return err
}
