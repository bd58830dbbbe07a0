package twin

import (
	"math"
	"testing"
)

// TestEnergy checks a slow stroke out and back: what the pump's pressure takes
// from the shaft over a closed cycle is what friction and leaks turn into heat,
// and a little more in the valves.
func TestEnergy(t *testing.T) {
	for _, kind := range []Kind{Resisting, Overrunning, Swap} {
		m := Random(kind, 6)
		m.LoadSlope = 0
		s := NewSim(m, m.Stroke/2, StepTime)
		var shaft, heat float64
		for i := range 60000 {
			if i%10000 == 0 { // 1 s each way, three times
				sign := 1 - 2*float64(i/10000%2)
				s.Command(sign * 0.1 * m.MaxSpeed)
			}
			theta := s.drive.theta
			s.Step()
			if i == 20000 { // the first cycle fills the oil
				shaft, heat = 0, 0
			}
			dp := s.port[0] - s.port[1]
			shaft += m.Displacement * dp * (s.drive.theta - theta)
			f := math.Copysign(m.friction(math.Abs(s.v)), s.v) + m.Viscous*s.v
			heat += (f*s.v + m.LeakInternal*dp*dp + m.LeakCase*(s.p[0]*s.p[0]+s.p[1]*s.p[1])) * s.h
			// A load that ends lower or higher than it began is no cycle: count it.
			shaft += s.load() * s.v * s.h
		}
		if ratio := shaft / heat; ratio < 0.97 || ratio > 1.35 {
			t.Errorf("%s: shaft gives %.1f J, friction and leaks take %.1f J", kind, shaft, heat)
		}
	}
}

// TestPressing checks force gained per motor turn on the contact against
// A·D/(C + A²/k), derived for the loaded chamber alone.
func TestPressing(t *testing.T) {
	m := Demo()
	m.LeakInternal, m.LeakCase, m.Ripple = 0, 0, 0
	s := NewSim(m, m.Contact.Position-1e-5, StepTime)
	s.Command(0.02 * m.MaxSpeed)
	at := func(p float64) (force, theta float64) {
		for range 200000 {
			if s.p[0] >= p {
				break
			}
			s.Step()
		}
		return s.areaCap*s.p[0] - s.areaRod*s.p[1], s.drive.theta
	}
	f1, n1 := at(60e5)
	f2, n2 := at(70e5)
	got, want := (f2-f1)/(n2-n1), m.pressingStiffness(65e5)
	if math.Abs(got/want-1) > 0.03 { // bristles stretch and the pump compresses
		t.Errorf("pressing stiffness %g N/rad, want %g within 3 %%", got, want)
	}
}

// TestDrive checks the speed loop alone against its own closed form: the step
// response of a second-order lag with a dead time that is no multiple of the step.
func TestDrive(t *testing.T) {
	m := Demo()
	m.DeadTime = 1.2345e-3
	d := newDrive(m, StepTime)
	d.command(0, 10)
	z, w := m.DriveDamping, m.DriveFreq
	wd := w * math.Sqrt(1-z*z)
	for i := range 1000 {
		d.step(d.held(float64(i)*StepTime, StepTime), 0, StepTime)
		at := float64(i+1)*StepTime - m.DeadTime
		want := 0.0
		if at > 0 {
			want = 10 * (1 - math.Exp(-z*w*at)*(math.Cos(wd*at)+z*w/wd*math.Sin(wd*at)))
		}
		if math.Abs(d.omega-want) > 0.01 {
			t.Fatalf("after %g s: %g rad/s, want %g", at, d.omega, want)
		}
	}
}

// TestSameSeed checks that a machine and its logs depend on kind and seed alone.
func TestSameSeed(t *testing.T) {
	a, b := AsFound(Random(Noisy, 5), Random(Noisy, 5).Loops), AsFound(Random(Noisy, 5), Random(Noisy, 5).Loops)
	for i := range a.Columns {
		for j, v := range a.Columns[i].SI {
			if v != b.Columns[i].SI[j] {
				t.Fatalf("%s differs at row %d", a.Columns[i].Channel, j)
			}
		}
	}
	c := AsFound(Random(Noisy, 6), Random(Noisy, 6).Loops)
	if c.Rows() == a.Rows() && c.SI("rod_position")[100] == a.SI("rod_position")[100] {
		t.Error("another seed gives the same log")
	}
}

// Sliding friction is Coulomb and viscous and nothing else: a rod driven by a
// constant force gains speed as its mass, not more, has it (Newton's second law).
func TestFrictionAddsNoMass(t *testing.T) {
	m := Random(Resisting, 22000)
	m.ProcessLoad, m.LoadSlope, m.Angle, m.Static, m.Viscous = 0, 0, 0, 1.0001*m.Coulomb, 0
	s := NewSim(m, 0.2*m.Stroke, StepTime)
	const accel = 0.3 // m/s²
	s.p[1] = 0
	s.p[0] = (m.Coulomb + accel*m.Mass) / m.AreaCap()
	move := func(seconds float64) {
		for range int(seconds / s.h) {
			s.moveRod()
			s.x = 0.2 * m.Stroke
		}
	}
	move(0.05)
	before := s.v
	move(0.2)
	if got := (s.v - before) / 0.2; math.Abs(got/accel-1) > 2e-3 {
		t.Errorf("acceleration %.5g m/s², want %.5g: an apparent mass of %.4g kg for one of %.4g kg", got, accel, accel/got*m.Mass, m.Mass)
	}
}
