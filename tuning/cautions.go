package tuning

// ShortCaution stands wherever gains are shown and room is scarce.
const ShortCaution = "Proposals, not a safety function. People clear, hand on the stop device, limits set low first; support the load; follow local codes: licensed practice decides."

// Cautions returns what to know before any setting is entered, most important
// first. Topics: ISO 4413, ISO 12100, ISO 14118, ISO 13849-1 and IEC 60204-1
// (titles looked up or from memory; the wording is ours), and common practice.
func Cautions(vertical, pressing bool) []string {
	list := []string{
		"These settings are proposals computed from logs. The program is no safety function and changes no drive. A competent person enters them, step by step, with nobody in the danger zone and a hand on the stop device.",
		"Set limits first and low: speed, torque, pressure, travel, following error. Jog by hand and check every sign: a feedback with the wrong sign or scale is a runaway.",
		"Stored energy stays when the motor is off: trapped cylinder pressure, reservoir preload, the load itself. Lock out, support the load mechanically and release pressure before opening anything. Oil under pressure injects and burns.",
		"A motor brake does not hold the load: oil slips past the pump and the rod creeps.",
		"A resonance can build up within a second. Stop at the first hum or growing swing and go back a step.",
		"Check the relief setting and the motor's and drive's nameplates before full speed or force; braking loads feed energy back into the drive.",
		"The results hold for the load, oil temperature, hoses, sensors and drive settings that were logged. Log again after any of them changes.",
		"Safety-related limits and stops belong to the machine's risk assessment and its safety functions. Local codes and licensed practice decide.",
	}
	if vertical {
		list = append(list, "The load can fall when power, oil or a hose is lost, and at a change of the chamber that carries it: support it before every test.")
	}
	if pressing {
		list = append(list,
			"In force mode free travel runs away: keep speed and travel limit set always, and try with a test spring or stop where no person can reach.",
			"Pressing for long at a few turns heats oil and motor and starves the pump's bearings: see the nameplates for the lowest speed and the time allowed.")
	}
	return list
}
