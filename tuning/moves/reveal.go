package moves

import "eha/strokewise/ident/motion"

// reveals says what each move tells.
var reveals = map[motion.MoveKind]string{
	motion.Jog:           "wiring signs, whether the stop device and the soft limits work",
	motion.Hold:          "noise and resolution, pressures at rest, drift by slip",
	motion.SlowStrokes:   "stroke per turn each way, the stroke map, slip, Coulomb friction and load along the stroke",
	motion.SpeedSteps:    "friction against speed, slip, moving mass, line loss",
	motion.ReversalMove:  "lost motion, breakaway force, how the carrying chamber changes",
	motion.Pulses:        "moving mass, resonance and damping, drive lag and dead time",
	motion.Multisine:     "drive bandwidth and dead time, resonance and damping, oil compliance",
	motion.PressHold:     "contact and pressing stiffness, slip under pressure, oil compliance",
	motion.PositionSteps: "outer delay, the loop as it is now: the before of before and after",
	motion.UsualRun:      "whether the fitted machine holds in production: kept for validation",
}

// Reveals says in a few words what a test move tells.
func Reveals(k motion.MoveKind) string { return reveals[k] }

// watches says what to watch while the move runs, and when to stop.
var watches = map[motion.MoveKind]string{
	motion.Jog:           "Rod, encoder and pressures must follow the button the right way. Stop at once where one does not: a wrong sign is a runaway.",
	motion.Hold:          "Without a position loop the rod creeps with slip. Stop if it comes near a margin.",
	motion.SlowStrokes:   "Even travel without jerks, clear way to the end. Stop at stick-slip that knocks, or past the worst-case position.",
	motion.SpeedSteps:    "Pressures settle after each step. Stop at humming, at a pressure near the limit, or past the worst-case position.",
	motion.ReversalMove:  "Soft changes of direction. Stop at knocking or if the swing wanders off.",
	motion.Pulses:        "Swinging dies out after each step. Stop if it does not.",
	motion.Multisine:     "It rumbles; that is meant. Stop if a swing grows from period to period or the rod nears a margin.",
	motion.PressHold:     "Force follows the stairs. Stop if the rod keeps travelling, or at the travel limit.",
	motion.PositionSteps: "Each step settles. Stop at hunting or a growing swing.",
	motion.UsualRun:      "As always in production.",
}

// byHand are the moves that are never a played table, with how to do them.
var byHand = map[motion.MoveKind]string{
	motion.Jog:      "By hand, never by a played table: five short taps each way at lowest speed and torque, with rests of a second between. Check every sign, the stop device and the soft limits before anything is played.",
	motion.UsualRun: "Log two or three runs of the usual production move with the loop in use, and the position command with it.",
}
