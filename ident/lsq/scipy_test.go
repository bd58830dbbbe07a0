package lsq

import (
	"bytes"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os/exec"
	"testing"
)

// scipyFits solves the same weighted straight line with scipy.linalg.lstsq and the
// same decaying sine with scipy.optimize.curve_fit.
const scipyFits = `
import json, sys
import numpy as np
from scipy import linalg, optimize
q = json.load(sys.stdin)
t, y, w = (np.array(q[k]) for k in "tyw")
a = np.column_stack([np.ones_like(t), t, t*t])
x = linalg.lstsq(a*w[:, None], y*w)[0]
r = (y - a @ x)*w
s2 = r @ r/(len(t) - 3)
dev = np.sqrt(np.diag(s2*linalg.inv((a*w[:, None]).T @ (a*w[:, None]))))
sine = lambda t, size, decay, omega, phase: size*np.exp(-decay*t)*np.sin(omega*t + phase)
p, cov = optimize.curve_fit(sine, t, y, p0=q["start"], ftol=1e-14, xtol=1e-14, gtol=1e-14)
json.dump({"line": list(x), "line_dev": list(dev), "sine": list(p), "sine_dev": list(np.sqrt(np.diag(cov)))}, sys.stdout)
`

// TestAgainstSciPy: both solvers and their standard deviations by another program.
// Derivatives by differences leave deviations good to five digits.
func TestAgainstSciPy(t *testing.T) {
	const python = "/usr/bin/python3"
	if exec.Command(python, "-c", "import scipy.optimize").Run() != nil {
		t.Skip("needs python3 with scipy at " + python)
	}
	rng := rand.New(rand.NewPCG(5, 8))
	const rows = 200
	var at, y, w []float64
	for i := range rows {
		s := float64(i) / 100
		at = append(at, s)
		y = append(y, 3*math.Exp(-0.8*s)*math.Sin(9*s+0.4)+0.1*rng.NormFloat64())
		w = append(w, 1+s)
	}
	start := []float64{2, 0.5, 8.5, 0.2}
	ask, err := json.Marshal(map[string]any{"t": at, "y": y, "w": w, "start": start})
	if err != nil {
		t.Fatal(err)
	}
	command := exec.Command(python, "-c", scipyFits)
	command.Stdin = bytes.NewReader(ask)
	out, err := command.Output()
	if err != nil {
		t.Fatal(err)
	}
	var want struct {
		Line, Sine []float64
		LineDev    []float64 `json:"line_dev"`
		SineDev    []float64 `json:"sine_dev"`
	}
	if err := json.Unmarshal(out, &want); err != nil {
		t.Fatal(err)
	}

	p := Linear{Columns: [][]float64{make([]float64, rows), at, make([]float64, rows)}, Y: y, Weights: w}
	for i, s := range at {
		p.Columns[0][i], p.Columns[2][i] = 1, s*s
	}
	line, err := p.Solve()
	if err != nil {
		t.Fatal(err)
	}
	sine := Nonlinear{Rows: rows, Start: start, Residuals: func(dst, x []float64) {
		for i, s := range at {
			dst[i] = x[0]*math.Exp(-x[1]*s)*math.Sin(x[2]*s+x[3]) - y[i]
		}
	}}.Minimise()
	if sine.Ending != Converged {
		t.Errorf("ended %s", sine.Ending)
	}
	near := func(what string, k int, got, want, limit float64) {
		if math.Abs(got-want) > limit*math.Abs(want) {
			t.Errorf("%s %d: %.10g, SciPy has %.10g", what, k, got, want)
		}
	}
	for k := range want.Line {
		near("line", k, line.X[k], want.Line[k], 1e-9)
		near("line's deviation", k, line.StdDev(k), want.LineDev[k], 1e-9)
	}
	for k := range want.Sine {
		near("sine", k, sine.X[k], want.Sine[k], 1e-6)
		near("sine's deviation", k, sine.StdDev(k), want.SineDev[k], 1e-5)
	}
	if len(want.Line) != 3 || len(want.Sine) != 4 {
		t.Errorf("SciPy gave %+v", want)
	}
}
