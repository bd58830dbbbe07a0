package sim

import "testing"

// A panic in one call reaches the caller instead of ending the program.
func TestEachHandsOnPanics(t *testing.T) {
	defer func() {
		if fault := recover(); fault != "the seventh" {
			t.Errorf("recovered %v", fault)
		}
	}()
	Each(20, func(i int) {
		if i == 7 {
			panic("the seventh")
		}
	})
	t.Error("no panic came through")
}
