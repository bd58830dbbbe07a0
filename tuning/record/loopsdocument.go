package record

import "math"

// LoopsFormat names the settings document.
const LoopsFormat = "strokewise.loops/1"

const (
	rev  = 2 * math.Pi
	bar  = 1e5
	toMM = 1e3
	toHz = 1 / (2 * math.Pi)
)

type loopsDocument struct {
	Format      string            `json:"format"`
	Demo        bool              `json:"demo,omitempty"`
	Machine     string            `json:"machine,omitempty"`
	Position    *positionPart     `json:"position_loop"`
	Force       *forcePart        `json:"force_loop"`
	NotProposed map[string]string `json:"not_proposed,omitempty"`
	Targets     *targetsPart      `json:"targets,omitempty"`
	Guards      *guardsPart       `json:"guards,omitempty"`
	Margins     []marginPart      `json:"margins,omitempty"`
	Predicted   []any             `json:"predicted,omitempty"` // of stepPart, then of eventPart
	Limits      []limitPart       `json:"limits,omitempty"`
	Scales      []scalePart       `json:"scale_forms,omitempty"`
	Forms       []formPart        `json:"setting_forms,omitempty"`
	BringUp     []bringUpPart     `json:"bring_up,omitempty"`
	Cautions    []string          `json:"cautions,omitempty"`
	Warnings    []string          `json:"warnings,omitempty"`
}

type positionPart struct {
	Period       number     `json:"period_s"`
	KpExtend     number     `json:"kp_extend_per_s"`
	KpRetract    number     `json:"kp_retract_per_s"`
	KiExtend     number     `json:"ki_extend_per_s2"`
	KiRetract    number     `json:"ki_retract_per_s2"`
	Feedforward  number     `json:"velocity_feedforward"`
	TurnsExtend  number     `json:"turns_per_mm_extend"`
	TurnsRetract number     `json:"turns_per_mm_retract"`
	Table        *tablePart `json:"table"`
	Damping      number     `json:"pressure_damping_rev_per_s_per_bar"`
	Highpass     number     `json:"pressure_highpass_hz"`
	Lowpass      number     `json:"speed_lowpass_hz"`
	SpeedLimit   number     `json:"speed_limit_rpm"`
	Window       number     `json:"window_mm"`
	WindowTime   number     `json:"window_time_s"`
	ChamberScale bool       `json:"scale_by_chamber,omitempty"` // then extend is the cap side's, retract the rod side's
	ChamberBand  number     `json:"scale_chamber_band_kN,omitempty"`
}

type tablePart struct {
	Position []number `json:"position_mm"`
	Extend   []number `json:"turns_per_mm_extend"`
	Retract  []number `json:"turns_per_mm_retract"`
}

type forcePart struct {
	Presses         string `json:"presses"`
	ApproachSpeed   number `json:"approach_speed_mm_per_s"`
	TravelLimit     number `json:"travel_limit_mm"`
	Period          number `json:"period_s"`
	Kp              number `json:"kp_rev_per_s_per_kN"`
	Ki              number `json:"ki_rev_per_s2_per_kN"`
	RateFeedforward number `json:"rate_feedforward_rev_per_kN"`
	Lowpass         number `json:"force_lowpass_hz"`
	SpeedLimit      number `json:"speed_limit_rpm"`
}

type targetsPart struct {
	Sensitivity number `json:"sensitivity_peak"`
	GainMargin  number `json:"gain_margin_db"`
	PhaseMargin number `json:"phase_margin_deg"`
}

type guardsPart struct {
	Mismatch struct {
		Mismatch number `json:"mismatch_mm"`
		Over     number `json:"over_s"`
		SlipOut  bool   `json:"slip_taken_out"`
		Plain    number `json:"plain_mm_over_s"`
	} `json:"encoder_transducer"`
	Following [][2]number `json:"following_error_mm_at_speed"`
	Force     *number     `json:"force_limit_kN"`
	Pressure  *number     `json:"pressure_limit_bar"`
	Torque    *number     `json:"torque_limit_Nm"`
	SoftLow   number      `json:"soft_limit_low_mm"`
	SoftHigh  number      `json:"soft_limit_high_mm"`
	Why       []string    `json:"why"`
}

type marginPart struct {
	Loop        string  `json:"loop"`
	Direction   string  `json:"direction"`
	Chamber     string  `json:"chamber"`
	Position    number  `json:"position_mm"`
	Mass        *number `json:"mass_kg"`
	MassFactor  *number `json:"mass_factor,omitempty"`
	Stable      bool    `json:"stable"`
	GainMargin  number  `json:"gain_margin_db"`
	PhaseMargin number  `json:"phase_margin_deg"`
	Sensitivity number  `json:"sensitivity_peak"`
	DelayMargin number  `json:"delay_margin_ms"`
	Why         string  `json:"why,omitempty"`
}

type stepPart struct {
	Loop         string  `json:"loop"`
	Direction    string  `json:"direction"`
	From         number  `json:"from"`
	To           number  `json:"to"`
	Unit         string  `json:"unit"`
	Rise         number  `json:"rise_s"`
	Settling     number  `json:"settling_s"`
	Overshoot    number  `json:"overshoot_pct"`
	PeakSpeed    number  `json:"peak_speed_rpm"`
	PeakPressure *number `json:"peak_pressure_bar"`
	FinalError   number  `json:"final_error"`
	Sticks       *number `json:"sticks_s,omitempty"` // force steps only
	Band         struct {
		Rise         [2]number  `json:"rise_s"`
		Settling     [2]number  `json:"settling_s"`
		Overshoot    [2]number  `json:"overshoot_pct"`
		PeakSpeed    [2]number  `json:"peak_speed_rpm"`
		PeakPressure *[2]number `json:"peak_pressure_bar"`
		FinalError   [2]number  `json:"final_error"`
	} `json:"band"`
	History string `json:"history,omitempty"`
}

// eventPart is what is predicted of an event while pressing. It stands among the
// predicted steps, told apart by its event, with the same names where a step's mean something.
type eventPart struct {
	Loop      string `json:"loop"`
	Direction string `json:"direction"`
	Event     string `json:"event"`
	Text      string `json:"text"`
	From      number `json:"from"`
	To        number `json:"to"` // the force asked for at the end
	Unit      string `json:"unit"`
	Rise      number `json:"rise_s"`
	Settling  number `json:"settling_s"`
	Overshoot number `json:"overshoot_pct"`
	eventFigures[number]
	Band eventFigures[[2]number] `json:"band"`
}

// eventFigures are an event's figures, or their bands.
type eventFigures[T any] struct {
	PeakForce  T `json:"peak_force_kN"`
	PeakWork   T `json:"peak_work_kN"`
	RodSpeed   T `json:"rod_speed_mm_per_s"`
	Thrown     T `json:"peak_rod_speed_mm_per_s"`
	FinalError T `json:"final_error"`
	Rests      T `json:"rests_beyond_contact_mm"`
	HandOvers  T `json:"hand_overs"`
	Bounces    T `json:"bounces"`
}

type limitPart struct {
	What   string `json:"what"`
	Remedy string `json:"remedy"`
	Gain   number `json:"gain_factor"`
}

type formPart struct {
	Loop string `json:"loop"`
	Form string `json:"form"`
	Text string `json:"text"`
	Law  string `json:"law"`
}

type scalePart struct {
	Form  string `json:"form"`
	Text  string `json:"text"`
	PPM   number `json:"error_ppm"`
	Error number `json:"error_mm"`
	Note  string `json:"note"`
}

type bringUpPart struct {
	Title    string        `json:"title"`
	Position *positionPart `json:"position_loop,omitempty"`
	Force    *forcePart    `json:"force_loop,omitempty"`
	Do       []string      `json:"do"`
	Expect   []string      `json:"expect"`
	StopIf   []string      `json:"stop_if"`
	Back     string        `json:"back"`
}
