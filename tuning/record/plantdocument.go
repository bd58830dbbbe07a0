package record

import "eha/strokewise/ident/plant"

// PlantFormat names the plant document.
const PlantFormat = "strokewise.plant/1"

type plantDocument struct {
	Format     string                   `json:"format"`
	Demo       bool                     `json:"demo,omitempty"`
	Machine    string                   `json:"machine,omitempty"`
	Logs       []logEntry               `json:"logs"`
	Parameters map[plant.Param]estimate `json:"parameters"`
	StrokeMap  strokeMap                `json:"stroke_map"`
	LoadMap    loadMap                  `json:"load_map"`
	Change     []number                 `json:"chamber_change_mm"`
	Thinning   *thinning                `json:"slip_with_temperature,omitempty"`
	Validation validation               `json:"validation"`
	Warnings   []string                 `json:"warnings"`
	Changes    []refitEntry             `json:"changes,omitempty"`
	Model      *modelPart               `json:"model,omitempty"`
}

// refitEntry is a parameter before and after a refit.
type refitEntry struct {
	Parameter plant.Param `json:"parameter"`
	Before    estimate    `json:"before"`
	After     estimate    `json:"after"`
	Moved     bool        `json:"moved"`
}

type logEntry struct {
	File     string `json:"file"`
	SHA256   string `json:"sha256"`
	Rows     int    `json:"rows"`
	Duration number `json:"duration_s"`
	Period   number `json:"sample_period_s"`
}

type estimate struct {
	Value  *number `json:"value"`
	Low    *number `json:"low"`
	High   *number `json:"high"`
	Unit   string  `json:"unit"`
	Status string  `json:"status"`
	From   string  `json:"from"`
}

// thinning is the oil temperature that slip belongs to and slip's rise per kelvin, a
// share of itself.
type thinning struct {
	Temperature number  `json:"mean_degC"`
	Value       *number `json:"per_K"`
	Low         *number `json:"low"`
	High        *number `json:"high"`
}

type strokeMap struct {
	Position []number `json:"position_mm"`
	Extend   []number `json:"extend_mm_per_rev"`
	Retract  []number `json:"retract_mm_per_rev"`
}

type loadMap struct {
	Position []number `json:"position_mm"`
	Load     []number `json:"axial_load_kN"`
	Extend   []number `json:"friction_extend_kN"`
	Retract  []number `json:"friction_retract_kN"`
}

type validation struct {
	HeldOut     number  `json:"held_out_s"`
	RodSpeed    *number `json:"rod_speed_unexplained_pct"`
	CapPressure *number `json:"cap_pressure_unexplained_pct"`
	RodPressure *number `json:"rod_pressure_unexplained_pct"`
	Stroke      *number `json:"stroke_from_turns_mm"`
	Verdict     string  `json:"verdict"`
	Refinement  string  `json:"refinement,omitempty"`
}

// modelPart keeps what a later tune or compare needs and the fields before it
// do not hold. It is in SI units, field by field as package plant documents it.
type modelPart struct {
	Model         plant.Model    `json:"si"`
	AreasKnown    bool           `json:"areas_known"`
	MassKnown     bool           `json:"mass_known"`
	PressuresSeen bool           `json:"pressures_seen"`
	Seen          plant.Seen     `json:"seen"`
	Machine       machineOf      `json:"machine_file"`
	Friction      []plant.Point  `json:"friction,omitempty"`
	Slip          []plant.Point  `json:"slip,omitempty"`
	Resonance     []plant.Point  `json:"resonance,omitempty"`
	LostMotion    []plant.Point  `json:"lost_motion,omitempty"`
	LostForce     []number       `json:"lost_motion_force_N,omitempty"`
	Pressing      []plant.Point  `json:"pressing,omitempty"`
	Responses     []responsePart `json:"responses,omitempty"`
	HoldOut       []overlayPart  `json:"hold_out,omitempty"`
	MapResidual   number         `json:"map_residual_m"`
	Transducer    []number       `json:"transducer_curve_m,omitempty"`
}

type responsePart struct {
	From, To            string
	Position            float64
	Chamber             plant.Chamber
	Chambers            bool
	Direction           plant.Direction
	Directed            bool
	Omega               []float64
	Re, Im              []float64
	Coherence, RelError []float64
	FitRe, FitIm        []float64 `json:",omitempty"`
}
