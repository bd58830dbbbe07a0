package flow

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"

	"eha/strokewise/ident/plant"
)

// Oil lent by the other chamber is read at this chamber's pressure, which its own
// sensor may misread: half of the sensors' known difference is taken out, and what is
// left widens the interval. A chamber's own fit was made at the pressures as read.
func TestBorrowedOilAndTheSensorsOffset(t *testing.T) {
	fit := chamberFit{known: true, windows: 1000, time: surveyTime, cov: mat.NewSymDense(numOil, nil)}
	fit.value = [numOil]float64{deadVolume: 1e-5, compressibility: 1 / oilModulus, freeAir: 0.01}
	s := &Stroke{Areas: plant.PerChamber[float64]{Cap: 2e-3, Rod: 1.2e-3}, Travel: 0.3, Offset: Number{1.2e5, 0.1e5}}
	o := &Oil{stroke: s, chambers: plant.PerChamber[chamberFit]{Cap: fit, Rod: fit}}
	const x, p = 0.15, 3e5
	own, _ := o.slowCompliance(plant.Cap, x, p)
	if want := fit.compliance(o.swept(plant.Cap, x), p); own.Value != want.Value {
		t.Errorf("own oil: %g, want %g as read", own.Value, want.Value)
	}
	for _, c := range []plant.Chamber{plant.Cap, plant.Rod} {
		lent := fit
		lent.borrowed = true
		o.chambers.Set(c, lent)
		got, _ := o.slowCompliance(c, x, p)
		true0 := p + 0.6e5*(1-2*float64(c)) // the cap sensor reads too little, the rod's too much
		want := fit.compliance(o.swept(c, x), true0).Value
		if math.Abs(got.Value-want) > 0.01*want {
			t.Errorf("%s side, lent oil: %g, want %g at %g bar", c, got.Value, want, true0*1e-5)
		}
		// 0.4 bar of 4 to 5 bar absolute, at the power of 1.7 that air has.
		if share := got.Sigma / got.Value; share < 0.1 || share > 0.3 {
			t.Errorf("%s side: standard deviation %.0f %% of the value, want 10 to 30 %%", c, 100*share)
		}
	}
}
