package twin

import "math"

// Loops are settings of the control law in the units and names of the loops
// format (strokewise.loops/1), so that a file of settings unmarshals into them.
type Loops struct {
	Format   string        `json:"format"`
	Position *PositionLoop `json:"position_loop"`
	Force    *ForceLoop    `json:"force_loop"`
}

// PositionLoop holds the settings of the outer position loop.
type PositionLoop struct {
	Period       float64     `json:"period_s"`
	KpExtend     float64     `json:"kp_extend_per_s"`
	KpRetract    float64     `json:"kp_retract_per_s"`
	KiExtend     float64     `json:"ki_extend_per_s2"`
	KiRetract    float64     `json:"ki_retract_per_s2"`
	Feedforward  float64     `json:"velocity_feedforward"`
	TurnsExtend  float64     `json:"turns_per_mm_extend"`
	TurnsRetract float64     `json:"turns_per_mm_retract"`
	Table        *TurnsTable `json:"table"`
	Damping      float64     `json:"pressure_damping_rev_per_s_per_bar"`
	Highpass     float64     `json:"pressure_highpass_hz"`
	Lowpass      float64     `json:"speed_lowpass_hz"`
	SpeedLimit   float64     `json:"speed_limit_rpm"`
	Window       float64     `json:"window_mm"`
	WindowTime   float64     `json:"window_time_s"`
	// By chamber, TurnsExtend holds while the cap side carries and TurnsRetract
	// while the rod side does, told by the hydraulic force passing the band (kN).
	ByChamber   bool    `json:"scale_by_chamber,omitempty"`
	ChamberBand float64 `json:"scale_chamber_band_kN,omitempty"`
}

// TurnsTable is the turns-to-stroke relation along the stroke.
type TurnsTable struct {
	Position []float64 `json:"position_mm"`
	Extend   []float64 `json:"turns_per_mm_extend"`
	Retract  []float64 `json:"turns_per_mm_retract"`
}

// ForceLoop holds the settings of the outer force loop.
type ForceLoop struct {
	Presses         string  `json:"presses"`
	ApproachSpeed   float64 `json:"approach_speed_mm_per_s"`
	TravelLimit     float64 `json:"travel_limit_mm"`
	Period          float64 `json:"period_s"`
	Kp              float64 `json:"kp_rev_per_s_per_kN"`
	Ki              float64 `json:"ki_rev_per_s2_per_kN"`
	RateFeedforward float64 `json:"rate_feedforward_rev_per_kN"`
	Lowpass         float64 `json:"force_lowpass_hz"`
	SpeedLimit      float64 `json:"speed_limit_rpm"`
}

// Reference is what the loops are asked for: position (mm) with its rate (mm/s)
// and, where Pressing is set, force (kN) with its rate (kN/s).
type Reference struct {
	Position, Rate   float64
	Pressing         bool
	Force, ForceRate float64
}

// lowpass is a first-order low-pass, y += (1 - e^(-2·π·f·T))·(u - y).
type lowpass struct {
	share, y float64
	started  bool
}

func newLowpass(freqHz, period float64) lowpass {
	return lowpass{share: 1 - math.Exp(-2*math.Pi*freqHz*period)}
}

// next starts at its first input, as a controller's filter does that was enabled at rest.
func (f *lowpass) next(u float64) float64 {
	if !f.started {
		f.y, f.started = u, true
	}
	f.y += f.share * (u - f.y)
	return f.y
}

// Controller runs the control law, one period at a time.
type Controller struct {
	loops                    Loops
	areaCap, areaRod         float64
	sumPosition, sumForce    float64 // mm/s and rev/s
	damping, demand, measure lowpass
	carrier                  string // by the band: "cap" until the rod side is seen to carry
}

// NewController returns the law with the settings, at rest, for a machine of those areas (m²).
func NewController(l Loops, areaCap, areaRod float64) *Controller {
	c := &Controller{loops: l, areaCap: areaCap, areaRod: areaRod}
	if p := l.Position; p != nil {
		c.damping = newLowpass(p.Highpass, p.Period)
		c.demand = newLowpass(p.Lowpass, p.Period)
		c.demand.started = true
	}
	if f := l.Force; f != nil {
		c.measure = newLowpass(f.Lowpass, f.Period)
	}
	return c
}

// Next returns the speed command (rev/s) for the measured position (mm) and
// pressures (bar) at this period, and whether the force loop gave it.
func (c *Controller) Next(r Reference, x, pCap, pRod float64) (speed float64, byForce bool) {
	n, sum := c.position(r, x, pCap, pRod)
	if !r.Pressing || c.loops.Force == nil {
		c.sumPosition = sum
		return n, false
	}
	nForce, sumForce := c.force(r, pCap, pRod)
	byForce = nForce < n
	if c.loops.Force.Presses == "retract" {
		byForce = nForce > n
	}
	if byForce {
		c.sumForce = sumForce
		return nForce, true
	}
	c.sumPosition = sum
	return n, false
}

// position returns the position loop's demand (rev/s) and what its integral
// becomes if it is in charge.
func (c *Controller) position(r Reference, x, pCap, pRod float64) (n, sum float64) {
	p := c.loops.Position
	e := r.Position - x
	kp, ki := p.KpExtend, p.KiExtend
	if e < 0 {
		kp, ki = p.KpRetract, p.KiRetract
	}
	sum = c.sumPosition
	if !(math.Abs(e) < p.Window && r.Rate == 0) {
		sum += ki * e * p.Period
	}
	v := kp*e + sum + p.Feedforward*r.Rate
	c.tellCarrier(pCap, pRod)
	n = v * p.turns(v, x, c.carrier)
	if p.Damping != 0 {
		load := pCap - pRod*c.areaRod/c.areaCap
		n -= p.Damping * (load - c.damping.next(load))
	}
	if p.Lowpass > 0 {
		n = c.demand.next(n)
	}
	limit := p.SpeedLimit / 60
	limited := math.Max(-limit, math.Min(limit, n))
	if limited != n && (n-limited)*e > 0 {
		sum = c.sumPosition
	}
	return limited, sum
}

// tellCarrier moves on which chamber is taken to carry the load, by the hydraulic force.
func (c *Controller) tellCarrier(pCap, pRod float64) {
	force := 100 * (pCap*c.areaCap - pRod*c.areaRod) // bar·m² to kN
	switch band := c.loops.Position.ChamberBand; {
	case force > band:
		c.carrier = "cap"
	case force < -band:
		c.carrier = "rod"
	}
}

// turns returns the turns per mm for a speed demand v at x (mm) with the chamber
// that is taken to carry the load.
func (p *PositionLoop) turns(v, x float64, carrier string) float64 {
	if p.ByChamber {
		if carrier == "rod" {
			return p.TurnsRetract
		}
		return p.TurnsExtend
	}
	if t := p.Table; t != nil && len(t.Position) > 0 {
		values := t.Extend
		if v < 0 {
			values = t.Retract
		}
		return interpolate(t.Position, values, x)
	}
	if v < 0 {
		return p.TurnsRetract
	}
	return p.TurnsExtend
}

func interpolate(at, values []float64, x float64) float64 {
	if x <= at[0] {
		return values[0]
	}
	for i := 1; i < len(at); i++ {
		if x <= at[i] {
			s := (x - at[i-1]) / (at[i] - at[i-1])
			return values[i-1] + s*(values[i]-values[i-1])
		}
	}
	return values[len(values)-1]
}

// force returns the force loop's demand (rev/s) and what its integral becomes if
// it is in charge.
func (c *Controller) force(r Reference, pCap, pRod float64) (n, sum float64) {
	f := c.loops.Force
	measured := (pCap*c.areaCap - pRod*c.areaRod) * 100 // bar·m² to kN
	if f.Lowpass > 0 {
		measured = c.measure.next(measured)
	}
	e := r.Force - measured
	sum = c.sumForce + f.Ki*e*f.Period
	n = f.Kp*e + sum + f.RateFeedforward*r.ForceRate
	limit := f.SpeedLimit / 60
	limited := math.Max(-limit, math.Min(limit, n))
	if limited != n && (n-limited)*e > 0 {
		sum = c.sumForce
	}
	return limited, sum
}
