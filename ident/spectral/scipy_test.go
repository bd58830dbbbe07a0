package spectral

import (
	"bytes"
	"encoding/json"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"os/exec"
	"testing"
)

// scipyResponse averages with scipy.signal.csd: the ratio of cross-spectra with
// the instrument, and the ordinary coherence.
const scipyResponse = `
import json, sys
import numpy as np
from scipy import signal
q = json.load(sys.stdin)
r, u, y = (np.array(q[k]) for k in "ruy")
how = dict(fs=1/q["T"], window="hann", nperseg=q["n"], noverlap=q["n"]//2, detrend="linear")
cross = lambda a, b: signal.csd(a, b, **how)[1]
h = cross(r, y)/cross(r, u)
direct = cross(u, y)/cross(u, u)
coherence = signal.coherence(u, y, **how)[1]
json.dump({"re": list(h.real), "im": list(h.imag), "dre": list(direct.real), "dim": list(direct.imag), "coherence": list(coherence)}, sys.stdout)
`

// TestAgainstSciPy: the same estimate by another program, in closed loop with the
// reference as instrument and directly, to rounding.
func TestAgainstSciPy(t *testing.T) {
	const python = "/usr/bin/python3"
	if exec.Command(python, "-c", "import scipy.signal").Run() != nil {
		t.Skip("needs python3 with scipy at " + python)
	}
	const n, period = 256, 1e-3
	rng := rand.New(rand.NewPCG(11, 12))
	var r, u, y []float64
	state := 0.0
	for range 20 * n {
		ref := rng.NormFloat64()
		in := ref - 0.3*state
		state = 0.9*state + 0.2*in
		r, u, y = append(r, ref), append(u, in), append(y, state+0.1*rng.NormFloat64())
	}
	ask, err := json.Marshal(map[string]any{"r": r, "u": u, "y": y, "n": n, "T": period})
	if err != nil {
		t.Fatal(err)
	}
	command := exec.Command(python, "-c", scipyResponse)
	command.Stdin = bytes.NewReader(ask)
	out, err := command.Output()
	if err != nil {
		t.Fatal(err)
	}
	var want struct{ Re, Im, DRe, DIm, Coherence []float64 }
	if err := json.Unmarshal(out, &want); err != nil {
		t.Fatal(err)
	}
	a := NewAverager(n, period, 3)
	a.Add(r, u, y)
	b := NewAverager(n, period, 2)
	b.Add(u, y)
	instrumented, err1 := a.Between(1, 2)
	direct, err2 := b.Between(0, 1)
	if err1 != nil || err2 != nil {
		t.Fatal(err1, err2)
	}
	for k := 1; k < n/2; k++ {
		near := func(what string, got, want complex128) {
			if cmplx.Abs(got-want) > 1e-9*cmplx.Abs(want) {
				t.Errorf("%s, line %d: %v, SciPy has %v", what, k, got, want)
			}
		}
		near("instrumented", instrumented.H[k], complex(want.Re[k], want.Im[k]))
		near("direct", direct.H[k], complex(want.DRe[k], want.DIm[k]))
		if math.Abs(direct.Coherence[k]-want.Coherence[k]) > 1e-9 {
			t.Errorf("coherence, line %d: %g, SciPy has %g", k, direct.Coherence[k], want.Coherence[k])
		}
	}
}
