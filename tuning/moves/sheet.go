package moves

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tuning"
)

// sheetWidth is the width (characters) of the printed sheet.
const sheetWidth = 96

// sheet is the text being written.
type sheet struct {
	strings.Builder
	system quantity.System
}

// Sheet returns the sheet to print and take to the machine: limits to set first,
// the moves in order with what to watch and when to stop, recorder settings,
// what was assumed, and cautions.
func Sheet(p *Plan, system quantity.System) string {
	s := &sheet{system: system}
	title := "TEST MOVES"
	if p.Machine != "" {
		title += ": " + p.Machine
	}
	if p.Demo {
		title = "DEMO MACHINE, invented. " + title
	}
	s.line("", title)
	s.line("", tuning.ShortCaution)
	s.before(p)
	s.jog()
	s.moves(p)
	s.leftOut(p)
	s.recorder(p)
	s.list("Assumed. Check each line; where one is wrong, do not play the tables", p.Bounds.Assumed)
	s.list("Cautions", p.cautions())
	return s.String()
}

// cautions are those of settings, which hold for test moves as well, and those of playing tables.
func (p *Plan) cautions() []string {
	presses := slices.ContainsFunc(p.Moves, func(m Move) bool { return m.Kind == motion.PressHold })
	own := []string{
		"A played table sees nothing: it goes on while a hose bursts or a person steps in. Play it only with the limits below set in the drive and a hand on the stop device.",
	}
	if p.Command == trace.SpeedCommand {
		own = append(own, "A speed table does not hold the rod's place: under load the rod creeps by slip before, during and after it. Play it right after jogging to the start position.")
	}
	if p.Holding {
		own = append(own, "The load-holding valve traps pressure at rest: it stays after power off, and the rod may jump as the valve opens. Begin each move with pressures watched.")
	}
	return append(own, tuning.Cautions(p.Upright, presses)...)
}

// line writes text broken at the sheet's width, hanging under its lead.
func (s *sheet) line(lead, text string) {
	indent := strings.Repeat(" ", len(lead))
	row, length := lead, 0
	for _, word := range strings.Fields(quantity.Restate(text, s.system)) {
		if length > 0 && len([]rune(row))+1+len([]rune(word)) > sheetWidth {
			s.WriteString(row + "\n")
			row, length = indent, 0
		}
		if length > 0 {
			row += " "
		}
		row += word
		length++
	}
	s.WriteString(row + "\n")
}

func (s *sheet) head(text string) {
	s.WriteString("\n")
	s.line("", text)
}

func (s *sheet) list(head string, items []string) {
	s.head(head)
	for _, item := range items {
		s.line("  - ", item)
	}
}

func (s *sheet) show(si float64, d quantity.Dimension) string {
	return quantity.Format(si, d, s.system)
}

// before is what to set and settle before anything moves.
func (s *sheet) before(p *Plan) {
	b := &p.Bounds
	largest := 0.0
	for i := range p.Moves {
		largest = max(largest, p.Moves[i].Speed)
	}
	items := []string{
		"Who can stop it: name (by hand) ______________ at the stop device. Nobody else near. Stop device tried: [ ]",
		"Motor speed limit: " + s.show(1.1*largest, quantity.AngularSpeed) + " (the largest table asks for " + s.show(largest, quantity.AngularSpeed) + "); for the first jog a tenth of it.",
		"Torque limit: what working pressure takes at the motor" + p.torque(s) + "; for the first jog a third of it.",
		"Force limit, where the drive has one: " + p.force(s) + ".",
		"Pressure limit: " + s.show(b.Pressure, quantity.Pressure) + "; relief valve set and tried above it.",
		"Travel (soft) limits: " + s.show(b.Low, quantity.Length) + " and " + s.show(b.High, quantity.Length) + ", tried by hand.",
		"Following error limit, or encoder against transducer: narrow enough to trip on a wrong sign within a few mm.",
		"Oil warm, as in use; note its temperature.",
		"Each move at 25 %, then 50 %, then full size; go on only if the smaller one was as expected. Every table starts and ends at rest.",
		"A brake does not hold the load: oil slips past the pump. Support it where it could fall.",
	}
	if p.Holding {
		items = append(items, "Load-holding valve: it traps pressure at rest. Know how it is released, and expect a jerk as it opens.")
	}
	s.list("Set first, and tick", items)
}

func (p *Plan) force(s *sheet) string {
	if p.ForceLimit <= 0 {
		return "not stated in the machine file"
	}
	return s.show(p.ForceLimit, quantity.Force)
}

func (p *Plan) torque(s *sheet) string {
	if p.Torque <= 0 {
		return ""
	}
	return ", " + s.show(p.Torque, quantity.Torque) + " without losses"
}

func (s *sheet) jog() {
	s.head("1. jog (" + Reveals(motion.Jog) + ")")
	s.line("   ", byHand[motion.Jog])
	s.line("   ", watches[motion.Jog])
}

// moves lists the tables, one block per move and part.
func (s *sheet) moves(p *Plan) {
	number := 2
	for i := 0; i < len(p.Moves); {
		j := i
		for j < len(p.Moves) && p.Moves[j].Name() == p.Moves[i].Name() {
			j++
		}
		s.block(number, p.Moves[i:j])
		number++
		i = j
	}
	s.head(fmt.Sprintf("%d. usual_run (%s)", number, Reveals(motion.UsualRun)))
	s.line("   ", byHand[motion.UsualRun])
}

func (s *sheet) block(number int, sizes []Move) {
	m := &sizes[len(sizes)-1]
	s.head(fmt.Sprintf("%d. %s (%s)", number, m.Name(), Reveals(m.Kind)))
	start := "at touch"
	if !math.IsNaN(m.Start) {
		start = s.show(m.Start, quantity.Length) + " ± " + s.show(m.Tolerance, quantity.Length)
	}
	s.line("   ", fmt.Sprintf("Jog to: %s. Takes %s.", start, s.show(m.Duration(), quantity.Time)))
	for i := range sizes {
		s.size(&sizes[i])
	}
	if m.Drift != [2]float64{} {
		s.line("   ", fmt.Sprintf("Drift: in twice that time slip can carry the rod %s inwards or %s outwards; do not leave it after the move.",
			s.show(-m.Drift[0], quantity.Length), s.show(m.Drift[1], quantity.Length)))
	}
	s.line("   ", watches[m.Kind])
	for _, note := range m.Notes {
		s.line("   ", strings.ToUpper(note[:1])+note[1:]+".")
	}
}

// size is the line of one table.
func (s *sheet) size(m *Move) {
	text := fmt.Sprintf("%s  %s", m.File(), tick)
	if m.Column == trace.ForceCommand {
		top := 0.0
		for _, f := range m.Table {
			top = max(top, math.Abs(f))
		}
		text += " up to " + s.show(top, quantity.Force)
	} else {
		text += fmt.Sprintf(" up to %s, %s; rod at worst %s, between %s and %s", s.show(m.Speed, quantity.AngularSpeed), s.show(m.Accel, quantity.AngularAccel),
			s.show(m.RodSpeed, quantity.Speed), s.show(m.Reach[0], quantity.Length), s.show(m.Reach[1], quantity.Length))
	}
	s.line(fmt.Sprintf("   %3.0f %%  ", 100*m.Size), text)
}

const tick = "[ ]"

func (s *sheet) leftOut(p *Plan) {
	if len(p.LeftOut) == 0 {
		return
	}
	var items []string
	for _, l := range p.LeftOut {
		items = append(items, nameOf(l.Kind, l.Part)+": "+l.Reason+".")
	}
	s.list("Left out, and why", items)
}

// recorder says which channels and period to take for recorders of 4, 6 and 8 channels.
func (s *sheet) recorder(p *Plan) {
	s.head("Recorder: channels (time comes with it) and slowest period, by its number of channels")
	s.line("   ", "Where one recording does not hold them all, play the same table twice and load both as A.csv+B.csv. Log the speed command as the speed loop gets it, behind every ramp and limit. Start recording at rest, before the table.")
	kinds := []motion.MoveKind{motion.Jog}
	seconds := map[motion.MoveKind]float64{}
	for i := range p.Moves {
		k := p.Moves[i].Kind
		if !slices.Contains(kinds, k) {
			kinds = append(kinds, k)
		}
		seconds[k] = max(seconds[k], p.Moves[i].Duration())
	}
	for _, k := range append(kinds, motion.UsualRun) {
		a := RecorderAdvice(k)
		text := fmt.Sprintf("every %s or faster", s.show(a.Period, quantity.Time))
		if seconds[k] > 0 {
			text += fmt.Sprintf(", %.0f samples for the longest table", math.Ceil(seconds[k]/a.Period))
		}
		s.line("   ", k.String()+": "+text)
		last := 0
		for _, count := range []int{4, 6, 8} {
			if count = min(count, len(a.Channels)); count == last {
				continue
			}
			last = count
			s.line(fmt.Sprintf("      %d: ", count), recordings(a.Split(count)))
		}
	}
}

func recordings(split [][]trace.Channel) string {
	var parts []string
	for _, channels := range split {
		var names []string
		for _, c := range channels {
			names = append(names, c.String())
		}
		parts = append(parts, strings.Join(names, ", "))
	}
	return strings.Join(parts, "; then ")
}
