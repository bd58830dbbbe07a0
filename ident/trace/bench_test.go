package trace

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strconv"
	"testing"
)

// longLog writes a log of the usual shape: 7 columns at 1 kHz, seeded noise.
func longLog(rows int) []byte {
	rng := rand.New(rand.NewPCG(7, 11))
	var b bytes.Buffer
	b.Grow(75 * rows)
	b.WriteString("time_s,speed_command_rpm,motor_position_rev,rod_position_mm,cap_pressure_bar,rod_pressure_bar,motor_current_A\n")
	for i := range rows {
		s := math.Sin(float64(i) * 1e-3)
		fmt.Fprintf(&b, "%.5f,%.2f,%.6f,%.3f,%.3f,%.3f,%.3f\n", float64(i)*1e-3, 1000*math.Cos(float64(i)*1e-3), 200*s, 300+250*s,
			80+30*s+0.05*rng.NormFloat64(), 20-5*s+0.05*rng.NormFloat64(), 12*s+0.1*rng.NormFloat64())
	}
	return b.Bytes()
}

const benchRows = 600_000

// BenchmarkRead is the whole way from bytes to Trace; BenchmarkStandardLibrary
// does nothing but parse the same bytes with encoding/csv and strconv into columns.
func BenchmarkRead(b *testing.B) {
	data := longLog(benchRows)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		r, err := Read(context.Background(), bytes.NewReader(data), "long.csv", ReadOptions{Size: int64(len(data))})
		if err != nil || r.Trace.Len() != benchRows {
			b.Fatal(err)
		}
	}
}

// BenchmarkTable is the reader's parsing alone, to set against the standard library.
func BenchmarkTable(b *testing.B) {
	data := longLog(benchRows)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		src, err := openSource(context.Background(), bytes.NewReader(data), nil)
		if err != nil {
			b.Fatal(err)
		}
		t, err := readTable(src, ReadOptions{Size: int64(len(data))})
		if err != nil || t.rows != benchRows {
			b.Fatal(err)
		}
	}
}

func BenchmarkStandardLibrary(b *testing.B) {
	data := longLog(benchRows)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if cols, err := standardRead(data); err != nil || len(cols[0]) != benchRows {
			b.Fatal(err)
		}
	}
}

func standardRead(data []byte) ([][]float64, error) {
	r := csv.NewReader(bytes.NewReader(data))
	r.ReuseRecord = true
	head, err := r.Read()
	if err != nil {
		return nil, err
	}
	cols := make([][]float64, len(head))
	for {
		row, err := r.Read()
		if err == io.EOF {
			return cols, nil
		}
		if err != nil {
			return nil, err
		}
		for j, cell := range row {
			v, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				return nil, err
			}
			cols[j] = append(cols[j], v)
		}
	}
}
