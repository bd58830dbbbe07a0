// Package ident fits the plant of an electro-hydrostatic actuator to logs of it:
// a servo motor with a speed loop turns a bidirectional pump that moves a
// single-rod cylinder; check valves join the side under the lower pressure to a
// small sealed reservoir.
//
// # Plant model
//
// At any time one chamber, h, carries the load and sets the speed; the other
// stands near reservoir pressure. With extending positive, and + for the cap side and - for
// the rod side,
//
//	drive    n = ω²/(s² + 2ζωs + ω²) · e^(-s·Td) · n_cmd, within its acceleration limit
//	flow     D·n·(1 - κ) = A_h·v + L·(p_cap - p_rod) ± C_h(x, p_h)·dp_h/dt
//	motion   m·dv/dt = p_cap·A_cap - p_rod·A_rod - F_c·sgn(v) - b·v + F_a
//	mode     ω_h = sqrt(A_h²/(C_h·m))
//
// Which chamber carries follows the sign of the force, not the direction of
// travel. Each effect has a package of its own; Fit is the way through them. Last,
// the whole model is run on stretches of the logs and searched for the dynamics
// that explain them (package outputerror), as a check and where that tells more.
//
// # Symbols
//
//	x, v          rod position and speed, 0 fully retracted      m, m/s
//	θ, n          motor angle and speed                          rad, rad/s
//	p_cap, p_rod  chamber pressures, gauge                       Pa
//	A_cap, A_rod  piston areas                                   m²
//	D             pump displacement                              m³/rad
//	L             leakage across the pump, slip is L/D           m³/(s·Pa)
//	κ             what the pump's oil loses by compression       1
//	C_h           compliance of a chamber, dV/dp                 m³/Pa
//	F_c, b        Coulomb and viscous friction                   N, N·s/m
//	F_a           axial load, positive pushing the rod out       N
//	m             mass felt at the rod                           kg
//	ω, ζ, Td      natural frequency, damping, dead time of the drive   rad/s, 1, s
//	ω_h, ζ_h      the same of the mass on the oil                rad/s, 1
//
// Extending is positive for position, speed, motor angle and command; forces are
// positive when they push the rod out. Intervals are 95 %.
package ident
