// Package law is the control law that the proposed settings are for: its
// settings and one period of it at a time, exactly as a controller
// is to run it. A gain means nothing without its law. Units are SI: position m, turns as
// motor angle rad, pressure Pa, force N.
package law

import "eha/strokewise/ident/plant"

// Position holds the settings of the outer position loop. With error e = r - x
//
//	v = Kp·e + I + Feedforward·r',  n = v·Turns - PressureDamping·highpass(p_L)
//
// low-passed and clamped; the extend pair of gains holds while e >= 0, the
// extend scale while v >= 0.
type Position struct {
	Period      float64                     // s
	Kp          plant.PerDirection[float64] // 1/s
	Ki          plant.PerDirection[float64] // 1/s²
	Feedforward float64                     // share of the demanded speed, 0 or 1 as a rule
	Turns       plant.PerDirection[float64] // rad/m
	Table       *Table                      // replaces Turns where not nil
	// ByChamber takes Turns.Extend while the hydraulic force is positive (cap side
	// carries) and Turns.Retract while it is negative, whatever the direction of
	// travel; the pair changes only when the force passes ChamberBand (N) on the other side of zero.
	ByChamber       bool
	ChamberBand     float64
	PressureDamping float64 // rad/s per Pa
	Highpass        float64 // rad/s, corner of the pressure damping's high-pass
	Lowpass         float64 // rad/s, corner of the low-pass on the speed demand; 0 for none
	SpeedLimit      float64 // rad/s
	Window          float64 // m, in-position window
	WindowTime      float64 // s within the window to count as in position
}

// Table is motor angle per travel along the stroke, by the sign of the speed demand.
type Table struct {
	Position []float64                     // m, increasing
	Turns    plant.PerDirection[[]float64] // rad/m
}

// Force holds the settings of the outer force loop. With e = F_ref - F
//
//	n = Kp·e + I + RateFeedforward·F_ref'
//
// clamped to the speed limit.
type Force struct {
	Presses         plant.Direction
	ApproachSpeed   float64 // m/s
	TravelLimit     float64 // m beyond the contact
	Period          float64 // s
	Kp              float64 // rad/s per N
	Ki              float64 // rad/s² per N
	RateFeedforward float64 // rad per N
	Lowpass         float64 // rad/s on the measured force; 0 for none
	SpeedLimit      float64 // rad/s
}

// Targets are the margins that a proposal keeps over its whole grid.
type Targets struct {
	SensitivityPeak float64
	GainMargin      float64 // ratio
	PhaseMargin     float64 // rad
}

// Loops is a set of settings: as found in a drive, or as proposed.
type Loops struct {
	Position *Position
	Force    *Force // nil where there is none
}
