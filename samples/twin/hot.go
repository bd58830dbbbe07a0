package twin

import "math"

// HotLoops returns settings as somebody in a hurry left them: plain proportional
// position gains with about 5.5 dB of gain margin at the softest place, and a
// brisk force loop where there is a contact.
func HotLoops(m *Machine) Loops { return hotLoops(m, 1.9) }

// hotLoops leaves the position loop the upward gain margin (ratio).
func hotLoops(m *Machine, margin float64) Loops {
	turns := m.AreaCap() / m.Displacement / (2 * math.Pi) * 1e-3
	p := &PositionLoop{Period: m.ControlPeriod, KpExtend: 1, KpRetract: 1, Feedforward: 1,
		TurnsExtend: turns, TurnsRetract: turns, SpeedLimit: 0.9 * m.MaxSpeed * toRPM, Window: 0.02, WindowTime: 0.1}
	lowest := math.Inf(1)
	for _, share := range []float64{0.1, 0.5, 0.9} {
		for _, sign := range []float64{1, -1} {
			lowest = math.Min(lowest, PositionMargins(m, p, share*m.Stroke, sign).GainMargin)
		}
	}
	kp := roundTo(math.Min(lowest/margin, 60), 2)
	p.KpExtend, p.KpRetract = kp, kp
	l := Loops{Format: "strokewise.loops/1", Position: p}
	if m.Contact != nil {
		l.Force = m.hotForce()
	}
	return l
}

func (m *Machine) hotForce() *ForceLoop {
	presses := "extend"
	if m.Contact.Sign < 0 {
		presses = "retract"
	}
	f := &ForceLoop{Presses: presses, ApproachSpeed: 12, TravelLimit: 5, Period: m.ControlPeriod,
		Kp: 1e-3, SpeedLimit: 360}
	force := 0.4 * m.ForceLimit() * m.Contact.Sign
	gm := ForceMargins(m, f, force).GainMargin
	f.Kp = roundTo(f.Kp*math.Min(gm, 1e4)/2.8, 2)
	// The time the rod travels in force mode must reach the contact and the slip.
	f.Ki = roundTo(3*f.Kp, 2)
	f.SpeedLimit = math.Max(360, roundTo(2*60*toTurn*m.slip()*WorkingPressure, 2))
	return f
}
