package ident_test

import (
	"context"
	"fmt"

	"eha/strokewise/ident"
	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// A log at rest holds nothing to fit: the plant is there all the same and says
// what to log.
func ExampleFit() {
	still := make([]float64, 2000)
	log, err := trace.New("rest.csv", 1e-3, 0, map[trace.Channel][]float64{trace.MotorPosition: still, trace.RodPosition: still}, nil)
	if err != nil {
		panic(err)
	}
	p, err := ident.Fit(context.Background(), []*trace.Trace{log}, &machine.Machine{}, ident.Options{})
	fmt.Println(err != nil)
	e := p.Est(plant.StrokePerTurnExtend)
	fmt.Println(e.Status, "-", e.From)
	// Output:
	// true
	// missing - log slow_strokes: motor position and rod position, both directions
}
