// Package quality judges logs before anything is fitted to them: whether the
// rows, the channels and the wiring can be trusted, what was limited, and what
// the logs can and cannot identify. It changes nothing in a log.
package quality

import (
	"sort"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// Severity says what a finding means for the answers.
type Severity int

// The severities.
const (
	Note Severity = iota // worth knowing
	Harm                 // the parameters named suffer
	Stop                 // nothing may be proposed before it is cleared
)

// String returns the severity as the JSON results spell it.
func (s Severity) String() string { return [...]string{"note", "harm", "stop"}[s] }

// Finding is one thing found in one log.
type Finding struct {
	ID       string // one of ids.go
	Severity Severity
	Channel  trace.Channel // NoChannel where it concerns the whole log
	Log      string        // name of the log, "" where it concerns all
	From, To float64       // s on the log's clock
	Affects  []plant.Param
	Text     string // what was found, with figures
	Do       string // what to do about it
	Cure     Cure   // a change of how the logs are read that would clear it; Kind NoCure where none is known
}

// Channel is what is known of one channel of one log.
type Channel struct {
	Log     string
	Channel trace.Channel
	Column  string  // header of the column it was read from, "" where unknown
	Unit    string  // as read
	Sure    float64 // 0 to 1, of the mapping
	Why     string
	Low     float64 // SI, smallest and largest sample
	High    float64
	Step    float64 // SI, resolution; 0 where none was found
	Noise   float64 // SI, standard deviation at rest; 0 where the log has no rest
	// Lag is by how much the channel comes behind the encoder (s), sensor and clock
	// together, LagWidth the half-width of its 95 % interval; both 0 where the log
	// cannot tell, for the reason in LagUntold.
	Lag, LagWidth float64
	LagUntold     string
	// Order is at how many periods a motor turn the channel carries its strongest line, the
	// pump's teeth as a rule, and OrderSize the line's median amplitude (SI); 0 where none was found.
	Order     int
	OrderSize float64
}

// Joint is how the two recordings of a joined log were set on one clock.
type Joint struct {
	Log string
	trace.Joint
}

// Identifiable says whether a parameter can be found from the logs.
//
// Can is true where the fit will give as much as it would of any moves logged with these
// channels: an identified value, or a weak one that no move makes better. Expect says
// which status to expect.
type Identifiable struct {
	Can    bool
	Expect plant.Status // Identified, Weak or Missing
	Move   string       // id of the test move that would supply it, "" where it can be found or no move does
	Why    string
}

// Report is the judgement of a set of logs of one machine.
type Report struct {
	Channels     []Channel
	Joints       []Joint   // one for each log that was joined from two recordings
	Played       []Played  // by log, in the order of time
	Findings     []Finding // most severe first; wiring before all else
	Identifiable map[plant.Param]Identifiable
	Missing      []string // ids of the moves that would complete the set, in the order to run them
	// Questions are what no log can tell and the answers depend on; Columns ask which
	// column holds a channel, in the words of a command line.
	Questions, Columns []string
}

// Stopped reports whether there is a finding that forbids a proposal.
func (r *Report) Stopped() bool {
	for _, f := range r.Findings {
		if f.Severity == Stop {
			return true
		}
	}
	return false
}

// Check judges the readings, all of the same machine, whose file may be nil.
// Only a reading's Trace must be there; what else it holds is used.
func Check(readings []*trace.Reading, m *machine.Machine) Report {
	if m == nil {
		m = &machine.Machine{}
	}
	views := make([]*view, len(readings))
	found := make([][]Finding, len(readings))
	faults := make(chan any, len(readings))
	for i, r := range readings {
		go func() {
			defer func() { faults <- recover() }()
			views[i] = newView(r, m)
			found[i] = append(views[i].outside(views[i].findings()), views[i].leftOut()...)
		}()
	}
	for range readings { // a panic becomes the caller's, who can recover from it
		if fault := <-faults; fault != nil {
			panic(fault)
		}
	}
	for _, i := range doubtedByOthers(views) {
		found[i] = append(views[i].outside(views[i].findings()), views[i].leftOut()...)
	}
	outvoted(views, found)
	var report Report
	for i, v := range views {
		report.Channels = append(report.Channels, v.channels()...)
		if v.r.Joint != nil {
			report.Joints = append(report.Joints, Joint{v.t.Name(), *v.r.Joint})
		}
		report.Played = append(report.Played, v.played()...)
		report.Findings = append(report.Findings, found[i]...)
	}
	holdsAside(report.Findings, len(views))
	report.Findings = append(report.Findings, acrossLogs(views)...)
	report.Identifiable, report.Missing = identifiable(views, m)
	report.Questions, report.Columns = questions(views), columnQuestions(views)
	if q := unseenZero(views); q != "" && !report.Stopped() {
		report.Questions = append(report.Questions, q)
	}
	order(report.Findings)
	return report
}

// findings runs all the checks of one log. A log that does not move, or whose
// columns bear each other's names, is not judged further: what follows from it
// would only drown the cause.
func (v *view) findings() []Finding {
	found := append(v.joined(), v.rows()...)
	if f, ok := v.noMotion(); ok {
		return append(found, f)
	}
	if swapped := v.swappedColumns(); len(swapped) > 0 {
		return append(found, swapped...)
	}
	if stuck := v.stuckEncoder(); len(stuck) > 0 {
		return append(found, stuck...)
	}
	if jumps := v.encoderJumps(); len(jumps) > 0 {
		return append(found, jumps...)
	}
	found = append(found, v.flat()...)
	if stopped(found, Flat) {
		return found
	}
	found = append(found, v.belowVacuum()...)
	if !v.has(trace.MotorPosition) && !v.has(trace.RodPosition) {
		return found
	}
	v.clocks = v.findClocks()
	if v.wiring = v.judgeWiring(); v.agreed != nil {
		v.wiring.overrule(v.agreed)
	}
	scale := v.speedScale()
	found = append(found, v.wiringFindings()...)
	found = append(found, scale...)
	// A command that does not fit the speed shows limits and lags that are none.
	if len(scale) == 0 && !v.wiring.has(command) && !v.wiring.has(encoder) {
		found = append(found, v.limits()...)
		found = append(found, v.speedLoop()...)
		found = append(found, v.commandLag()...)
	}
	travel := v.nameplate()
	found = append(found, travel...)
	found = append(found, v.pressureUnits()...)
	if len(travel) == 0 { // oil is judged by travel and turns
		found = append(found, v.stiffness()...)
	}
	for _, part := range [][]Finding{v.clipped(), v.resolution(), v.noise(), v.lines(), v.lags(), v.pressureLevels(), v.relief(), v.oil(), v.positionRange()} {
		found = append(found, part...)
	}
	return consequencesOut(found)
}

// stopped reports whether there is a finding of that id that stops.
func stopped(found []Finding, id string) bool {
	for _, f := range found {
		if f.ID == id && f.Severity == Stop {
			return true
		}
	}
	return false
}

// named reports whether there is a finding of that id on the channel.
func named(found []Finding, id string, c trace.Channel) bool {
	for _, f := range found {
		if f.ID == id && f.Channel == c {
			return true
		}
	}
	return false
}

// consequencesOut drops what only follows from a unit or a rail that was found to be
// wrong: steps, noise, offsets and limits in that unit.
func consequencesOut(found []Finding) []Finding {
	doubtful := map[trace.Channel]bool{}
	for _, f := range found {
		if f.ID == UnitDoubtful {
			doubtful[f.Channel] = true
		}
	}
	pressures := doubtful[trace.CapPressure] || doubtful[trace.RodPressure]
	follows := map[string]bool{CoarseResolution: true, Noisy: true, PressureOffset: true, SensorRange: true, NoZero: true, TimeSkew: true}
	if stopped(found, UnitDoubtful) && doubtful[trace.MotorPosition] {
		follows[SpeedScale] = true // the encoder is the one that is wrong
		doubtful[trace.SpeedCommand], doubtful[trace.MotorSpeed] = true, true
	}
	if named(found, TimeSkew, trace.MotorPosition) {
		follows[TimeSkew] = true
		doubtful[trace.SpeedCommand] = true
	}
	oil := map[string]bool{ReliefReached: true, Nameplate: true, WarmingUp: true}
	var kept []Finding
	for _, f := range found {
		isPressure := f.Channel == trace.CapPressure || f.Channel == trace.RodPressure
		if follows[f.ID] && (doubtful[f.Channel] || pressures && isPressure) || pressures && oil[f.ID] {
			continue
		}
		kept = append(kept, f)
	}
	return kept
}

// finding starts a finding about the whole of the log.
func (v *view) finding(id string, s Severity, c trace.Channel, affects []plant.Param, text, do string) Finding {
	return Finding{ID: id, Severity: s, Channel: c, Log: v.t.Name(), From: v.t.TimeAt(0), To: v.t.TimeAt(v.t.Len() - 1), Affects: affects, Text: text, Do: do}
}

// rank puts what falsifies everything first.
func rank(f Finding) int {
	switch f.ID {
	case WrongSign, SwappedPressures, SwappedColumns:
		return 10*int(f.Severity) + 5
	}
	return 10 * int(f.Severity)
}

func order(findings []Finding) {
	sort.SliceStable(findings, func(i, j int) bool { return rank(findings[i]) > rank(findings[j]) })
}
