package window

// lagRange is the range of delays (s) at which the instruments are taken: a rod
// answers the motor for about that long.
var lagRange = [2]float64{-0.02, 0.15}

// Instruments returns columns that go with the motion but not with the
// transducer's noise: each of the sources, one value per window of the slider (as a
// rule ∫phi·θ' and ∫phi·θ” of the motor angle), taken at delays from -20 to
// 150 ms, separately for each group of rows, and one constant per group.
// windows are the rows, group their group numbers from 0 to groups-1 (as a rule
// the direction of travel). Beyond the ends of the log the end windows stand.
func Instruments(s *Slider, sources [][]float64, windows, group []int, groups int) [][]float64 {
	step := float64(s.stride) * s.period
	// One lag in about 10 ms, and always one window apart at least.
	skip := max(int(0.010/step+0.5), 1)
	var columns [][]float64
	add := func(value func(w int) float64) {
		for g := range groups {
			c := make([]float64, len(windows))
			for i, w := range windows {
				if group[i] == g {
					c[i] = value(w)
				}
			}
			columns = append(columns, c)
		}
	}
	add(func(int) float64 { return 1 })
	for _, source := range sources {
		for lag := int(lagRange[0] / step); float64(lag)*step <= lagRange[1]+1e-9; lag += skip {
			add(func(w int) float64 { return source[min(max(w-lag, 0), len(source)-1)] })
		}
	}
	return columns
}
