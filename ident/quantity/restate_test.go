package quantity

import (
	"math"
	"testing"
)

func TestShown(t *testing.T) {
	for _, c := range []struct {
		symbol, inch string
		value, want  float64
	}{{"mm/rev", "in/rev", 2.54, 0.1}, {"Hz", "Hz", 48.3, 48.3}, {"ms", "ms", 1.5, 1.5}, {"GPa", "psi", 1, 145037.73773}, {"1", "1", 0.7, 0.7}, {"kN s/m", "lbf s/in", 1, 5.71014715473}} {
		unit, convert := Shown(c.symbol, Inch)
		if got := convert(c.value); unit != c.inch || math.Abs(got/c.want-1) > 1e-9 {
			t.Errorf("%g %s: %g %s, want %g %s", c.value, c.symbol, got, unit, c.want, c.inch)
		}
		if unit, convert := Shown(c.symbol, Metric); unit != c.symbol || convert(c.value) != c.value {
			t.Errorf("metric: %s became %s", c.symbol, unit)
		}
	}
}

// The factors are exact by definition: 1 in = 25.4 mm, 1 lb = 0.45359237 kg,
// 1 lbf = 4.4482216152605 N, 1 psi = 1 lbf/in².
func TestRestate(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"step 10 mm out", "step 0.394 in out"},
		{"between 0.5 and 3 mm.", "between 0.0197 and 0.118 in."},
		{"5 to 25.4 mm, then 254 mm/s", "0.197 to 1 in, then 10 in/s"},
		{"rod side, 242 mm, 767 kg, which asks", "rod side, 9.53 in, 1691 lb, which asks"},
		{"36 kN", "8093 lbf"},
		{"(-2.54 mm)", "(-0.1 in)"},
		{"160 bar", "2321 psi"},
		{"0.49949 rev/mm (2.00204 mm/rev)", "12.687 rev/in (0.0788205 in/rev)"},
		{"12 periods of 2 ms, 18.2 Hz and 20 degC", "12 periods of 2 ms, 18.2 Hz and 20 degC"},
		{"gain 10 (m/min)/mm, 12 rpm/mm, v1.5 mm, 3 mm/s²", "gain 10 (m/min)/mm, 12 rpm/mm, v1.5 mm, 3 mm/s²"},
		{"3 parameters and 5 mm", "3 parameters and 0.197 in"},
		{"25.4 mm 25.4 mm 25.4 mm", "1 in 1 in 1 in"},
		{"", ""},
	} {
		if got := Restate(c.text, Metric); got != c.text {
			t.Errorf("metric: %q became %q", c.text, got)
		}
		if got := Restate(c.text, Inch); got != c.want {
			t.Errorf("%q became %q, want %q", c.text, got, c.want)
		}
	}
}
