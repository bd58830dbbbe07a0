package moves

import (
	"testing"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/traces"
	"eha/strokewise/samples/twin"
)

// A log of a planned table alone is recognised as the move that it is.
func TestPlannedMovesAreRecognised(t *testing.T) {
	kinds := []twin.Kind{twin.Resisting, twin.Swap, twin.Noisy}
	if testing.Short() {
		kinds = kinds[:1]
	}
	for i, kind := range kinds {
		m, known := invented(t, kind, uint64(20120+i), true)
		for _, command := range []trace.Channel{trace.SpeedCommand, trace.PositionCommand} {
			plan, err := For(known, nil, Options{Command: command})
			if err != nil {
				t.Fatal(err)
			}
			for k := range plan.Moves {
				v := &plan.Moves[k]
				var l *twin.Log
				switch {
				case v.Size < 1:
					continue
				case v.Column == trace.SpeedCommand:
					l, _ = twin.PlaySpeed(m, v.Start, v.Table)
				case v.Column == trace.PositionCommand:
					l, _ = twin.PlayPosition(m, m.Loops, v.Start, v.Table)
				default:
					continue
				}
				found := motion.Find(traces.Of(t, l)).Moves
				for _, f := range found {
					if f.Kind != v.Kind && f.Kind != motion.Hold {
						t.Errorf("%s by %v: %v also found as %v at %v", m.Name, command, v.Name(), f.Kind, f.Spans)
					}
				}
				if !hasMove(found, v.Kind) {
					t.Errorf("%s by %v: %v not recognised: %v", m.Name, command, v.Name(), found)
				}
			}
		}
	}
}

func hasMove(moves []motion.Move, k motion.MoveKind) bool {
	for _, v := range moves {
		if v.Kind == k {
			return true
		}
	}
	return false
}
