package tuning

import (
	"context"
	"testing"

	"eha/strokewise/ident/plant"
)

// BenchmarkProposeForce designs, simulates and judges both loops of one pressing machine.
func BenchmarkProposeForce(b *testing.B) {
	p := inventedPress(300, plant.Extend)
	for b.Loop() {
		if _, err := Propose(context.Background(), p, DefaultOptions()); err != nil {
			b.Fatal(err)
		}
	}
}
