package tui

import (
	"fmt"
	"strings"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/plant"
)

// stage is one station on the way of the power from drive to work, with the
// parameters that live there.
type stage struct {
	name   string
	params []plant.Param
	heads  []plant.Param // the two figures that stand for it in the chain
}

// stages follow the power through the machine, and the plots that show evidence
// hang on the station they belong to.
var stages = []stage{
	{"DRIVE", []plant.Param{plant.DriveBandwidth, plant.DriveDamping, plant.DeadTime, plant.OuterDelay, plant.AccelerationLimit, plant.TransducerDelay, plant.PressureLag},
		[]plant.Param{plant.DriveBandwidth, plant.DeadTime}},
	{"PUMP", []plant.Param{plant.StrokePerTurnExtend, plant.StrokePerTurnRetract, plant.StrokePerTurnCap, plant.StrokePerTurnRod, plant.Slip, plant.LostMotion},
		[]plant.Param{plant.StrokePerTurnExtend, plant.StrokePerTurnRetract}},
	{"OIL", []plant.Param{plant.HydraulicFrequency, plant.HydraulicDamping, plant.BulkModulus, plant.BulkModulusCap, plant.BulkModulusRod, plant.ComplianceCap, plant.ComplianceRod, plant.LineLoss},
		[]plant.Param{plant.HydraulicFrequency, plant.BulkModulus}},
	{"ROD", []plant.Param{plant.MovingMass, plant.AxialLoad, plant.CoulombFriction, plant.ViscousFriction, plant.BreakawayForce, plant.StribeckSpeed},
		[]plant.Param{plant.MovingMass, plant.CoulombFriction}},
	{"WORK", []plant.Param{plant.ContactStiffness, plant.PressingStiffness},
		[]plant.Param{plant.ContactStiffness, plant.PressingStiffness}},
}

// plantScreen asks: what is this machine, and why should I believe it?
type plantScreen struct {
	stage, param, plot int
	lens               lens
}

func newPlant() *plantScreen { return &plantScreen{} }

// stopped reports whether a finding forbids to go on with the logs on the bench.
func (a *App) stopped() bool {
	if a.work.Logs == nil {
		return false
	}
	_, stopped := a.work.Logs.stop()
	return stopped
}

func (s *plantScreen) title() string { return "Plant" }

func (s *plantScreen) says(a *App) string {
	p := a.work.Plant
	switch {
	case p == nil && a.task != nil:
		return "The plant is being worked out."
	case p == nil && a.stopped():
		return "No plant yet: the logs have a fault that must be put right first."
	case p == nil && a.failures[stepFit] != nil:
		return "The plant could not be fitted."
	case p == nil:
		return "No plant yet."
	}
	found, weak := 0, 0
	for _, e := range p.Params {
		switch e.Status {
		case plant.Identified:
			found++
		case plant.Weak:
			weak++
		}
	}
	text := fmt.Sprintf("%d parameters identified, %d weak.", found, weak)
	if found+weak == 0 {
		text = "Nothing could be identified from these logs."
	}
	switch {
	case !p.PressuresSeen:
		text += " No pressures were logged: slip, oil and forces stay open."
	case !p.AreasKnown:
		text += " Bore and rod are not given: forces and volumes stay open."
	}
	if v := p.Validation.Verdict; v != "" {
		// The judgement comes first; the last plot gives what it stands on.
		if held, judged, ok := strings.Cut(v, ": "); ok && strings.HasPrefix(held, "On ") {
			v = upper(judged)
		}
		text += " " + a.units.say(v)
	}
	return text
}

func (s *plantScreen) next(a *App) string {
	p := a.work.Plant
	switch {
	case p == nil && a.stopped():
		return "1 shows the fault and what to do about it"
	case p == nil && a.task != nil:
		return "a moment; esc cancels"
	case p == nil && a.work.Logs != nil:
		return "r reads and fits again"
	case p == nil:
		return "o opens logs of your machine"
	}
	if e := p.Est(s.current()); !e.Known() && e.From != "" {
		return "for " + words(s.current().String()) + ": log " + a.units.say(e.From)
	}
	if !p.Est(plant.StrokePerTurnExtend).Known() && !p.Est(plant.StrokePerTurnRetract).Known() {
		return "1 says what is missing from the logs; settings need travel per turn"
	}
	return "3 shows the loop settings for this plant"
}

func (s *plantScreen) keys(a *App) []key.Binding {
	if a.large {
		return keysOfLens
	}
	return []key.Binding{shown(keyLeft, "arrows", "station, parameter"), shown(keyTab, "tab", "next plot"), keyLarge}
}

func (s *plantScreen) current() plant.Param { return stages[s.stage].params[s.param] }

func (s *plantScreen) press(a *App, msg tea.KeyMsg) tea.Cmd {
	if e, ok := s.inView(a); ok && a.large && s.lens.press(&e.plot, msg) {
		return nil
	}
	s.lens = lens{}
	n := len(stages)
	switch {
	case key.Matches(msg, keyLeft):
		s.stage, s.param, s.plot = (s.stage+n-1)%n, 0, 0
	case key.Matches(msg, keyRight):
		s.stage, s.param, s.plot = (s.stage+1)%n, 0, 0
	case key.Matches(msg, keyUp):
		s.move(a, max(s.param-1, 0))
	case key.Matches(msg, keyDown):
		s.move(a, min(s.param+1, len(stages[s.stage].params)-1))
	case key.Matches(msg, keyTab):
		s.plot++
	case key.Matches(msg, keyTabBack):
		s.plot--
	}
	return nil
}

// move goes to a parameter and the plot that shows it best.
func (s *plantScreen) move(a *App, to int) {
	s.param = to
	for i, e := range s.evidence(a) {
		if e.of(s.current()) {
			s.plot = i
			return
		}
	}
}

func (s *plantScreen) click(a *App, x, y, width, height int) tea.Cmd {
	if a.work.Plant == nil || a.large {
		return nil
	}
	if y < 3 {
		if at := x / (width / len(stages)); at < len(stages) {
			s.stage, s.param, s.plot = at, 0, 0
		}
		return nil
	}
	from, rows := s.rows(height)
	if at := from + y - 4; y >= 4 && y < 4+rows && at < len(stages[s.stage].params) {
		s.move(a, at)
	}
	return nil
}
