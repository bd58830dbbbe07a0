package trace

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Joint says how two recordings of one move were set on one clock: a sample of
// the second at its time t belongs to the first's time
//
//	t' = t + Offset + Drift·(t - Middle)
type Joint struct {
	On [2]Channel // the channels aligned, of the first and of the second recording

	Offset, OffsetLow, OffsetHigh float64 // s, at Middle, with 95 % interval
	// Drift as taken out, with 95 % interval; 0 to 0 where the overlap is too short to
	// tell. It is what the recordings show, drawn towards zero as far as its doubt
	// exceeds what clocks usually differ by.
	Drift, DriftLow, DriftHigh float64
	Middle                     float64 // s, on the second's clock
	Overlap                    float64 // s
	Likeness                   float64 // correlation of the aligned changes, 0 to 1
	Windows                    int     // stretches of motion that the interval comes from
}

// DriftTold reports whether the overlap was long enough to tell a drift of the clocks.
func (j *Joint) DriftTold() bool { return j.DriftLow < j.DriftHigh }

// AlignedOn names the channels aligned, as prose spells them.
func (j *Joint) AlignedOn() string {
	if j.On[0] == j.On[1] {
		return fmt.Sprintf("the %s in both", j.On[0].Words())
	}
	return fmt.Sprintf("%s against %s", j.On[0].Words(), j.On[1].Words())
}

// Doubt is by how much a lag between the two recordings may come from the joining alone
// (s): the half-width of the offset's interval, and what the drift is in doubt by halfway to
// the ends.
func (j *Joint) Doubt() float64 {
	drift := math.Max(j.DriftHigh-j.Drift, j.Drift-j.DriftLow)
	if !j.DriftTold() {
		drift = 2 * usualDrift
	}
	return (j.OffsetHigh-j.OffsetLow)/2 + drift*j.Overlap/4
}

// at maps a time of the second recording to the first's clock.
func (j Joint) at(t float64) float64 { return t + j.Offset + j.Drift*(t-j.Middle) }

// What an alignment cannot see.
const (
	// Shares of a sample: for the interpolation of what changes smoothly, and for a
	// command, which may jump anywhere between two samples.
	shareOfSample, shareOfJump = 0.1, 0.5
	// By how much a transducer comes behind the encoder (s): its own cycle, filter and
	// input card. Common practice, no source.
	leastSensor, mostSensor = -1e-3, 4e-3
	// By how much more without pressures, from which the oil's give is known: twice the
	// damping over the resonance, as of a damping of 0.1 at 4 Hz.
	mostOil = 8e-3
	// usualDrift (standard deviation) is by how much the clocks of two recorders differ:
	// quartz to some ten ppm, cheap oscillators more. Common practice, no source.
	usualDrift = 100e-6
	fewest     = 4    // windows for a slope with an interval
	mostDoubt  = 1e-3 // of a drift; no clock is so wrong, and beyond it nothing is known
)

// late is by how much the second recording's channel is late of itself (s), and the
// half-widths of that: of what differs from one stretch of motion to another, and of
// what does not.
type late struct{ value, varying, steady float64 }

func lateness(a, b *Trace, on [2]Channel) late {
	l := late{varying: shareOfSample * math.Max(a.Period(), b.Period())}
	if on[0] == on[1] {
		if !on[0].measured() {
			l.varying *= shareOfJump / shareOfSample
		}
		return l
	}
	l.value, l.steady = (leastSensor+mostSensor)/2, (mostSensor-leastSensor)/2
	if len(oilChannels(a, b, on)) < 2 {
		l.value += mostOil / 2
		l.varying += mostOil / 2
	}
	if on[0] == RodPosition {
		l.value = -l.value
	}
	return l
}

// fit puts a straight line through the lags of the windows, weighted by how well each
// is known. Where they scatter by more than that explains, the scatter counts.
func (j *Joint) fit(lags []lag, behind late) {
	var w, wt, wl float64
	weight := make([]float64, len(lags))
	for i, l := range lags {
		weight[i] = 1 / (l.sigma*l.sigma + behind.varying*behind.varying/4)
		w += weight[i]
		wt += weight[i] * l.time
		wl += weight[i] * l.lag
	}
	j.Windows = len(lags)
	j.Middle = wt / w
	mean := wl / w
	j.Offset = mean + behind.value
	var stt, stl float64
	for i, l := range lags {
		stt += weight[i] * (l.time - j.Middle) * (l.time - j.Middle)
		stl += weight[i] * (l.time - j.Middle) * (l.lag - mean)
	}
	slope, free := 0.0, len(lags)-1
	if len(lags) >= fewest && stt > 0 {
		slope, free = stl/stt, len(lags)-2
	}
	var chi2 float64
	for i, l := range lags {
		e := l.lag - mean - slope*(l.time-j.Middle)
		chi2 += weight[i] * e * e
	}
	// One window alone shows no scatter: it is trusted as two of the same would be.
	free = max(free, 1)
	t := distuv.StudentsT{Sigma: 1, Nu: float64(free)}.Quantile(0.975) * math.Sqrt(math.Max(1, chi2/float64(free)))
	half := t/math.Sqrt(w) + behind.varying + behind.steady
	j.OffsetLow, j.OffsetHigh = j.Offset-half, j.Offset+half
	doubt := t*math.Max(1/math.Sqrt(stt), j.scatterOf(lags, weight, mean, slope, stt)) + 2*behind.varying/(lags[len(lags)-1].time-lags[0].time)
	if slope == 0 || doubt > mostDoubt {
		return
	}
	j.DriftLow, j.DriftHigh = slope-doubt, slope+doubt
	sigma := doubt / 1.96
	j.Drift = slope * usualDrift * usualDrift / (usualDrift*usualDrift + sigma*sigma)
}

// scatterOf returns the standard error of the slope by leaving out one window at a time,
// which holds where a few windows decide and do not lie on the line of the others.
//
// MacKinnon and White, "Some heteroskedasticity-consistent covariance matrix estimators with
// improved finite sample properties", J. Econometrics 29, 1985 (HC3; from memory).
func (j *Joint) scatterOf(lags []lag, weight []float64, mean, slope, stt float64) float64 {
	w, sum := 0.0, 0.0
	for _, v := range weight {
		w += v
	}
	for i, l := range lags {
		at := l.time - j.Middle
		held := weight[i]/w + weight[i]*at*at/stt // share of the line that this window decides
		e := weight[i] * at * (l.lag - mean - slope*at) / math.Max(1-held, 1e-3)
		sum += e * e
	}
	return math.Sqrt(sum) / stt
}
