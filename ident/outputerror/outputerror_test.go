package outputerror_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"eha/strokewise/ident/lsq"
	"eha/strokewise/ident/outputerror"
	"eha/strokewise/ident/plant"
)

// The plain machine: cap side under 20 kN, compliance the same everywhere.
const (
	areaCap, areaRod = 2e-3, 1.4e-3
	displacement     = 1e-6
	compliance       = 4e-13
	mass             = 250.0
	viscous          = 1500.0
	leakage          = 2e-13
	lowPressure      = 2e5
	topSpeed         = 300.0 // rad/s
	positionDelay    = 1.2e-3
	pressureLag      = 0.4e-3
	valveDrop        = 2e5 // Pa at full speed, turbulent above 0.1 bar
)

// plainStretch simulates the machine by Runge-Kutta in steps of 0.05 ms, driven by speed steps on a bias, and logs it every ms.
// It shares no code with the package.
func plainStretch(sign float64, seed uint64) outputerror.Stretch {
	rng := rand.New(rand.NewPCG(seed, 1))
	const fine, period, samples = 5e-5, 1e-3, 500
	surplus := (areaCap - areaRod) * topSpeed * displacement / areaCap
	gain := surplus / math.Sqrt(valveDrop)
	// valve is the flow out of the rod side.
	valve := func(p float64) float64 { return gain * (p - lowPressure) / math.Sqrt(math.Abs(p-lowPressure)+1e4) }
	rate := func(s [4]float64, n float64) [4]float64 {
		v, p, low := s[1], s[2], s[3]
		return [4]float64{
			v, (areaCap*p - areaRod*low - viscous*v - 20e3) / mass,
			(displacement*n - areaCap*v - leakage*(p-low)) / compliance,
			(areaRod*v - displacement*n + leakage*(p-low) - valve(low)) / compliance,
		}
	}
	bias := sign * 60
	n, target, until := bias, bias, 0.0
	s := [4]float64{0.2, displacement * bias / areaCap, 20e3/areaCap + lowPressure*areaRod/areaCap, lowPressure}
	var theta float64
	var angles, xs, caps, rods []float64
	for i := 0; ; i++ {
		t := float64(i) * fine
		angles, xs = append(angles, theta), append(xs, s[0])
		caps, rods = append(caps, s[2]), append(rods, s[3])
		if t > samples*period+0.1 {
			break
		}
		if t >= until {
			target, until = bias*(1+0.35*math.Copysign(1, rng.Float64()-0.5)), t+0.05+0.1*rng.Float64()
		}
		next := target + (n-target)*math.Exp(-fine/5e-3)
		mid := (n + next) / 2
		k1 := rate(s, n)
		k2 := rate(along(s, k1, fine/2), mid)
		k3 := rate(along(s, k2, fine/2), mid)
		k4 := rate(along(s, k3, fine), next)
		for j := range s {
			s[j] += fine / 6 * (k1[j] + 2*k2[j] + 2*k3[j] + k4[j])
		}
		theta += fine * mid
		n = next
	}
	out := outputerror.Stretch{Log: "plain", Period: period}
	back := func(y []float64, i int, delay float64) float64 { return y[i-int(math.Round(delay/fine))] }
	for i := 1000; len(out.Angle) < samples; i += int(math.Round(period / fine)) {
		out.Angle = append(out.Angle, angles[i])
		out.Position = append(out.Position, back(xs, i, positionDelay))
		out.Cap, out.Rod = append(out.Cap, back(caps, i, pressureLag)), append(out.Rod, back(rods, i, pressureLag))
	}
	return out
}

func along(s, k [4]float64, h float64) [4]float64 {
	for j := range s {
		s[j] += h * k[j]
	}
	return s
}

// plainProblem starts from oil a fifth too soft and half of the friction.
func plainProblem(n int) outputerror.Problem {
	oil := plant.Oil{Fixed: 1.2 * compliance, Modulus: 1e15}
	m := plant.Model{
		Area: plant.PerChamber[float64]{Cap: areaCap, Rod: areaRod}, Stroke: 0.5, Displacement: displacement, Leakage: leakage,
		Oil: plant.PerChamber[plant.Oil]{Cap: oil, Rod: oil}, LowPressure: lowPressure, Mass: mass, Viscous: viscous / 2,
		AxialLoad: -20e3, TransducerDelay: 1e-3, PressureLag: 1e-3,
	}
	p := outputerror.Problem{Model: m, Chamber: plant.Cap, At: 0.5, Pressure: 100e5, TopSpeed: topSpeed}
	for i := range n {
		p.Stretches = append(p.Stretches, plainStretch([]float64{1, -1}[i%2], uint64(i)))
	}
	return p
}

// trueMode is the mode of the plain machine at slow travel, by hand:
//
//	ω = A/√(C·m),  ζ = (b + A_low²·R)/(2mω) + L/(2Cω),  R = dp/dq at 6 % of full speed
func trueMode() (omega, zeta float64) {
	omega = areaCap / math.Sqrt(compliance*mass)
	surplus := (areaCap - areaRod) * topSpeed * displacement / areaCap
	gain := surplus / math.Sqrt(valveDrop)
	drop := func(q float64) float64 { r := q / gain; return (r*r + r*math.Sqrt(r*r+4e4)) / 2 }
	q := 0.06 * surplus
	resistance := (drop(1.001*q) - drop(0.999*q)) / (0.002 * q)
	return omega, (viscous+areaRod*areaRod*resistance)/(2*mass*omega) + leakage/(2*compliance*omega)
}

// TestPlain: without noise the machine comes back but for the priors and for
// what sampling takes away: frequency to 0.5 %, damping to 5 %, delay to 0.1 ms.
func TestPlain(t *testing.T) {
	omega, zeta := trueMode()
	for _, blind := range []bool{false, true} {
		p := plainProblem(12)
		if blind {
			for i := range p.Stretches {
				p.Stretches[i].Cap, p.Stretches[i].Rod = nil, nil
			}
		}
		r, err := outputerror.Fit(p)
		if err != nil {
			t.Fatal(err)
		}
		if r.Ending != lsq.Converged || len(r.LeftOut) > 0 || len(r.AtBound) > 0 {
			t.Errorf("blind %v: %v, %d left out, at bounds %v; want converged, none, none", blind, r.Ending, len(r.LeftOut), r.AtBound)
		}
		for _, c := range []struct {
			name              string
			got, want, within float64
		}{
			{"frequency (rad/s)", r.Frequency.Value, omega, 0.005 * omega},
			{"damping", r.Damping.Value, zeta, 0.05 * zeta},
			{"delay (s)", r.Delay.Value, positionDelay, 1e-4},
		} {
			if !(math.Abs(c.got-c.want) <= c.within) {
				t.Errorf("blind %v: %s %.5g, want %.5g within %.2g", blind, c.name, c.got, c.want, c.within)
			}
		}
	}
}

// TestLeavesOut: a stretch in which something else moved the rod is named, and
// what is found is what the others give.
func TestLeavesOut(t *testing.T) {
	p := plainProblem(13)
	p.Tried, p.Stretches = p.Stretches[12:], p.Stretches[:12]
	clean, err := outputerror.Fit(p)
	if err != nil {
		t.Fatal(err)
	}
	if !(clean.After < clean.Before) || clean.After > 0.05 {
		t.Errorf("tried: %.3f left before, %.3f after; want less, and under 0.05", clean.Before, clean.After)
	}
	pushed := p.Stretches[5]
	pushed.Start = 42
	pushed.Position = append([]float64(nil), pushed.Position...)
	for i := 100; i < 300; i++ {
		pushed.Position[i] += 3e-3 * math.Pow(math.Sin(math.Pi*float64(i-100)/200), 2)
	}
	p.Stretches[5] = pushed
	r, err := outputerror.Fit(p)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.LeftOut) != 1 || r.LeftOut[0].Start != 42 || r.Used != 11 {
		t.Fatalf("left out %d, used %d; want the one that was pushed and 11", len(r.LeftOut), r.Used)
	}
	if d := math.Abs(r.Frequency.Value - clean.Frequency.Value); d > 0.002*clean.Frequency.Value {
		t.Errorf("frequency moved by %.2g rad/s", d)
	}
	if d := math.Abs(r.Damping.Value - clean.Damping.Value); d > 0.03*clean.Damping.Value {
		t.Errorf("damping moved by %.2g from %.3g", d, clean.Damping.Value)
	}
}

// TestRefuses: too few stretches and models without a resonance are errors, and
// what goes in stays as it was.
func TestRefuses(t *testing.T) {
	p := plainProblem(12)
	before := plainProblem(12)
	if _, err := outputerror.Fit(p); err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(p, before) {
		t.Error("the problem was changed")
	}
	few := p
	few.Stretches = p.Stretches[:7]
	massless := p
	massless.Model.Mass = 0
	for name, bad := range map[string]outputerror.Problem{"seven stretches": few, "no mass": massless, "nothing": {}} {
		if _, err := outputerror.Fit(bad); !errors.Is(err, outputerror.ErrTooLittle) {
			t.Errorf("%s: %v, want %v", name, err, outputerror.ErrTooLittle)
		}
	}
}
