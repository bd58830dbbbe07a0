package main

import (
	"strings"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/samples/twin"
)

// Of what the check expects to be identified from parts of a survey nine tenths come out
// so, next to nothing of it is not found at all, and what it does not expect is not identified.
func TestPromisesAreKept(t *testing.T) {
	if testing.Short() {
		t.Skip("simulates a machine and fits its logs some twenty times")
	}
	var sum tally
	for _, v := range judgeMachine(twin.Random(twin.Resisting, 25400)) {
		if !v.stopped {
			sum.add(v)
		}
	}
	c := sum.count
	expected, missing := c[2][0]+c[2][1]+c[2][2], c[0][0]+c[0][1]+c[0][2]
	if expected < 150 || 100*c[2][2] < 88*expected || 100*c[2][0] > 4*expected || 100*c[0][2] > 4*missing {
		t.Errorf("by expected and found grade: %v", c)
	}
}

func TestTables(t *testing.T) {
	var out strings.Builder
	v := verdict{machine: "a", set: "survey", param: plant.Slip, found: plant.Estimate{Value: 1, Low: 0.9, High: 1.1, Status: plant.Identified}}
	v.promise.Expect = plant.Identified
	promiseTables(&out, []verdict{v, {machine: "a", set: "jog", param: plant.Slip, stopped: true}})
	for _, want := range []string{"slip                                             1     0     0", "1 sets of logs left out", "a: jog"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("%q is not in\n%s", want, out.String())
		}
	}
}
