package flow

import (
	"math"
	"math/rand/v2"
	"testing"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// plain is the machine of the package comment and nothing more: one chamber
// carries, the low side stands at the reservoir, the motor follows its speed.
type plain struct {
	side         float64 // +1 cap carries, -1 rod
	area         plant.PerChamber[float64]
	stroke       float64
	displacement float64
	slip         float64 // rad/s/Pa, near rest
	leakRise     float64 // s/rad, share by which slip grows per motor speed
	air          float64
	oil          plant.Oil // of the chamber that carries
	low          float64
	mass         float64
	viscous      float64
	coulomb      float64
	load         float64 // N, axial, pushing out positive
	delay        float64 // s, transducer
	noise        float64 // m
}

// plainMachine is invented; the cap side lifts a load.
func plainMachine() plain {
	return plain{side: 1, area: plant.PerChamber[float64]{Cap: 1.9635e-3, Rod: 1.3478e-3}, stroke: 0.4, displacement: 5e-6 / (2 * math.Pi),
		slip: 5e-7, air: 0.01, low: 1.5e5, mass: 400, viscous: 3000, coulomb: 800, load: -6000, delay: 1.4e-3,
		oil: plant.Oil{Fixed: 6e-5 / oilModulus, Modulus: oilModulus, Air: 0.01, AirVolume: 6e-5}}
}

// mirrored is the same machine with the rod side holding a load that pulls out.
func (m plain) mirrored() plain {
	m.side, m.load = -m.side, -m.load
	return m
}

func (m plain) chamber() plant.Chamber { return chamberOf(int(m.side)) }

// file is the machine file that goes with it.
func (m plain) file() *machine.Machine {
	f := &machine.Machine{}
	f.Cylinder.Bore = math.Sqrt(m.area.Cap * 4 / math.Pi)
	f.Cylinder.Rod = math.Sqrt((m.area.Cap - m.area.Rod) * 4 / math.Pi)
	f.Cylinder.Stroke = m.stroke
	return f
}

// speed is the motor speed (rad/s) played: strokes out and in at several speeds,
// with a multisine riding on each.
func (m plain) speed(t float64) float64 {
	levels := []float64{20, 40, 80, 150}
	const leg = 6.0
	k := int(t / leg)
	within := t - float64(k)*leg
	bias := levels[(k/2)%len(levels)]
	active := math.Min(leg-1, 0.22*m.area.At(m.chamber())/(m.displacement*bias))
	ramp := math.Max(0, math.Min(1, math.Min(within/0.1, (active-within)/0.1)))
	if k%2 == 1 {
		bias = -bias
	}
	wave := 0.0
	for i, f := range []float64{0.7, 1.9, 3.3, 5.7, 8.3, 11.9, 17.3, 23.9} {
		wave += math.Sin(2*math.Pi*f*t + float64(i*i))
	}
	return ramp * bias * (1 + 0.05*wave)
}

// log simulates the machine for the given time (s) and logs it every millisecond.
func (m plain) log(t *testing.T, seconds float64) *trace.Trace {
	t.Helper()
	const h, period = 2e-4, 1e-3
	area, other := m.area.At(m.chamber()), m.area.At(m.chamber().Other())
	state := [4]float64{0.12, 0, 0, 0} // x, v, p, θ
	if m.side < 0 {
		state[0] = 0.06
	}
	state[2] = (math.Abs(m.load) + m.low*other) / area
	rate := func(s [4]float64, at float64) [4]float64 {
		x, v, p := s[0], s[1], s[2]
		n := m.speed(at)
		into := n * m.side // turns into the chamber that carries
		pumped := into
		if into > 0 {
			pumped *= 1 - (p-m.low)/oilModulus - m.air*(airTerm(m.low)-airTerm(p))
		}
		swept := area * x
		if m.side < 0 {
			swept = area * (m.stroke - x)
		}
		flow := m.displacement*(pumped-m.slip*(1+m.leakRise*math.Abs(n))*(p-m.low)) - m.side*area*v
		force := m.side*(area*p-other*m.low) + m.load - m.viscous*v - m.coulomb*math.Tanh(v/1e-3)
		return [4]float64{v, force / m.mass, flow / m.oil.Compliance(swept, p), n}
	}
	rng := rand.New(rand.NewPCG(11, 12))
	samples := map[trace.Channel][]float64{}
	every, late := int(math.Round(period/h)), int(math.Round(m.delay/h))
	var xs []float64
	for i := range int(seconds / h) {
		xs = append(xs, state[0])
		if i%every == 0 {
			carrying, low := trace.CapPressure, trace.RodPressure
			if m.side < 0 {
				carrying, low = low, carrying
			}
			samples[trace.RodPosition] = append(samples[trace.RodPosition], xs[max(i-late, 0)]+m.noise*rng.NormFloat64())
			samples[trace.MotorPosition] = append(samples[trace.MotorPosition], state[3])
			samples[carrying] = append(samples[carrying], state[2])
			samples[low] = append(samples[low], m.low)
		}
		state = rungeKutta(rate, state, float64(i)*h, h)
	}
	log, err := trace.New("plain.csv", period, 0, samples, nil)
	if err != nil {
		t.Fatal(err)
	}
	return log
}

func rungeKutta(rate func([4]float64, float64) [4]float64, s [4]float64, t, h float64) [4]float64 {
	add := func(a [4]float64, b [4]float64, f float64) [4]float64 {
		for i := range a {
			a[i] += f * b[i]
		}
		return a
	}
	k1 := rate(s, t)
	k2 := rate(add(s, k1, h/2), t+h/2)
	k3 := rate(add(s, k2, h/2), t+h/2)
	k4 := rate(add(s, k3, h), t+h)
	for i := range s {
		s[i] += h / 6 * (k1[i] + 2*k2[i] + 2*k3[i] + k4[i])
	}
	return s
}
