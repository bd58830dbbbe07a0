// Package tuning turns a fitted plant into loop settings with their margins,
// predicted responses, guards and bring-up steps. It knows no terminal, no files
// and no clock.
package tuning

import (
	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
)

// Options are what the user asks of a proposal; DefaultOptions fills them in.
type Options struct {
	Targets law.Targets
	// GainShare is the share of the limit gain to take, 0 to 1; 1 is the fastest
	// that keeps the targets.
	GainShare float64
	Scale     machine.Scale // ScaleUnknown takes the machine file's, or one per direction
	Integral  machine.Capability
	// PressureDamping asks for pressure feedback even where it does not pay (Yes), never (No), or where it pays.
	PressureDamping machine.Capability
	// Contact is what the rod will press on where no log shows it, nil to take what was
	// logged; ContactRange the stiffnesses (N/m) to hold for, zero for the interval of the one known.
	Contact      *plant.Contact
	ContactRange [2]float64
	MassRange    [2]float64 // kg, or factors of the mass found where the mass is unknown; zero takes the machine file's or 0.6 to 1.6
	AsFound      *law.Loops // settings in use when the logs were made, nil where not given
	// Changes to the plant that the settings are wanted for.
	WhatIf WhatIf
}

// WhatIf are changes to the fitted plant; a nil field changes nothing.
type WhatIf struct {
	Mass             *float64 // kg
	Load             *float64 // N, process load along the axis, positive pushing the rod out
	OuterDelay       *float64 // s
	ControllerPeriod *float64 // s
	LineVolume       *float64 // m³ added to each chamber
}

// Proposal is a set of loop settings with all that stands behind it. It is
// built by Propose alone, so that settings without margins cannot exist.
type Proposal struct {
	Loops   law.Loops
	Targets law.Targets
	// Model is the plant that the settings were designed on, what-if included.
	Model plant.Model
	// NotProposed says per loop ("position", "force") why there are no settings
	// and what to log; it has no entry for a loop that is proposed.
	NotProposed map[string]string
	Guards      Guards
	Margins     []Margin
	Worst       map[string]Margin // per loop, the grid point that limits, with Why filled in
	Predicted   []Step
	Events      []PressEvent // what happens while pressing, beside the standard steps
	Limits      []Limit
	Scales      []ScaleForm
	Forms       []SettingForm // the gains as other controllers ask for them
	BringUp     []BringUpStep
	Cautions    []string
	// Foremost are the warnings that belong beside the gains; Warnings begin with them.
	Foremost []string
	Warnings []string
	Demo     bool
}

// Margin is the stability margin of one loop at one point of the design grid.
type Margin struct {
	Loop        string // "position" or "force"
	Direction   plant.Direction
	Chamber     plant.Chamber // that carries the load
	Position    float64       // m
	MassFactor  float64       // of the mass fitted
	Mass        float64       // kg; 0 where unknown
	Stable      bool
	GainMargin  float64 // upward, ratio; +Inf for none
	PhaseMargin float64 // rad; +Inf for none
	Sensitivity float64 // peak of |S|
	DelayMargin float64 // s; +Inf for none
	PeakFreq    float64 // rad/s, where |S| peaks
	Why         string  // what limits there, in words; "" but at the worst point
}

// Step is a predicted response with its figures and their band from parameter draws.
type Step struct {
	Loop         string
	Direction    plant.Direction
	From, To     float64 // m or N
	Rise         Range   // s, 10 to 90 %
	Settling     Range   // s, to 2 % of the step about the reference; +Inf where it never settles
	Overshoot    Range   // share of the step
	PeakSpeed    Range   // rad/s at the motor
	PeakPressure Range   // Pa
	FinalError   Range   // m or N
	Sticks       Range   // s, force steps only: until the rod, which friction holds, has gone a tenth of its way
	History      string  // what happened before the step, as "1 s at rest"
}

// PressEvent is what is predicted of one scenario of the force loop, with bands from parameter draws.
type PressEvent struct {
	Scenario           Scenario
	Direction          plant.Direction // pressed
	From, To           float64         // N, force before it and that asked for at its end, zero where there is none
	PeakForce          Range           // N, of the piston, positive the way it presses
	PeakWork           Range           // N, on the work piece
	RodSpeed           Range           // m/s, largest mean over a tenth of a second or a period of the mode; after contact is lost, once the oil has expanded
	Thrown             Range           // m/s, largest at any moment: what the oil's expansion does when contact is lost
	Error              Range           // N, largest distance from a ramp, that at the end otherwise; zero where nothing is pressed at the end
	Rests              Range           // m, where the rod is at the end: beyond where it touches, below zero clear of it
	HandOvers, Bounces Range           // how often the loop in charge changes, and the rod leaves the work piece by itself
}

// Range is a figure with the band that parameter draws and model error give it.
type Range struct{ Value, Low, High float64 }

// Guards are thresholds for the controller's supervision, reasoned from the
// logs' own statistics plus margin.
type Guards struct {
	Mismatch          float64       // m, encoder against transducer gathered over MismatchTime, slip taken out
	MismatchTime      float64       // s
	PlainMismatch     float64       // m over MismatchTime, slip not taken out
	FollowingError    []plant.Point // rod speed (m/s) against following error (m)
	ForceLimit        float64       // N; 0 where unknown
	PressureLimit     float64       // Pa; 0 where unknown
	TorqueLimit       float64       // N·m; 0 where unknown
	SoftLow, SoftHigh float64       // m
	Why               []string      // the reasoning, one sentence per guard
}

// Limit is something that keeps the loop from being faster, with what a remedy would bring.
type Limit struct {
	What   string  // "hydraulic resonance at 18.2 Hz, rod side, 240 mm, 480 kg"
	Remedy string  // "half the hose volume"
	Gain   float64 // factor on the loop gain that the remedy brings, computed
}

// ScaleForm is one way to hold the turns-to-stroke relation, with the error it leaves.
type ScaleForm struct {
	Form     string // "single", "direction", "chamber", "table", "integers", "counts per mm", "length per turn"
	Text     string // the numbers to enter, with units
	ErrorPPM float64
	Error    float64 // m over the stroke
	Note     string  // what is lost against the best form
}

// BringUpStep is one step from timid to proposed.
type BringUpStep struct {
	Title    string
	Settings *law.Loops // nil for a step that enters none
	Do       []string
	Expect   []string // figures to see before the next step
	StopIf   []string
	Back     string
}
