package sim

import (
	"bytes"
	"encoding/json"
	"math"
	"os/exec"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
)

// scipyPress integrates the equations of the machine pressing on a spring with SciPy's
// solve_ivp, the force law with its selection between the controller's samples: pressure sensors
// with their lag, no Coulomb friction, delays of whole periods.
const scipyPress = `
import json, sys
import numpy as np
from scipy.integrate import solve_ivp
q = json.load(sys.stdin)
s1 = q["sign"]
F0 = (q["A1"]-q["A2"])*q["pr"]
pa, n_poly = 101325.0, 1.4
def compliance(cap, x, p):
    o = q["cap"] if cap else q["rod"]
    swept = q["A1"]*x if cap else q["A2"]*(q["L"]-x)
    a = p + pa
    g = (pa/a)**(1/n_poly)/(n_poly*a)
    return o[0] + swept/o[1] + o[2]*(o[3]+swept)*g
def pressures(F, v, n):
    if F > F0:
        return q["pr"] + (F-F0)/q["A1"], q["pr"] + q["R"]*(q["A2"]*v - q["D"]*n)
    return q["pr"] - q["R"]*(q["A1"]*v - q["D"]*n), q["pr"] - (F-F0)/q["A2"]
def contact(x):
    depth = s1*(x - q["xc"])
    return -s1*q["k"]*depth if depth > 0 else 0.0
def rhs(t, y, u):
    x, v, F, n, z, c1, c2 = y
    cap = F > F0
    A, B = (q["A1"], q["A2"]) if cap else (q["A2"], q["A1"])
    s = (F-F0)/A
    w = q["w"]
    dv = (F - B*q["R"]*(B*v - q["D"]*n) + q["load"] + contact(x) - q["b"]*v)/q["m"]
    dF = A/compliance(cap, x, q["pr"]+abs(s))*(q["D"]*n - q["C"]*s - A*v)
    p1, p2 = pressures(F, v, n)
    return [v, dv, dF, w*z - 2*q["zeta"]*w*n - q["kappa"]*s, w*(u-n), (p1-c1)/q["lag"], (p2-c2)/q["lag"]]
x0 = q["x0"]
f0 = -q["load"] - contact(x0)
p1, p2 = pressures(f0, 0.0, 0.0)
y = np.array([x0, 0, f0, 0, 0, p1, p2])
T, fs, us, integral, low = q["T"], [], [], 0.0, p1*q["A1"] - p2*q["A2"]
share = 1 - np.exp(-q["corner"]*T)
xs = []
for i in range(q["N"]):
    t = i*T
    fs.append(y[2]); xs.append(y[0])
    seen = xs[max(i-q["dx"], 0)]
    npos = np.clip(q["kp"]*(q["x1"]-seen)*q["turns"], -q["limit"], q["limit"])
    low += share*(y[5]*q["A1"] - y[6]*q["A2"] - low)
    ref = s1*(q["f1"] if t < q["at"]-1e-9 else q["f2"])
    e = ref - low
    new = integral + q["ki"]*e*T
    n = q["kf"]*e + new
    if (n > q["flimit"] and e > 0) or (n < -q["flimit"] and e < 0):
        new = integral
    nf = np.clip(q["kf"]*e + new, -q["flimit"], q["flimit"])
    if s1*nf < s1*npos:
        integral = new
        us.append(nf)
    else:
        us.append(npos)
    u = us[i-q["du"]] if i >= q["du"] else 0.0
    y = solve_ivp(rhs, (0, T), y, args=(u,), rtol=1e-7, atol=1e-10, max_step=T/4).y[:, -1]
fs.append(y[2])
json.dump(fs, sys.stdout)
`

// Force by this simulation and by SciPy, pressing out and in, from the touch over
// a force step: a fine step shows that the equations are the same, the usual one what it costs.
func TestPressingAgainstSciPy(t *testing.T) {
	const python = "/usr/bin/python3"
	if exec.Command(python, "-c", "import scipy").Run() != nil {
		t.Skip("needs python3 with scipy at " + python)
	}
	for name, tc := range map[string]struct {
		presses plant.Direction
		corner  float64
	}{"pushing": {plant.Extend, 0}, "pulling": {plant.Retract, 0}, "with the low-pass": {plant.Extend, 60}} {
		t.Run(name, func(t *testing.T) {
			m := press()
			m.Coulomb, m.Breakaway, m.Drive.AccelLimit, m.PressureLag = plant.PerDirection[float64]{}, 0, 0, 2e-3
			m.TransducerDelay, m.OuterDelay, m.Drive.DeadTime = 1e-3, 1e-3, 2e-3
			sign := tc.presses.Sign()
			m.AxialLoad = -sign * 3000
			m.Contact = &plant.Contact{Presses: tc.presses, Position: 0.15, Stiffness: 1e7}
			loops := settings(&m, 14)
			loops.Force = &law.Force{Presses: tc.presses, Period: m.ControllerPeriod, Kp: 8e-4, Ki: 2e-3, Lowpass: tc.corner, SpeedLimit: 31}
			const at, duration, low, high = 0.7, 1.4, 8000.0, 14000.0
			from, to := 0.15-sign*2e-3, 0.15+sign*5e-3
			e := Experiment{Model: &m, MassFactor: 1, Loops: loops, Start: from, Duration: duration, All: true, Demand: func(t float64) law.Demand {
				f := low
				if t >= at-1e-9 {
					f = high
				}
				return law.Demand{Position: to, Force: sign * f}
			}}
			usual, fine := Do(e), do(e, 40)
			want := runScript(t, python, scipyPress, m, map[string]any{"sign": sign, "x0": from, "x1": to, "f1": low, "f2": high, "at": at,
				"N": len(usual.Force) - 1, "kp": 14, "turns": loops.Position.Turns.Extend, "limit": loops.Position.SpeedLimit,
				"kf": loops.Force.Kp, "ki": loops.Force.Ki, "flimit": loops.Force.SpeedLimit, "corner": cornerOf(tc.corner), "lag": m.PressureLag})
			for _, c := range []struct {
				what  string
				got   []float64
				limit float64
			}{{"usual step", usual.Force, 0.02}, {"fine step", fine.Force, 0.003}} {
				// In shares of the force step, over touch and step.
				if worst := apart(c.got, want) / (high - low); worst > c.limit {
					t.Errorf("%s: forces differ by up to %.3g of the step, want below %.3g", c.what, worst, c.limit)
				}
			}
			if last := want[len(want)-1]; math.Abs(last-sign*high) > 0.25*high { // it presses, and follows the step
				t.Errorf("SciPy ends at %.0f N, asked for %.0f N", last, sign*high)
			}
		})
	}
}

// cornerOf returns a corner so high that the filter passes all, where there is none.
func cornerOf(corner float64) float64 {
	if corner == 0 {
		return 1e6
	}
	return corner
}

// runScript hands the model and q to the script and returns the list that it prints.
func runScript(t *testing.T, python, script string, m plant.Model, q map[string]any) []float64 {
	t.Helper()
	oil := func(o plant.Oil) []float64 { return []float64{o.Fixed, o.Modulus, o.Air, o.AirVolume} }
	for name, v := range map[string]any{
		"A1": m.Area.Cap, "A2": m.Area.Rod, "L": m.Stroke, "D": m.Displacement, "C": m.Leakage, "pr": m.LowPressure, "R": m.LowResistance,
		"m": m.Mass, "b": m.Viscous, "load": m.AxialLoad, "cap": oil(m.Oil.Cap), "rod": oil(m.Oil.Rod), "w": m.Drive.NaturalFreq, "zeta": m.Drive.Damping,
		"kappa": m.Drive.AccelPerPressure, "k": m.Contact.Stiffness, "xc": m.Contact.Position, "T": m.ControllerPeriod, "dx": 1, "du": 3,
	} {
		q[name] = v
	}
	in, err := json.Marshal(q)
	if err != nil {
		t.Fatal(err)
	}
	command := exec.Command(python, "-c", script)
	command.Stdin = bytes.NewReader(in)
	var complaint bytes.Buffer
	command.Stderr = &complaint
	out, err := command.Output()
	if err != nil {
		t.Fatalf("%v: %s", err, complaint.String())
	}
	var list []float64
	if err := json.Unmarshal(out, &list); err != nil {
		t.Fatal(err)
	}
	return list
}
