package sim

import (
	"bytes"
	"encoding/json"
	"math"
	"os/exec"
	"testing"

	"eha/strokewise/ident/plant"
)

// scipyStep integrates the equations of the machine, drive without limit and
// without Coulomb friction, with SciPy's solve_ivp between the controller's
// samples. Delays are whole periods.
const scipyStep = `
import json, sys
import numpy as np
from scipy.integrate import solve_ivp
q = json.load(sys.stdin)
pa, n_poly = 101325.0, 1.4
def compliance(cap, x, p):
    o = q["cap"] if cap else q["rod"]
    swept = q["A1"]*x if cap else q["A2"]*(q["L"]-x)
    a = p + pa
    g = (pa/a)**(1/n_poly)/(n_poly*a)
    return o[0] + swept/o[1] + o[2]*(o[3]+swept)*g
F0 = (q["A1"]-q["A2"])*q["pr"]
def rhs(t, y, u):
    x, v, F, n, z = y
    cap = F > F0
    A, B = (q["A1"], q["A2"]) if cap else (q["A2"], q["A1"])
    s = (F-F0)/A
    w = q["w"]
    load = q["load"]
    contact = -q["k"]*(x-q["xc"]) if x > q["xc"] else 0.0
    dv = (F - B*q["R"]*(B*v - q["D"]*n) + load + contact - q["b"]*v)/q["m"]
    dF = A/compliance(cap, x, q["pr"]+abs(s))*(q["D"]*n - q["C"]*s - A*v)
    return [v, dv, dF, w*z - 2*q["zeta"]*w*n - q["kappa"]*s, w*(u-n)]
x0 = q["x0"]
y = np.array([x0, 0, -q["load"] + (q["k"]*(x0-q["xc"]) if x0 > q["xc"] else 0), 0, 0])
T, xs, us = q["T"], [], []
for i in range(q["N"]):
    xs.append(y[0])
    seen = xs[max(i-q["dx"], 0)]
    ref = x0 if i*T < q["at"]-1e-9 else q["x1"]
    us.append(np.clip(q["kp"]*(ref-seen)*q["turns"], -q["limit"], q["limit"]))
    u = us[i-q["du"]] if i >= q["du"] else 0.0
    y = solve_ivp(rhs, (0, T), y, args=(u,), rtol=1e-7, atol=1e-10, max_step=T/4).y[:, -1]
xs.append(y[0])
json.dump(xs, sys.stdout)
`

func TestAgainstSciPy(t *testing.T) {
	const python = "/usr/bin/python3"
	if exec.Command(python, "-c", "import scipy").Run() != nil {
		t.Skip("needs python3 with scipy at " + python)
	}
	cases := map[string]struct {
		change func(*plant.Model)
		from   float64
		to     float64
		usual  float64
	}{
		"loaded step":            {func(*plant.Model) {}, 0.14, 0.15, 0.005},
		"chamber changes":        {func(m *plant.Model) { m.AxialLoad = 200 }, 0.15, 0.13, 0.025},
		"pressing on the spring": {func(m *plant.Model) { m.Contact = &plant.Contact{Position: 0.145, Stiffness: 5e6} }, 0.14, 0.147, 0.005},
	}
	for name, tc := range cases {
		t.Run(name, func(t *testing.T) {
			m := press()
			m.Coulomb, m.Drive.AccelLimit, m.PressureLag = plant.PerDirection[float64]{}, 0, 0
			m.TransducerDelay, m.OuterDelay, m.Drive.DeadTime = 1e-3, 1e-3, 2e-3
			tc.change(&m)
			loops := settings(&m, 14)
			const at, duration = 0.3, 1.2
			e := Experiment{Model: &m, MassFactor: 1, Loops: loops, Start: tc.from, Duration: duration, Demand: StepAt(at, tc.from, tc.to)}
			usual, fine := Do(e).Position, do(e, 40).Position
			want := runSciPy(t, python, m, map[string]any{"x0": tc.from, "x1": tc.to, "at": at, "N": len(usual) - 1, "kp": 14, "turns": loops.Position.Turns.Extend, "limit": loops.Position.SpeedLimit})
			// The usual step costs up to 2 % of the demand where the chamber changes, 0.5 %
			// elsewhere; a step ten times finer shows that the equations are the same.
			for _, c := range []struct {
				what  string
				got   []float64
				limit float64
			}{{"usual step", usual, tc.usual}, {"fine step", fine, 0.003}} {
				if worst := apart(c.got, want) / math.Abs(tc.to-tc.from); worst > c.limit {
					t.Errorf("%s: positions differ by up to %.3g of the demand, want below %.3g", c.what, worst, c.limit)
				}
			}
		})
	}
}

func apart(a, b []float64) float64 {
	worst := 0.0
	for i := range a {
		worst = math.Max(worst, math.Abs(a[i]-b[i]))
	}
	return worst
}

func runSciPy(t *testing.T, python string, m plant.Model, q map[string]any) []float64 {
	t.Helper()
	oil := func(o plant.Oil) []float64 { return []float64{o.Fixed, o.Modulus, o.Air, o.AirVolume} }
	k, xc := 0.0, 1e9
	if m.Contact != nil {
		k, xc = m.Contact.Stiffness, m.Contact.Position
	}
	for name, v := range map[string]any{
		"A1": m.Area.Cap, "A2": m.Area.Rod, "L": m.Stroke, "D": m.Displacement, "C": m.Leakage, "pr": m.LowPressure, "R": m.LowResistance,
		"m": m.Mass, "b": m.Viscous, "load": m.AxialLoad, "cap": oil(m.Oil.Cap), "rod": oil(m.Oil.Rod), "w": m.Drive.NaturalFreq, "zeta": m.Drive.Damping,
		"kappa": m.Drive.AccelPerPressure, "k": k, "xc": xc, "T": m.ControllerPeriod, "dx": 1, "du": 3,
	} {
		q[name] = v
	}
	in, err := json.Marshal(q)
	if err != nil {
		t.Fatal(err)
	}
	command := exec.Command(python, "-c", scipyStep)
	command.Stdin = bytes.NewReader(in)
	var complaint bytes.Buffer
	command.Stderr = &complaint
	out, err := command.Output()
	if err != nil {
		t.Fatalf("%v: %s", err, complaint.String())
	}
	var x []float64
	if err := json.Unmarshal(out, &x); err != nil {
		t.Fatal(err)
	}
	return x
}
