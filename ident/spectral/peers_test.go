package spectral

import (
	"encoding/binary"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// BenchmarkPeersResponse is the frequency response and coherence from motor speed
// to rod speed, by 145 segments of 8192 samples, on the log that the comparison
// with general tools uses: differencing included, here segment by segment so that
// no column of differences is made. STROKEWISE_PEERS names the folder that ../shared/peers/make_input.sh filled.
func BenchmarkPeersResponse(b *testing.B) {
	dir := os.Getenv("STROKEWISE_PEERS")
	if dir == "" {
		b.Skip("STROKEWISE_PEERS names no folder")
	}
	turns, rod := rawColumn(b, dir, 2), rawColumn(b, dir, 3)
	speed, rate := make([]float64, 8192), make([]float64, 8192)
	for b.Loop() {
		const n = 8192
		a := NewAverager(n, 1e-3, 2)
		for from := 0; from+n < len(turns); from += n / 2 {
			differences(speed, turns[from:from+n+1])
			differences(rate, rod[from:from+n+1])
			a.Add(speed, rate)
		}
		h, err := a.Between(0, 1)
		if err != nil {
			b.Fatal(err)
		}
		// What the other tools find at 10.01 Hz.
		at := 0
		for math.Abs(h.Omega[at]-2*math.Pi*82/8.192) > 1e-6 {
			at++
		}
		gain := math.Hypot(real(h.H[at]), imag(h.H[at]))
		if math.Abs(gain/4.84479735-1) > 1e-2 || math.Abs(h.Coherence[at]-0.248974544) > 1e-2 {
			b.Fatalf("gain %.9g, coherence %.9g", gain, h.Coherence[at])
		}
	}
}

// differences fills d with what each millisecond adds to x, per second.
func differences(d, x []float64) {
	last := x[0]
	for i, v := range x[1:] {
		d[i] = (v - last) * 1000
		last = v
	}
}

// rawColumn reads one of the seven columns of log.f64.
func rawColumn(b *testing.B, dir string, column int) []float64 {
	b.Helper()
	f, err := os.Open(filepath.Join(dir, "log.f64"))
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		b.Fatal(err)
	}
	n := info.Size() / 8 / 7
	x := make([]float64, n)
	if err := binary.Read(io.NewSectionReader(f, 8*n*int64(column), 8*n), binary.LittleEndian, x); err != nil {
		b.Fatal(err)
	}
	return x
}
