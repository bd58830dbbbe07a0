package compare

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func close(got, want, within float64) bool { return math.Abs(got-want) <= within }

// Worked by hand: 0.005 <= 0.05/4 and 0.01 <= 0.05/3, but 0.03 > 0.05/2, and what
// follows a failure stands.
func TestHolmStopsAtTheFirstFailure(t *testing.T) {
	got := holm([]float64{0.01, 0.04, 0.03, 0.005}, 0.05)
	if want := []bool{true, false, false, true}; !slices.Equal(got, want) {
		t.Errorf("rejected %v, want %v", got, want)
	}
	if len(holm(nil, 0.05)) != 0 {
		t.Error("rejected something of nothing")
	}
}

// Values of scipy 1.10.1, ttest_ind([.30 .33 .28 .31 .35], [.41 .43 .40 .44 .42 .39],
// equal_var=False); the interval from its t.ppf and Welch's degrees of freedom.
func TestWelchAgreesWithScipy(t *testing.T) {
	none := make([]float64, 6)
	before := sampleOf([]float64{0.41, 0.43, 0.40, 0.44, 0.42, 0.39}, none)
	after := sampleOf([]float64{0.30, 0.33, 0.28, 0.31, 0.35}, none)
	size, sigma, freedom := welch(before, after)
	half := reach(freedom) * sigma
	const within = 1e-9 // figures of the reference are printed to ten digits
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"freedom", freedom, 6.94762045631}, {"t", size / sigma, -7.06564419537},
		{"p", 2 * tail(math.Abs(size)/sigma, freedom), 0.000206730057197},
		{"low", size - half, -0.134852899348}, {"high", size + half, -0.0671471006523},
	} {
		if !close(c.got, c.want, within) {
			t.Errorf("%s: %.10g, want %.10g", c.name, c.got, c.want)
		}
	}
}

// Reports of forty figures of which none changed, four repeats a side: any false
// better or worse in at most 5 % of them. Of 400 such reports 34 or more would come
// by chance once in a thousand.
func TestUnchangedFiguresAreLeftAlone(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	const reports, most = 400, 33
	wrong := 0
	for range reports {
		var m Move
		for k := range 40 {
			f := Figure(k % int(numFigures))
			var read [2][]readings
			for side := range read {
				for range 4 {
					var r readings
					// The scatter is as large as what counts as useful, so that size does not protect.
					r[f] = reading{1 + rng.NormFloat64()*f.useful(1, 1), 0, true}
					read[side] = append(read[side], r)
				}
			}
			d, _ := difference(f, read)
			m.Figures = append(m.Figures, d)
		}
		moves := []Move{m}
		judgeMoves(moves, Risk)
		for _, d := range moves[0].Figures {
			if d.Verdict == Better || d.Verdict == Worse {
				wrong++
				break
			}
		}
	}
	if wrong > most {
		t.Errorf("%d of %d reports with a false statement, at most %d", wrong, reports, most)
	}
}

// A difference exactly as large as what is useful may be called no difference in at
// most 5 % of the reports.
func TestUsefulDifferencesAreNotCalledNone(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	const reports, most = 400, 33
	wrong := 0
	for range reports {
		var read [2][]readings
		for side := range read {
			for range 5 {
				var r readings
				r[Overshoot] = reading{0.1 + float64(side)*0.02 + 0.004*rng.NormFloat64(), 0, true}
				read[side] = append(read[side], r)
			}
		}
		d, _ := difference(Overshoot, read)
		moves := []Move{{Figures: []Difference{d}}}
		judgeMoves(moves, Risk)
		if moves[0].Figures[0].Verdict == NoDifference {
			wrong++
		}
	}
	if wrong > most {
		t.Errorf("%d of %d useful differences called none, at most %d", wrong, reports, most)
	}
}
