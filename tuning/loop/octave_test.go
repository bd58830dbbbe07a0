package loop

import (
	"fmt"
	"math"
	"os/exec"
	"strings"
	"testing"
)

// Margins of a table of plants against GNU Octave's control package, function
// margin, and its closed-loop poles for stability (version as installed, 3.4.0
// when written): [gm, pm, w180, wc] = margin(tf(num, den)).
func TestAgainstOctave(t *testing.T) {
	if exec.Command("octave-cli", "--no-gui", "--eval", "pkg load control").Run() != nil {
		t.Skip("needs octave-cli with the control package")
	}
	// The servo with drive of second order and viscous friction, at several gains,
	// and textbook lags: numerator and denominator, highest power first.
	cases := []struct{ num, den string }{
		{"8", "conv([1 0], conv([1/100^2 0.2/100 1], [1/300^2 1.4/300 1]))"},
		{"15", "conv([1 0], conv([1/100^2 0.4/100 1], [1/200^2 1.6/200 1]))"},
		{"40", "conv([1 0], conv([1/60^2 0.1/60 1], [1/250^2 1.4/250 1]))"},
		{"6*[0.5 1]", "conv([1 0 0], [1/80^2 1.2/80 1])"},
		{"3", "conv([1 1], conv([0.5 1], [0.2 1]))"},
		{"20", "conv([1 0], conv([0.01 1], [1/40^2 0.8/40 1]))"},
	}
	script := "pkg load control\n"
	for _, c := range cases {
		script += fmt.Sprintf("g = tf(%s, %s); [gm, pm, w180, wc] = margin(g); p = pole(feedback(g, 1)); printf('%%.12g %%.12g %%.12g %%d|', gm, pm, wc, all(real(p) < 0)); [n, d] = tfdata(g, 'v'); printf('%%.15g ', n); printf('|'); printf('%%.15g ', d); printf('\\n');\n", c.num, c.den)
	}
	out, err := exec.Command("octave-cli", "--no-gui", "--eval", script).Output()
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	if len(lines) != len(cases) {
		t.Fatalf("%d answers for %d plants: %s", len(lines), len(cases), out)
	}
	for i, line := range lines {
		parts := strings.Split(line, "|")
		var gm, pm, wc float64
		var stable int
		if _, err := fmt.Sscan(parts[0], &gm, &pm, &wc, &stable); err != nil {
			t.Fatal(err)
		}
		g := Transfer{Gain: 1, Num: [][]float64{rising(t, parts[1])}, Den: [][]float64{rising(t, parts[2])}}
		got := Analyse(Loop{L: g.At, Integrators: originPoles(g)}, LogGrid(1e-3, 1e5, 3000))
		if got.Stable != (stable == 1) {
			t.Errorf("%v: stable %t, Octave's poles say %t", cases[i], got.Stable, stable == 1)
		}
		if got.Stable && (math.Abs(got.Gain/gm-1) > 1e-5 && !(math.IsInf(gm, 1) && math.IsInf(got.Gain, 1))) {
			t.Errorf("%v: gain margin %.8g, Octave %.8g", cases[i], got.Gain, gm)
		}
		if got.Stable && math.Abs(got.Phase*180/math.Pi-pm) > 1e-3 {
			t.Errorf("%v: phase margin %.6f deg at %.6g, Octave %.6f at %.6g", cases[i], got.Phase*180/math.Pi, got.PhaseFreq, pm, wc)
		}
	}
}

// rising reads Octave's coefficients, highest power first, as ours.
func rising(t *testing.T, text string) []float64 {
	t.Helper()
	var p []float64
	for _, field := range strings.Fields(text) {
		var v float64
		if _, err := fmt.Sscan(field, &v); err != nil {
			t.Fatal(err)
		}
		p = append([]float64{v}, p...)
	}
	return p
}
