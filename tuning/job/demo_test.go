package job

import (
	"context"
	"math"
	"testing"

	"eha/strokewise/ident/plant"
)

// The demo's log of another day is read.
func TestOpenDemoAfter(t *testing.T) {
	j, err := OpenDemoAfter(context.Background(), nil)
	if err != nil || len(j.Readings) != 1 || !j.Demo {
		t.Errorf("%+v: %v", j, err)
	}
}

// The embedded plant must be what the program fits to the embedded logs now. Where
// the processor rounds otherwise than the one it was made on, the last digits
// differ, so a ten-thousandth of the value is allowed; the file keeps seven digits.
func TestDemoPlantIsCurrent(t *testing.T) {
	ctx := context.Background()
	j, err := OpenDemo(ctx, nil)
	if err != nil {
		t.Fatal(err)
	}
	now, err := j.Fit(ctx, nil)
	if err != nil {
		t.Fatal(err)
	}
	kept, err := DemoPlant()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range plant.Params() {
		a, b := now.Est(p), kept.Est(p)
		if a.Status != b.Status || math.Abs(a.Value-b.Value) > 1e-4*math.Abs(a.Value) || math.Abs(a.HalfWidth()-b.HalfWidth()) > 1e-3*a.HalfWidth() {
			t.Errorf("%s: fitted now %g (%s), embedded %g (%s); run go generate ./samples", p, a.Value, a.Status, b.Value, b.Status)
		}
	}
}
