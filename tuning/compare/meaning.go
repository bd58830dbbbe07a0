package compare

import "eha/strokewise/ident/plant"

// meaning is what a change of a parameter usually means, up and down, and what
// else does the same. Common practice, no source.
type meaning struct{ up, down, also string }

const (
	warmOil = "warmer, thinner oil, or another oil"
	newLoad = "another load or pressure while logging"
	strokes = "the displacement and area of a machine do not change: another transducer or encoder scaling, gear or pump; a coupling that slips"
)

var meanings = map[plant.Param]meaning{
	plant.StrokePerTurnExtend:  {strokes, strokes, "the load is carried by the other chamber"},
	plant.StrokePerTurnRetract: {strokes, strokes, "the load is carried by the other chamber"},
	plant.StrokePerTurnCap:     {strokes, strokes, "a transducer that is not straight, over another part of the stroke"},
	plant.StrokePerTurnRod:     {strokes, strokes, "a transducer that is not straight, over another part of the stroke"},
	plant.Slip:                 {"a worn pump or leaking piston seal, or hot, thin oil", "a new pump or seal, or cold, thick oil", warmOil},
	plant.LostMotion:           {"air in the oil, slow check valves, or play in the coupling or rod end", "air bled, or play taken out", newLoad},
	plant.CoulombFriction:      {"seals swollen or dry, side load from poor alignment, or tight guides", "seals run in or worn, or better alignment", newLoad + ": seals press harder under pressure"},
	plant.BreakawayForce:       {"dry seals, or standing for long", "seals run in or oiled", "a different time at rest before the moves"},
	plant.ViscousFriction:      {"cold or thicker oil, or a throttled line", "warm or thinner oil", warmOil},
	plant.MovingMass:           {"more load on the rod", "less load on the rod", "a load coupled through something that gives"},
	plant.AxialLoad:            {"more force on the rod along the axis", "less force on the rod along the axis", "a pressure sensor's offset"},
	plant.BulkModulus:          {"air bled from the oil, or stiffer hoses", "air in the oil, or a softer or longer hose", newLoad + ": oil with air stiffens with pressure"},
	plant.HydraulicFrequency:   {"less mass or stiffer oil", "more mass, or air in the oil", newLoad},
	plant.HydraulicDamping:     {"more slip or friction, which take energy out", "less slip or friction", "other speed or pressure while logging"},
	plant.DriveBandwidth:       {"the drive's speed loop was set faster", "the drive's speed loop was set slower, or more inertia at the motor", "torque limit reached in one of the sets"},
	plant.DriveDamping:         {"the drive's speed loop was set calmer", "the drive's speed loop was set livelier", "torque limit reached in one of the sets"},
	plant.DeadTime:             {"a slower command path to the drive: bus, filter or cycle", "a faster command path to the drive", "another sample period or clock of the log"},
	plant.ContactStiffness:     {"a stiffer work piece or frame", "a softer work piece or frame", "pressing at another place"},
	plant.PressingStiffness:    {"a stiffer contact or less air", "a softer contact, air in the oil, or a softer hose", newLoad},
}

// meaningOf returns what a change of the parameter usually means.
func meaningOf(p plant.Param) meaning {
	switch p {
	case plant.BulkModulusCap, plant.BulkModulusRod:
		return meanings[plant.BulkModulus]
	case plant.ComplianceCap, plant.ComplianceRod:
		m := meanings[plant.BulkModulus]
		return meaning{m.down, m.up, m.also} // a compliance rises as the modulus falls
	}
	return meanings[p]
}

// follows lists the parameters that a change of load changes by itself.
var follows = map[plant.Param]bool{
	plant.LostMotion: true, plant.CoulombFriction: true, plant.BulkModulus: true, plant.BulkModulusCap: true, plant.BulkModulusRod: true,
	plant.ComplianceCap: true, plant.ComplianceRod: true, plant.HydraulicFrequency: true, plant.HydraulicDamping: true, plant.PressingStiffness: true,
}

// explain words what changed. Where the load changed too, it comes first as an
// explanation of all that follows from it.
func explain(changes []Change) {
	loaded := ""
	for _, c := range changes {
		if c.Changed && (c.Param == plant.MovingMass || c.Param == plant.AxialLoad) {
			loaded = "the changed load, seen in " + words(c.Param)
		}
	}
	for i := range changes {
		c := &changes[i]
		if !c.Changed {
			continue
		}
		m := meaningOf(c.Param)
		c.OftenMeans, c.CouldAlsoBe = m.down, m.also
		if c.up {
			c.OftenMeans = m.up
		}
		if loaded != "" && follows[c.Param] {
			c.CouldAlsoBe = loaded + "; " + m.also
		}
	}
}

func words(p plant.Param) string {
	if p == plant.MovingMass {
		return "the moving mass"
	}
	return "the axial load"
}
