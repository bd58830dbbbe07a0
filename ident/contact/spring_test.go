package contact

import (
	"math"
	"testing"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/trace"
)

// A rod that travels against a spring and rests where the spring pushes most holds a
// force that no mean of travel asked for, and still presses on nothing.
func TestSpringLoadIsNoContact(t *testing.T) {
	const period, spring, friction, perTurn = 1e-3, 2e5, 800.0, 2e-4 // s, N/m, N, m/rad
	k := usualPress().known()
	samples := map[trace.Channel][]float64{}
	x, speed := 0.1, 0.0
	for i := range 16000 {
		// 1 s rest, 2 s out at 50 mm/s, 1 s rest, 2 s back.
		wanted := [...]float64{0, 0.05, 0.05, 0, -0.05, -0.05}[i/1000%6]
		speed += math.Max(-2*period, math.Min(2*period, wanted-speed))
		x += speed * period
		force := spring*(x-0.1) + friction*math.Tanh(speed/1e-3)
		samples[trace.RodPosition] = append(samples[trace.RodPosition], x)
		samples[trace.MotorPosition] = append(samples[trace.MotorPosition], x/perTurn)
		samples[trace.CapPressure] = append(samples[trace.CapPressure], (force+lowPressure*k.Area.Rod)/k.Area.Cap)
		samples[trace.RodPressure] = append(samples[trace.RodPressure], lowPressure)
	}
	tr, err := trace.New("spring", period, 0, samples, nil)
	if err != nil {
		t.Fatal(err)
	}
	m := motion.Find(tr)
	resting := 0
	for pressed, i := past(tr, m.Segments, k.Area), 0; i < len(m.Segments); i++ {
		if s := m.Segments[i]; s.Kind == motion.Rest && pressed(s.Span) {
			resting++
		}
	}
	if resting == 0 {
		t.Fatal("the log does not rest under a force beyond that of travel")
	}
	if found := Find(tr, m, k.Area); len(found) > 0 {
		t.Errorf("%d stretches press, the first %v", len(found), found[0].Span)
	}
}
