package trace

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/text/encoding/unicode"
)

// border is a log longer than a block that holds an awkward stretch, with a remark at its
// head that is as long as wanted: it moves the end of the first block through the stretch,
// byte by byte, and changes nothing else.
type border struct {
	head, stretch, rest string
}

const borderHeader = "time_s,motor_position_rev,rod_position_mm,cap_pressure_bar"

// borderLog fills the first block with plain rows up to the stretch; after it rows more follow.
func borderLog(stretch []string, lineEnd string, rows int) border {
	var b strings.Builder
	n := 0
	row := func(b *strings.Builder) {
		fmt.Fprintf(b, "%.3f,%.4f,%.3f,%.2f%s", float64(n)*1e-3, 3*math.Sin(float64(n)*1e-3), 150+100*math.Cos(float64(n)*1e-3), 50+0.01*float64(n%17), lineEnd)
		n++
	}
	b.WriteString(lineEnd + borderHeader + lineEnd)
	text := ""
	for _, line := range stretch {
		text += line + lineEnd
	}
	for b.Len() < blockSize-len(text)-300 {
		row(&b)
	}
	// TIME stands for the time of a row in the stretch, which goes on where the rows before end.
	for strings.Contains(text, "TIME") {
		text = strings.Replace(text, "TIME", fmt.Sprintf("%.3f", float64(n)*1e-3), 1)
		n++
	}
	var rest strings.Builder
	for range rows {
		row(&rest)
	}
	return border{b.String(), text, rest.String()}
}

// with returns the log whose first block ends at byte k of the stretch.
func (b border) with(k int) string {
	return strings.Repeat("x", blockSize-len(b.head)-k) + b.head + b.stretch + b.rest
}

// readBorder reads a log and takes off what the length of the remark changes.
func readBorder(text string) (Reading, string) {
	r, err := Read(context.Background(), strings.NewReader(text), "log.csv", ReadOptions{Size: int64(len(text))})
	if err != nil {
		return Reading{}, err.Error()
	}
	r.SHA256, r.Bytes = "", 0
	return *r, ""
}

var awkward = []string{
	`TIME,1.25,250.125,50.01`,
	`TIME,"1.5", "250.25" ,"50,000.5"`,
	``,
	borderHeader,
	`TIME,+1.5e0,2.5025E+02,50.02`,
	`TIME,inf,1_000,`,
	`Stopped by hand; no row`,
	`7,8`,
	`TIME,1.123456789012345678,-0,50.03,`,
	`TIME,-.5,5.,nan`,
}

// Where a block ends does not show, nor on how many cores the log is read.
func TestBlockBordersDoNotShow(t *testing.T) {
	stride := 1
	if testing.Short() {
		stride = 17
	}
	withText := append(append([]string(nil), awkward...), `TIME,12.4x,250.5,50.04`)
	for _, c := range []struct {
		name    string
		log     border
		stride  int
		refused string
	}{
		{"LF", borderLog(awkward, "\n", 3000), 3 * stride, ""},
		{"CRLF", borderLog(awkward, "\r\n", 3000), stride, ""},
		{"CR alone", borderLog(awkward, "\r", 3000), 5 * stride, ""},
		{"the file ends with the stretch", borderLog(awkward, "\n", 0), 5 * stride, ""},
		{"no last line end", func() border {
			b := borderLog(awkward, "\n", 0)
			b.stretch = strings.TrimSuffix(b.stretch, "\n")
			return b
		}(), 5 * stride, ""},
		{"text in the second block", borderLog(withText, "\n", 3000), 3 * stride, `"12.4x" is not a number`},
	} {
		t.Run(c.name, func(t *testing.T) {
			cores := runtime.GOMAXPROCS(1)
			want, refused := readBorder(c.log.with(0))
			runtime.GOMAXPROCS(cores)
			if (c.refused == "") != (refused == "") || !strings.Contains(refused, c.refused) {
				t.Fatalf("error %q, want one with %q", refused, c.refused)
			}
			if refused != "" {
				line := 1 + strings.Count(c.log.with(0)[:strings.Index(c.log.with(0), "12.4x")], "\n")
				if !strings.HasPrefix(refused, fmt.Sprintf("trace: log.csv:%d: ", line)) {
					t.Errorf("error %q, want line %d named", refused, line)
				}
			} else if want.Rejects != 2 || want.Layout.Repeats != 1 || want.Layout.Skipped != 4 {
				t.Errorf("%d rejects, %d headers, %d lines skipped; want 2, 1 and 4", want.Rejects, want.Layout.Repeats, want.Layout.Skipped)
			}
			for k := 0; k <= len(c.log.stretch); k += c.stride {
				got, fault := readBorder(c.log.with(k))
				if fault != refused || !reflect.DeepEqual(got, want) {
					t.Fatalf("with the border at %q: error %q, %d rows, %d rejects; want error %q, %d rows, %d rejects", c.log.stretch[k:min(k+20, len(c.log.stretch))],
						fault, got.Rows, got.Rejects, refused, want.Rows, want.Rejects)
				}
			}
		})
	}
}

// A log in UTF-16 holds half as many rows as one of as many bytes in UTF-8, and is not
// refused for rows that it cannot hold.
func TestRowsOfUTF16AreCountedByCharacter(t *testing.T) {
	text := encode(t, string(longLog(20_000)), unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder())
	r, err := Read(context.Background(), strings.NewReader(text), "log.csv", ReadOptions{Size: int64(len(text)), MaxValues: 7 * 21_000})
	if err != nil || r.Rows != 20_000 {
		t.Fatalf("%v; want 20,000 rows of 7 columns within 147,000 values", err)
	}
}

// What the quick way reads is what strconv reads, to the bit.
func TestPlainRowsAreExact(t *testing.T) {
	rng := rand.New(rand.NewPCG(14, 15))
	const n = 5
	l := &layout{Layout: Layout{Delimiter: ',', Decimal: '.', FirstRow: 1}, newline: '\n', kinds: make([]columnKind, n), units: make([]string, n)}
	l.Headers = make([]string, n)
	s := newScanner(l, 1024, defaultMaxValues)
	quick := 0
	for range 100_000 {
		cells := make([]string, n)
		for j := range cells {
			v := (rng.Float64() - 0.5) * math.Pow(10, float64(rng.IntN(20)-6))
			cells[j] = strconv.FormatFloat(v, 'f', rng.IntN(16), 64)
		}
		line := []byte(strings.Join(cells, ",") + "\n")
		s.rows = 0
		if _, ok := s.plainRow(line, 0); ok {
			quick++
		}
		if err := s.scan(line); err != nil || s.rows != 1 {
			t.Fatalf("%q: %d rows, %v", line, s.rows, err)
		}
		for j, cell := range cells {
			want, err := strconv.ParseFloat(cell, 64)
			if err != nil || math.Float64bits(s.cols[j][0]) != math.Float64bits(want) {
				t.Fatalf("%q: column %d is %x, strconv %x", line, j, s.cols[j][0], want)
			}
		}
	}
	if quick < 10_000 {
		t.Errorf("only %d of 100,000 rows went the quick way", quick)
	}
}
