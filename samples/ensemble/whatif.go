package main

import (
	"context"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/samples/twin"
	"eha/strokewise/tuning"
)

// whatIf is a change that a proposal is asked for without new logs, and the same
// change of the machine.
type whatIf struct {
	name string
	ask  func(m *twin.Machine, p *plant.Plant) tuning.WhatIf
	make func(m *twin.Machine) *twin.Machine
}

// whatIfs are half as much mass again, a tenth of what the cylinder holds more load
// the way it points, half the dead volume more, half the outer delay and a millisecond
// more, and twice the controller's period.
var whatIfs = [...]whatIf{
	{"mass",
		func(_ *twin.Machine, p *plant.Plant) tuning.WhatIf {
			mass := 1.5 * p.Model.Mass
			return tuning.WhatIf{Mass: &mass}
		},
		func(m *twin.Machine) *twin.Machine { return m.WithMass(1.5) }},
	{"load",
		func(m *twin.Machine, _ *plant.Plant) tuning.WhatIf {
			load := moreLoad(m)
			return tuning.WhatIf{Load: &load}
		},
		func(m *twin.Machine) *twin.Machine {
			c := *m
			c.ProcessLoad += moreLoad(m)
			return &c
		}},
	{"line volume",
		func(m *twin.Machine, _ *plant.Plant) tuning.WhatIf {
			volume := m.DeadCap / 2
			return tuning.WhatIf{LineVolume: &volume}
		},
		func(m *twin.Machine) *twin.Machine {
			c := *m
			c.DeadCap, c.DeadRod = m.DeadCap+m.DeadCap/2, m.DeadRod+m.DeadCap/2
			return &c
		}},
	{"outer delay",
		func(m *twin.Machine, _ *plant.Plant) tuning.WhatIf {
			delay := moreDelay(m)
			return tuning.WhatIf{OuterDelay: &delay}
		},
		func(m *twin.Machine) *twin.Machine {
			c := *m
			c.OuterDelay = moreDelay(m)
			return &c
		}},
	{"period",
		func(m *twin.Machine, _ *plant.Plant) tuning.WhatIf {
			period := 2 * m.ControlPeriod
			return tuning.WhatIf{ControllerPeriod: &period}
		},
		func(m *twin.Machine) *twin.Machine {
			c := *m
			c.ControlPeriod, c.OuterDelay = 2*m.ControlPeriod, 2*m.OuterDelay // a delay of so many periods
			return &c
		}},
}

func moreLoad(m *twin.Machine) float64 {
	return math.Copysign(0.1*twin.WorkingPressure*m.AreaRod(), m.AxialLoad())
}

func moreDelay(m *twin.Machine) float64 {
	return math.Round((1.5*m.OuterDelay+1e-3)/twin.StepTime) * twin.StepTime
}

// judgeWhatIfs proposes for each change, without new logs, and tries that on the
// machine with the change. Without pressures neither mass nor load is known.
func (v *loopsVerdict) judgeWhatIfs(m *twin.Machine, p *plant.Plant, o options) {
	for i, w := range whatIfs {
		if (w.name == "mass" && !p.MassKnown) || (w.name == "load" || w.name == "line volume") && !p.PressuresSeen {
			continue
		}
		opt := o.ask()
		opt.WhatIf = w.ask(m, p)
		t, err := tuning.Propose(context.Background(), p, opt)
		if err != nil || t.Loops.Position == nil {
			v.whatIf[i].add(false)
			continue
		}
		changed, settings := w.make(m), settingsOf(t.Loops)
		for _, s := range t.Predicted {
			if s.Loop == "position" {
				v.whatIf[i].add(within(s.Settling.Value, twin.StandardStep(changed, settings, s.Direction.Sign()).Settling, 0.2))
			}
		}
	}
}
