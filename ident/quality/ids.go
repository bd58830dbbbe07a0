package quality

import "eha/strokewise/ident/plant"

// The ids of findings, which stand in JSON and never change.
const (
	WrongSign        = "wrong_sign"
	SwappedPressures = "swapped_pressures"
	SwappedColumns   = "swapped_columns"
	MissingRows      = "missing_rows"
	TimeJitter       = "time_jitter"
	TimeBackwards    = "time_backwards"
	SpikeFound       = "spike"
	Flat             = "flat"
	Clipped          = "clipped"
	CoarseResolution = "coarse_resolution"
	Noisy            = "noisy"
	EncoderWrap      = "encoder_wrap"
	SpeedScale       = "speed_scale"
	TimeSkew         = "time_skew"
	PressureOffset   = "pressure_offset"
	SpeedLimited     = "speed_limited"
	CurrentLimited   = "current_limited"
	ReliefReached    = "relief_reached"
	Nameplate        = "nameplate"
	ColdOil          = "cold_oil"
	NoMotion         = "no_motion"
	UnitDoubtful     = "unit_doubtful"
	HeldSamples      = "held_samples"
	RampLimited      = "ramp_limited"
	SpeedLoopRinging = "speed_loop_ringing"
	SpeedLoopSlow    = "speed_loop_slow"
	WarmingUp        = "warming_up"
	SensorRange      = "sensor_range"
	NoZero           = "no_zero"
	ZeroSet          = "zero_set"
	MassDisagrees    = "mass_disagrees"
	EmptyCells       = "empty_cells"
	Joined           = "joined"
	UnreadableCells  = "unreadable_cells"
	Ripple           = "pump_ripple"
	LeftOut          = "left_out"
	SignalLost       = "signal_lost"
)

// Groups of parameters that suffer together.
var (
	strokeParams = []plant.Param{plant.StrokePerTurnExtend, plant.StrokePerTurnRetract, plant.StrokePerTurnCap, plant.StrokePerTurnRod}
	driveParams  = []plant.Param{plant.DriveBandwidth, plant.DriveDamping, plant.DeadTime}
	forceParams  = []plant.Param{plant.CoulombFriction, plant.ViscousFriction, plant.MovingMass, plant.AxialLoad}
	oilParams    = []plant.Param{plant.BulkModulus, plant.BulkModulusCap, plant.BulkModulusRod, plant.ComplianceCap, plant.ComplianceRod}
	waveParams   = []plant.Param{plant.HydraulicFrequency, plant.HydraulicDamping}
)

func join(groups ...[]plant.Param) []plant.Param {
	var all []plant.Param
	for _, g := range groups {
		all = append(all, g...)
	}
	return all
}
