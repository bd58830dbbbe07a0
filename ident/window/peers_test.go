package window

import (
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// BenchmarkPeersRegression is the robust regression that the comparison with general
// tools uses: rod position on twelve integrals and products over 600,000 rows, the
// columns made within the time. The others take a Huber weight and ten rounds; Solve
// takes its own weight and as many rounds as it needs, and its covariance over
// blocks of 2 s besides. STROKEWISE_PEERS names the folder that
// ../shared/peers/make_input.sh filled.
func BenchmarkPeersRegression(b *testing.B) {
	dir := os.Getenv("STROKEWISE_PEERS")
	if dir == "" {
		b.Skip("STROKEWISE_PEERS names no folder")
	}
	data, err := os.ReadFile(filepath.Join(dir, "log.f64"))
	if err != nil {
		b.Fatal(err)
	}
	raw := make([]float64, len(data)/8)
	if _, err := binary.Decode(data, binary.LittleEndian, raw); err != nil {
		b.Fatal(err)
	}
	n := len(raw) / 7
	column := func(j int) []float64 { return raw[j*n : (j+1)*n] }
	block := make([]int, n)
	for i := range block {
		block[i] = i / 2000
	}
	for b.Loop() {
		p := Problem{Y: column(3), X: integrals(column(0), column(2), column(3), column(4), column(5)), Block: block}
		f, err := Solve(p)
		if err != nil {
			b.Fatal(err)
		}
		square := 0.0
		for _, e := range f.Residual {
			square += e * e
		}
		// The others find 4.41523 mm; another weight moves it by little.
		if rms := math.Sqrt(square / float64(n)); math.Abs(rms/4.41523-1) > 0.01 {
			b.Fatalf("residuals of %.5f mm", rms)
		}
	}
}

// integrals returns the columns of the comparison: turns, pressure difference and
// slip by direction, pressures against turns, compression, drift.
func integrals(t, turns, x, p, q []float64) [][]float64 {
	const columns, h = 12, 1e-3
	n := len(t)
	all := make([][]float64, columns)
	for j := range all {
		all[j] = make([]float64, n)
	}
	var sum [8]float64
	for i := range n {
		if i > 0 {
			way, difference := 1, (p[i]-q[i])*h
			d := turns[i] - turns[i-1]
			if d <= 0 {
				way = 2
			}
			sum[way] += d
			sum[way+2] += difference
			sum[5] += (p[i] + q[i] - 6) * h
			sum[6] += p[i] * d
			sum[7] += q[i] * d
		}
		sum[0] = 1
		for j, s := range sum {
			all[j][i] = s
		}
		all[8][i] = p[i] * (76.4 + x[i]) * 1e-3
		all[9][i] = q[i] * (411.3 - x[i]) * 1e-3
		all[10][i] = t[i]
		all[11][i] = t[i] * t[i] * 1e-3
	}
	return all
}
