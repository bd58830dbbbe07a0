package trace

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"strconv"
	"strings"
	"testing"
)

func FuzzRead(f *testing.F) {
	f.Add([]byte(invented(20).plain()), 0.0)
	f.Add([]byte(invented(12).export(";", "\r\n", exportHeaders, comma)), 0.0)
	f.Add([]byte("sample,enc [counts],lin_mm\n0,65530,1\n1,5,2\n2,9,3\n"), 0.001)
	f.Add([]byte("\xff\xfet\x00;\x00x\x00\n\x001\x00;\x002\x00\n\x002\x00;\x003\x00\n\x00"), 0.0)
	f.Add([]byte("Timestamp,rod_position_mm\n2026-03-09T23:59:59.999Z,\"1,5\"\n2026-03-10T00:00:00.001Z,inf\n12:00,3\n"), 0.0)
	f.Add([]byte("t [s],motor_position_rev\n0,1\n1,2\n2,3\n0,1\n1,2\n1e300,5\n"), 0.0)
	f.Fuzz(func(t *testing.T, data []byte, period float64) {
		opt := ReadOptions{Period: period, Columns: map[Channel]Column{
			MotorPosition: {Header: "enc", Unit: "counts", CountsPerRev: 4096, Wrap: 65536}}}
		r, err := Read(context.Background(), strings.NewReader(string(data)), "fuzz.csv", opt)
		if err != nil {
			var fault *ReadError
			if !errors.As(err, &fault) {
				t.Fatalf("error %v is no *ReadError", err)
			}
			wantClean(t, "the error", err.Error())
			return
		}
		// What New demands holds of every trace that is read.
		samples := map[Channel][]float64{}
		for _, c := range r.Trace.Channels() {
			samples[c], _ = r.Trace.Samples(c)
		}
		if _, err := New(r.Trace.Name(), r.Trace.Period(), r.Trace.TimeAt(0), samples, r.Trace.Gaps()); err != nil {
			t.Fatal(err)
		}
	})
}

// What the quick way reads of a line is what the other reads: cell by cell, and all that is counted.
func FuzzScan(f *testing.F) {
	f.Add([]byte("1,2.5,-3\n4,5,6\n"), uint8(2))
	f.Add([]byte("1;2,5;-3\r\n-0;007;,5\r\n;;\r\n1e5;+2;3"), uint8(4))
	f.Add([]byte("1\t\"2\"\t3\r12345678901234567\t.1234567890123456\t9\rinf\tx\t1_0\r\r1\t2\r"), uint8(9))
	f.Fuzz(func(t *testing.T, data []byte, form uint8) {
		const n = 3
		delimiter, decimal, newline := ";\t,|"[form&3], ".,"[form>>2&1], "\n\r"[form>>3&1]
		scan := func(quick bool) *table {
			l := &layout{Layout: Layout{Delimiter: delimiter, Decimal: decimal, FirstRow: 1, Headers: make([]string, n)}, newline: newline, kinds: make([]columnKind, n)}
			s := newScanner(l, 1024, n*1100)
			if !quick {
				s.plain = nil
			}
			if err := s.scan(data); err != nil {
				return nil
			}
			return s.table
		}
		got, want := scan(true), scan(false)
		if got == nil || want == nil {
			return
		}
		for j := range want.cols { // bits, so that NaN equals itself and zero keeps its sign
			for i := range want.rows {
				if got.rows == want.rows && math.Float64bits(got.cols[j][i]) != math.Float64bits(want.cols[j][i]) {
					t.Fatalf("row %d, column %d: %g, want %g", i, j, got.cols[j][i], want.cols[j][i])
				}
			}
			got.cols[j], want.cols[j] = nil, nil
		}
		got.layout, want.layout = nil, nil
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("%+v, want %+v", got, want)
		}
	})
}

// fastNumber is exact: what it takes, strconv reads as the same bits.
func TestFastNumberIsExact(t *testing.T) {
	rng := rand.New(rand.NewPCG(12, 13))
	for range 300_000 {
		v := (rng.Float64() - 0.5) * math.Pow(10, float64(rng.IntN(24)-8))
		text := strconv.FormatFloat(v, "fe"[rng.IntN(2)], rng.IntN(16), 64)
		got, next, ok := fastNumber([]byte(text), 0, '.')
		want, err := strconv.ParseFloat(text, 64)
		if ok && (err != nil || math.Float64bits(got) != math.Float64bits(want) || next != len(text)) {
			t.Fatalf("%q: %x, strconv %x", text, got, want)
		}
		if slow, kind := slowNumber(text, '.'); kind != cellNumber || math.Float64bits(slow) != math.Float64bits(want) {
			t.Fatalf("%q the slow way: %x, strconv %x", text, slow, want)
		}
	}
}

func TestFastNumberLeavesTheRestAlone(t *testing.T) {
	for _, text := range []string{"", "-", ".", "+.", "abc", "nan", "inf", "12345678901234567890", "9007199254740993", "-.,", "1e", "1e+", "1e23", "5e-324"} {
		if v, _, ok := fastNumber([]byte(text), 0, '.'); ok {
			t.Errorf("%q was taken as %g", text, v)
		}
	}
	for text, want := range map[string]float64{"5": 5, "-0.5": -0.5, "+.5": 0.5, "5.": 5, "007": 7, "1e3": 1000, "-2.5E-01": -0.25} {
		if v, next, ok := fastNumber([]byte(text), 0, '.'); !ok || v != want || next != len(text) {
			t.Errorf("%q: %g, %d, %v", text, v, next, ok)
		}
	}
}

func TestSlowNumber(t *testing.T) {
	for _, c := range []struct {
		text    string
		decimal byte
		want    float64
		kind    cellKind
	}{
		{"1.234.567,8", ',', 1234567.8, cellNumber},
		{"1,234,567.8", '.', 1234567.8, cellNumber},
		{"1'234", '.', 1234, cellNumber},
		{"1 234,5", ',', 1234.5, cellNumber},
		{"-1.234", ',', -1234, cellNumber},
		{"1,5e3", ',', 1500, cellNumber},
		{"−3,5", ',', -3.5, cellNumber},
		{" 7 ", '.', 7, cellNumber},
		{"0.234", ',', 0, cellText},
		{"1.23", ',', 0, cellText},
		{"12.34.5", '.', 0, cellText},
		{"12,4x", '.', 0, cellText},
		{"1e", '.', 0, cellText},
		{"--5", '.', 0, cellText},
		{"NaN", '.', 0, cellEmpty},
		{"n/a", '.', 0, cellEmpty},
		{"", '.', 0, cellEmpty},
		{"+Inf", '.', 0, cellReject},
		{"1_000", '.', 0, cellReject},
		{"0x1p3", '.', 0, cellReject},
		{"1e308", '.', 0, cellReject},
	} {
		v, kind := slowNumber(c.text, c.decimal)
		if kind != c.kind || kind == cellNumber && v != c.want {
			t.Errorf("%q with %c: %g, kind %d; want %g, kind %d", c.text, c.decimal, v, kind, c.want, c.kind)
		}
	}
}
