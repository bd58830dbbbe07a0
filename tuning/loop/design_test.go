package loop

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
)

func sample(r Response, grid []float64) []complex128 {
	g := make([]complex128, len(grid))
	for i, omega := range grid {
		g[i] = r(omega)
	}
	return g
}

// noTargets leaves only stability: the limit gain is the ultimate gain.
var noTargets = law.Targets{SensitivityPeak: 1e6, GainMargin: 1, PhaseMargin: 1e-9}

// Ultimate gains: exact by Routh or by the root of tan w = -w, computed for the rest.
func TestUltimateGain(t *testing.T) {
	for _, tc := range []struct {
		name   string
		g      Transfer
		ku, wu float64
	}{
		{"1/(s+1)^3", Transfer{Gain: 1, Den: lags(1, 1, 1)}, 8, math.Sqrt(3)},
		{"1/(s+1)^4", Transfer{Gain: 1, Den: lags(1, 1, 1, 1)}, 4, 1},
		{"1/(s(s+1)^2)", Transfer{Gain: 1, Den: append(lags(1, 1), s)}, 2, 1},
		{"1/(s(s+1)(s+2))", Transfer{Gain: 0.5, Den: append(lags(1, 0.5), s)}, 6, math.Sqrt2},
		{"1/(s(s+1)(s+5))", Transfer{Gain: 0.2, Den: append(lags(1, 0.2), s)}, 30, math.Sqrt(5)},
		{"four lags", Transfer{Gain: 1, Den: lags(1, 0.2, 0.04, 0.008)}, 30.24, 11.18034},
		{"e^-s/s", Transfer{Gain: 1, Den: [][]float64{s}, Delay: 1}, math.Pi / 2, math.Pi / 2},
		{"e^-s/(s+1)", Transfer{Gain: 1, Den: lags(1), Delay: 1}, 2.261826, 2.028758},
		{"e^-s/(10s+1)", Transfer{Gain: 1, Den: lags(10), Delay: 1}, 16.35055, 1.631995},
	} {
		t.Run(tc.name, func(t *testing.T) {
			grid := LogGrid(1e-3, 1e3, 20000)
			k, at := MaxGain(grid, sample(tc.g.At, grid), noTargets)
			if math.Abs(k/tc.ku-1) > 1e-3 || math.Abs(at/tc.wu-1) > 1e-3 { // one step of the grid is 7e-4
				t.Errorf("ultimate gain %.4f at %.4f rad/s, want %.4f at %.4f", k, at, tc.ku, tc.wu)
			}
			m := Analyse(Loop{L: Response(tc.g.At), Integrators: originPoles(tc.g)}, LogGrid(1e-3, 1e3, 500))
			if math.Abs(m.Gain/tc.ku-1) > 1e-5 || math.Abs(m.GainFreq/tc.wu-1) > 1e-5 {
				t.Errorf("gain margin %.6f at %.6f rad/s, want %.6f at %.6f", m.Gain, m.GainFreq, tc.ku, tc.wu)
			}
		})
	}
}

// axisOf returns an axis whose position response with a gain of one is
// 1/(s (s²/wh² + 2 zeta s/wh + 1)) behind a drive of two equal real poles or none.
func axisOf(zeta, wh float64) Axis {
	// A = D = 1: C m = 1/wh², with b = 0 the damping is L sqrt(m/C)/2 -> L = 2 zeta C wh.
	c := 1 / wh
	return Axis{Displacement: 1, Area: 1, Mass: 1 / wh, Compliance: c, Leakage: 2 * zeta * c * wh, Omega: 1e7, Zeta: 1}
}

// The largest gains of integrator and resonance with drive lag and delay, computed
// (tolerance 0.5 %): more lag can raise the limit.
func TestLagCanRaiseTheLimit(t *testing.T) {
	for _, tc := range []struct{ wh, zeta, lag, delay, kv, opposite float64 }{
		{100, 0.1, 0, 0, 20, 100}, {100, 0.1, 5e-3, 0, 22.314, 95.346},
		{100, 0.1, 5e-3, 4e-3, 25.445, 90.475}, {62.832, 0.2, 8e-3, 4e-3, 25.357, 54.371},
	} {
		t.Run(fmt.Sprint(tc.lag, tc.delay), func(t *testing.T) {
			a := axisOf(tc.zeta, tc.wh)
			extra := Transfer{Gain: 1, Den: lags(tc.lag), Delay: tc.delay}
			g := func(omega float64) complex128 {
				v, _ := a.At(omega)
				return v / complex(0, omega) * extra.At(omega)
			}
			grid := ModeGrid(1, 1e4, tc.wh, Fine)
			k, _ := MaxGain(grid, sample(g, grid), noTargets)
			m := Analyse(Loop{L: g, Integrators: 1}, grid)
			if math.Abs(m.Gain/tc.kv-1) > 0.005 || math.Abs(m.GainFreq/tc.opposite-1) > 0.005 || math.Abs(k/tc.kv-1) > 0.01 {
				t.Errorf("limit %.3f (in one pass %.3f) at %.3f rad/s, want %.3f at %.3f", m.Gain, k, m.GainFreq, tc.kv, tc.opposite)
			}
		})
	}
}

// PI settings with the largest integral gain under a sensitivity limit: K. J. Åström,
// H. Panagopoulos and T. Hägglund, "Design of PI controllers based on non-convex
// optimization", Automatica 34(5), 1998, pp. 585-601 (partly values from memory), all
// computed by another solver. Each lies on the edge of what the limit permits, so at
// its ratio of ki to k the largest permitted gain is k itself: 0.5 %.
func TestOptimalPISettingsLieOnTheEdge(t *testing.T) {
	type answer struct{ ms, k, ki, ti float64 }
	for _, tc := range []struct {
		name string
		g    Transfer
		want []answer
	}{
		{"1/(s+1)^3", Transfer{Gain: 1, Den: lags(1, 1, 1)}, []answer{{1.4, 0.6333, 0.32532, 1.947}, {1.6, 0.8607, 0.46088, 1.867}, {1.7, 0.9635, 0.52237, 1.845}, {2, 1.2235, 0.68520, 1.786}}},
		{"four lags", Transfer{Gain: 1, Den: lags(1, 0.2, 0.04, 0.008)}, []answer{{1.4, 1.9270, 2.5854, 0.745}, {1.6, 2.7384, 4.0779, 0.672}, {1.7, 3.1151, 4.8238, 0.646}, {2, 4.1280, 6.9916, 0.590}}},
		{"e^-15s/(s+1)^3", Transfer{Gain: 1, Den: lags(1, 1, 1), Delay: 15}, []answer{{1.4, 0.1641, 0.02662, 6.162}, {1.6, 0.2082, 0.03546, 5.872}, {1.7, 0.2254, 0.03917, 5.755}, {2, 0.2659, 0.04820, 5.517}}},
		{"1/(s(s+1)^2)", Transfer{Gain: 1, Den: append(lags(1, 1), s)}, []answer{{1.4, 0.1666, 0.01190, 13.99}, {1.6, 0.2307, 0.02163, 10.67}, {1.7, 0.2591, 0.02669, 9.707}, {2, 0.3334, 0.04167, 8.002}}},
		{"(1-2s)/(s+1)^3", Transfer{Gain: 1, Num: lags(-2), Den: lags(1, 1, 1)}, []answer{{1.4, 0.1785, 0.10063, 1.774}, {1.6, 0.2279, 0.13466, 1.693}, {1.7, 0.2477, 0.14902, 1.662}, {2, 0.2941, 0.18430, 1.596}}},
		{"e^-s/(s+1)", Transfer{Gain: 1, Den: lags(1), Delay: 1}, []answer{{1.4, 0.3600, 0.37304, 0.965}, {1.6, 0.4633, 0.50890, 0.910}, {1.7, 0.5061, 0.56746, 0.892}, {2, 0.6030, 0.71427, 0.844}}},
		{"e^-s/s", Transfer{Gain: 1, Den: [][]float64{s}, Delay: 1}, []answer{{1.4, 0.2821, 0.04183, 6.744}, {1.6, 0.3688, 0.07265, 5.077}, {1.7, 0.4040, 0.08789, 4.597}, {2, 0.4884, 0.13066, 3.738}}},
		{"1/(s+1)^4", Transfer{Gain: 1, Den: lags(1, 1, 1, 1)}, []answer{{1.4, 0.4323, 0.19197, 2.252}, {1.6, 0.5712, 0.26470, 2.158}, {1.7, 0.6316, 0.29656, 2.130}, {2, 0.7747, 0.37788, 2.050}}},
		{"e^-s/(s+1)^2", Transfer{Gain: 1, Den: lags(1, 1), Delay: 1}, []answer{{1.4, 0.3683, 0.23985, 1.535}, {1.6, 0.4805, 0.32792, 1.465}, {1.7, 0.5250, 0.36605, 1.434}, {2, 0.6360, 0.46212, 1.376}}},
	} {
		grid := LogGrid(1e-3, 1e3, 4000)
		for _, want := range tc.want {
			t.Run(fmt.Sprint(tc.name, " Ms ", want.ms), func(t *testing.T) {
				pi := func(omega float64) complex128 { return tc.g.At(omega) * complex(1, -1/(want.ti*omega)) }
				only := law.Targets{SensitivityPeak: want.ms, GainMargin: 1, PhaseMargin: 1e-9}
				permitted := PermittedGains(grid, sample(pi, grid), originPoles(tc.g)+1, only)
				if len(permitted) == 0 {
					t.Fatal("no gain is permitted")
				}
				if k := permitted[len(permitted)-1].High; math.Abs(k/want.k-1) > 0.005 {
					t.Errorf("permitted up to k %.4f, want %.4f", k, want.k)
				}
				l := Loop{L: Response(pi).Times(want.k), Integrators: originPoles(tc.g) + 1}
				if m := Analyse(l, grid); !m.Stable || math.Abs(m.Sensitivity/want.ms-1) > 0.002 || math.Abs(want.k/want.ti/want.ki-1) > 0.002 {
					t.Errorf("stable %t, Ms %.4f, ki %.5f; want Ms %.4f, ki %.5f", m.Stable, m.Sensitivity, want.k/want.ti, want.ms, want.ki)
				}
			})
		}
	}
}

// Margins of two of those settings (computed).
func TestMarginsOfPISettings(t *testing.T) {
	check(t, analyse(seriesPID(Transfer{Gain: 1, Den: lags(1, 1, 1)}, 0.6333, 0.6333/0.32532, 0)), 1.4, 6.721, 67.84, limits{0.002, 0.002, 0.1})
	check(t, analyse(seriesPID(Transfer{Gain: 1, Den: lags(1, 1, 1)}, 1.2235, 1.2235/0.6852, 0)), 2.0, 3.247, 42.05, limits{0.002, 0.002, 0.1})
	check(t, analyse(seriesPID(Transfer{Gain: 1, Den: lags(1), Delay: 1}, 0.36, 0.36/0.37304, 0)), 1.4, 4.272, 68.06, limits{0.002, 0.002, 0.1})
	check(t, analyse(seriesPID(Transfer{Gain: 1, Den: lags(1), Delay: 1}, 0.603, 0.603/0.71427, 0)), 2.0, 2.330, 46.62, limits{0.002, 0.002, 0.1})
}

// A sensitivity peak guarantees gain and phase (identity): gm >= Ms/(Ms-1), pm >= 2 asin(1/(2 Ms)).
// And the one-pass gain holds every target on the loop analysed afterwards.
func TestOnePassGainKeepsTheTargets(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	targets := law.Targets{SensitivityPeak: 1.5, GainMargin: math.Pow(10, 9./20), PhaseMargin: math.Pi / 4}
	for range 200 {
		a := Axis{Displacement: 1e-6, Area: 3e-3, Low: 2e-3, Mass: 50 + 900*rng.Float64(), Viscous: 3000 * rng.Float64(),
			Compliance: 2e-13 + 2e-12*rng.Float64(), Leakage: 5e-12 * rng.Float64(), Resistance: 3e8 * rng.Float64(),
			Omega: 150 + 400*rng.Float64(), Zeta: 0.5 + 0.5*rng.Float64(), LoadAccel: 5e-4 * rng.Float64()}
		hold := Sampled{Period: 1e-3, Delay: 5e-3 * rng.Float64()}
		corner := 200 * rng.Float64()
		g := func(omega float64) complex128 {
			v, _ := a.At(omega)
			return v / complex(0, omega) * hold.At(omega) * hold.Lowpass(corner, omega)
		}
		grid := ModeGrid(0.1, math.Pi/hold.Period, a.Natural(), Fine)
		k, _ := MaxGain(grid, sample(g, grid), targets)
		m := Analyse(Loop{L: Response(g).Times(k), Integrators: 1}, grid)
		if !m.Stable || m.Sensitivity > 1.5*1.015 || m.Gain < targets.GainMargin*0.985 || m.Phase < targets.PhaseMargin-0.015 {
			t.Fatalf("axis %+v: k %g gives %+v", a, k, m)
		}
		if m.Gain < m.Sensitivity/(m.Sensitivity-1)-1e-6 || m.Phase < 2*math.Asin(1/(2*m.Sensitivity))-1e-6 {
			t.Fatalf("margins %+v break what the sensitivity peak guarantees", m)
		}
		tight := max(m.Sensitivity/1.5, targets.GainMargin/m.Gain, targets.PhaseMargin/m.Phase)
		if tight < 0.98 {
			t.Fatalf("no target is met closely: %+v", m)
		}
	}
}

// A loop of two integrators and a lead needs a least gain: the permitted gains
// are one interval that begins above zero and ends below infinity with a delay.
func TestPermittedGainsNeedNotBeginAtZero(t *testing.T) {
	g := Transfer{Gain: 1, Num: lags(5), Den: [][]float64{s, s}, Delay: 0.1}
	grid := LogGrid(1e-3, 1e3, 3000)
	targets := law.Targets{SensitivityPeak: 1.7, GainMargin: 2, PhaseMargin: math.Pi / 6}
	permitted := PermittedGains(grid, sample(g.At, grid), 2, targets)
	if len(permitted) != 1 || permitted[0].Low < 0.01 {
		t.Fatalf("permitted gains %v, want one interval above zero", permitted)
	}
	for _, tc := range []struct {
		k    float64
		want bool
	}{{permitted[0].Low * 0.98, false}, {permitted[0].Low * 1.02, true}, {permitted[0].High * 0.98, true}, {permitted[0].High * 1.02, false}} {
		m := Analyse(Loop{L: Response(g.At).Times(tc.k), Integrators: 2}, grid)
		if holds := m.Stable && m.Sensitivity <= 1.7 && m.Gain >= 2 && m.Phase >= math.Pi/6; holds != tc.want {
			t.Errorf("k %g: targets hold %t, want %t: %+v", tc.k, holds, tc.want, m)
		}
	}
}

// The axis' mode against the closed form of the single active chamber (H. E.
// Merritt, value from memory): w = 141.49205 rad/s, zeta = 0.0318039 computed as
// eigenvalue for beta 1e9, A 2e-3, V 4e-4, m 500, C 2e-12, b 2000.
func TestAxisMode(t *testing.T) {
	m := plant.Model{Area: plant.PerChamber[float64]{Cap: 2e-3, Rod: 2e-3}, Stroke: 0.2, Displacement: 1e-6, Leakage: 2e-12, Mass: 500, Viscous: 2000}
	m.Oil = plant.PerChamber[plant.Oil]{Cap: plant.Oil{Modulus: 1e9}, Rod: plant.Oil{Modulus: 1e9}}
	m.Drive.NaturalFreq, m.Drive.Damping = 1e9, 1
	a := NewAxis(&m, Place{Position: 0.2, MassFactor: 1})
	den := func(omega float64) complex128 { v, _ := a.At(omega); return complex(m.Displacement/2e-3, 0) / v }
	// den = (m C s² + (m L + b C) s + b L + A²)/A² read off at one frequency.
	const w, zeta = 141.49205, 0.0318039
	at := den(w)
	if math.Abs(real(at)) > 1e-6 || math.Abs(imag(at)/(2*zeta)*a.Natural()*a.Natural()/(w*w)-1) > 1e-4 {
		t.Errorf("denominator at the mode %v, want %gj", at, 2*zeta*w*w/(a.Natural()*a.Natural()))
	}
	if math.Abs(a.Natural()-math.Sqrt(1e9*4e-6/(4e-4*500))) > 1e-9 {
		t.Errorf("natural frequency %g", a.Natural())
	}
}

// The law's filter against its definition run on a sampled sine.
func TestSampledLowpass(t *testing.T) {
	hold := Sampled{Period: 1e-3}
	f := law.NewLowpass(200, 1e-3)
	const omega = 300.0
	var sum complex128
	const n = 100000
	for i := range n {
		phase := cmplx.Exp(complex(0, omega*float64(i)*1e-3))
		if y := f.Next(real(phase)); i >= n/2 {
			sum += complex(y, 0) * cmplx.Conj(phase) * 2 / (n / 2)
		}
	}
	if got := hold.Lowpass(200, omega); cmplx.Abs(got-sum) > 1e-3 {
		t.Errorf("response %v, by running the filter %v", got, sum)
	}
}

func BenchmarkMaxGain(b *testing.B) {
	a := axisOf(0.1, 100)
	grid := ModeGrid(1, 3000, 100, Fine)
	hold := Sampled{Period: 1e-3, Delay: 3e-3}
	targets := law.Targets{SensitivityPeak: 1.5, GainMargin: 2.8, PhaseMargin: math.Pi / 4}
	for b.Loop() {
		g := sample(func(omega float64) complex128 {
			v, _ := a.At(omega)
			return v / complex(0, omega) * hold.At(omega)
		}, grid)
		MaxGain(grid, g, targets)
	}
}

func BenchmarkAnalyse(b *testing.B) {
	a := axisOf(0.1, 100)
	grid := ModeGrid(1, 3000, 100, Fine)
	hold := Sampled{Period: 1e-3, Delay: 3e-3}
	l := func(omega float64) complex128 {
		v, _ := a.At(omega)
		return 5 * v / complex(0, omega) * hold.At(omega)
	}
	for b.Loop() {
		Analyse(Loop{L: l, Integrators: 1}, grid)
	}
}
