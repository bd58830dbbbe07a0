// Package contact finds what the rod presses on: where it touches, how stiff it
// is, and what force the drive gains per motor turn while pressing. It works on
// stretches in which the motor turns against a rod that hardly travels.
package contact

import (
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// Press is one stretch of a log in which the rod presses on something, the last
// free travel before the touch included if possible.
type Press struct {
	Trace *trace.Trace
	Span  trace.Span
}

// Known is what was found before. Zero fields are unknown: without areas the
// load cell's force takes the place of the pressures'.
type Known struct {
	Area         plant.PerChamber[float64] // m²
	Stroke       float64                   // m
	Displacement float64                   // m³/rad
	Slip         float64                   // rad/s per Pa
	Oil          *plant.PerChamber[plant.Oil]
	Lag          float64 // s, of the rod position behind the force, as from the balance of forces
	// OilDoubt is the 95 % half-width of each chamber's compliance over its value.
	OilDoubt plant.PerChamber[float64]
	// FreeForce is the hydraulic force (N) of slow free travel in each direction;
	// nil takes the level at the start of each stretch.
	FreeForce *plant.PerDirection[float64]
}

// Result is what the pressing stretches tell.
type Result struct {
	Presses  plant.Direction
	Contact  plant.Estimate // contact stiffness, N/m
	Pressing plant.Estimate // hydraulic force per motor angle, N/rad
	Position plant.Estimate // rod position (m) at which the rod touches
	// Force is the range of hydraulic force (N) seen while pressing.
	Force [2]float64
	// Direct and Slip are found from the same stretches in another way, as a
	// check on Pressing and on the slip fitted from travel.
	Direct, Slip plant.Estimate
	Points       []plant.Point // rod position (m) against force (N)
	Cell         *Cell         // nil where no load cell was logged
	Warnings     []string
}

const (
	moveToLog = "press_hold: press on the stop or work piece, raise the force in steps and let it down again"
	bins      = 24
	// lowShare is the share of the force range below which friction, rising as
	// the rod slows down at the touch, bends the line.
	lowShare = 0.3
	// smoothing is the half-width (s) of the mean that is taken of force and
	// position before the running maximum is looked for.
	smoothing = 0.010
	// leastTravel is the travel (m) under load below which the transducer's own
	// errors rule the stiffness.
	leastTravel = 1e-4
	// The slopes of lower and upper half of the force may differ by weakUnlike;
	// beyond mostUnlike there is no one stiffness to be told.
	weakUnlike, mostUnlike = 0.15, 0.6
)

// Fit returns contact stiffness, contact position and pressing stiffness from
// the stretches. The rod position is regressed on the force
//
//	x = x_0 + F/k
//
// and not the other way round, because force is the better measurement; only
// samples in which the force exceeds everything before it count, since easing off
// adds the stiffness of the seals that stick. The pressing stiffness follows from
// the compliance C of the pressing chamber with area A,
//
//	dF/dθ = A·D/(C + A²/k)
//
// and, where the oil is unknown, from the motor angle itself. Parameters that the
// stretches cannot tell are missing and name the move to log.
func Fit(presses []Press, known Known) Result {
	res := Result{Contact: plant.MissingFrom(moveToLog), Pressing: plant.MissingFrom(moveToLog),
		Position: plant.MissingFrom(moveToLog), Direct: plant.MissingFrom(moveToLog), Slip: plant.MissingFrom(moveToLog)}
	ramps := known.beyondTravel(collect(presses, known))
	if len(ramps) == 0 {
		return res
	}
	var most float64
	res.Presses, most = majority(ramps)
	ramps = only(ramps, res.Presses, lowShare*most)
	res.Force = forceRange(ramps)
	res.stiffness(ramps)
	res.touch(ramps, known)
	res.gain(ramps, known)
	res.Cell = compareCell(presses, known.Area)
	return res
}

// beyondTravel returns the ramps whose force goes beyond what friction and load ask
// of free travel: less is a rod at rest after travel the other way.
func (k Known) beyondTravel(ramps []ramp) []ramp {
	if k.FreeForce == nil {
		return ramps
	}
	margin := pastTravel*(k.FreeForce.Extend-k.FreeForce.Retract) + leastPast*k.Area.Cap
	var kept []ramp
	for _, r := range ramps {
		sign := r.presses.Sign()
		if sign*r.force[0]+r.rise() > sign*k.FreeForce.At(r.presses)+margin {
			kept = append(kept, r)
		}
	}
	return kept
}

// majority returns the direction in which the larger force was pressed, and
// how far that force rose (N).
func majority(ramps []ramp) (plant.Direction, float64) {
	var most [2]float64
	for _, r := range ramps {
		most[r.presses] = math.Max(most[r.presses], r.rise())
	}
	if most[plant.Retract] > most[plant.Extend] {
		return plant.Retract, most[plant.Retract]
	}
	return plant.Extend, most[plant.Extend]
}

// only returns the ramps in the direction that rise by at least a force (N): less
// is friction at a start.
func only(ramps []ramp, d plant.Direction, least float64) []ramp {
	var kept []ramp
	for _, r := range ramps {
		if r.presses == d && r.rise() >= least {
			kept = append(kept, r)
		}
	}
	return kept
}

func forceRange(ramps []ramp) [2]float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for _, r := range ramps {
		for _, f := range r.force {
			low, high = math.Min(low, f), math.Max(high, f)
		}
	}
	return [2]float64{low, high}
}

// stiffness fits the contact stiffness on all ramps with one slope and a place
// of contact for each.
func (res *Result) stiffness(ramps []ramp) {
	limit := 0.0
	for _, r := range ramps {
		limit = math.Max(limit, r.rise())
	}
	var all, lower, upper slopeFit
	travel := 0.0
	for _, r := range ramps {
		points := r.binned(lowShare*limit, limit)
		if len(points) < bins/4 {
			continue
		}
		all.add(points)
		half := len(points) / 2
		lower.add(points[:half])
		upper.add(points[half:])
		travel = math.Max(travel, math.Abs(points[len(points)-1].Y-points[0].Y))
		for _, p := range points {
			res.Points = append(res.Points, plant.Point{X: p.Y, Y: p.X})
		}
	}
	slope, sigma := all.slope()
	if !(slope > 0) {
		return
	}
	low, _ := lower.slope()
	high, _ := upper.slope()
	unlike := math.Abs(high-low) / slope
	if unlike > mostUnlike {
		return
	}
	relative := 2*math.Hypot(sigma/slope, 0.25*unlike) + 0.012
	k := 1 / slope
	res.Contact = plant.ContactStiffness.Found(k, k/(1+relative), k*(1+relative),
		fmt.Sprintf("%d rises of force, %.2g mm of travel under load", all.groups, travel*1e3))
	if res.Contact.Status == plant.Identified && (travel < leastTravel || unlike > weakUnlike) {
		res.Contact.Status = plant.Weak
	}
	if unlike > weakUnlike {
		res.Warnings = append(res.Warnings, fmt.Sprintf("contact stiffness differs by %.0f %% between the lower and the upper half of the force", 100*unlike))
	}
}

// touch extends the contact's line down to the force of free travel.
func (res *Result) touch(ramps []ramp, known Known) {
	if !res.Contact.Known() {
		return
	}
	var sum, sumSq, n float64
	for _, r := range ramps {
		free := r.force[0]
		if known.FreeForce != nil {
			free = known.FreeForce.At(res.Presses)
		}
		mean, ok := r.centre(lowShare * r.rise())
		if !ok {
			continue
		}
		x := mean.Y - (mean.X-free)/res.Contact.Value
		sum, sumSq, n = sum+x, sumSq+x*x, n+1
	}
	if n == 0 {
		return
	}
	x := sum / n
	spread := math.Sqrt(math.Max(sumSq/n-x*x, 0))
	reach := math.Max(math.Abs(res.Force[0]), math.Abs(res.Force[1])) / res.Contact.Value
	half := 2*spread + 0.1*reach
	res.Position = plant.Estimate{Value: x, Low: x - half, High: x + half, Status: plant.Identified,
		From: "line of position against force, extended to the force of free travel"}
}
