//go:build unix

package trace

import (
	"bytes"
	"context"
	"runtime"
	"slices"
	"syscall"
	"testing"
	"time"
)

// BenchmarkReadRatio sets the whole Read, hashing and conditioning included, against
// encoding/csv with strconv, which do nothing but parse. The two read the same bytes in
// turn, so that whatever else the machine does meets both, and the ratios of their median
// times are reported: by the clock, and by processor time of all cores together.
func BenchmarkReadRatio(b *testing.B) {
	data := longLog(benchRows)
	var here, standard times
	for b.Loop() {
		here.add(func() {
			r, err := Read(context.Background(), bytes.NewReader(data), "long.csv", ReadOptions{Size: int64(len(data))})
			if err != nil || r.Trace.Len() != benchRows {
				b.Fatal(err)
			}
		})
		standard.add(func() {
			if cols, err := standardRead(data); err != nil || len(cols[0]) != benchRows {
				b.Fatal(err)
			}
		})
	}
	b.ReportMetric(middle(standard.clock)/middle(here.clock), "x-clock")
	b.ReportMetric(middle(standard.processor)/middle(here.processor), "x-processor")
	b.ReportMetric(middle(here.processor)*1e3, "ms-processor")
}

// times holds how long each run of something took (s).
type times struct{ clock, processor []float64 }

func (t *times) add(run func()) {
	runtime.GC() // what the run before left is not this one's to clear
	used, start := processorTime(), time.Now()
	run()
	t.clock = append(t.clock, time.Since(start).Seconds())
	t.processor = append(t.processor, processorTime()-used)
}

// processorTime returns what the process has used so far (s).
func processorTime() float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return float64(u.Utime.Nano()+u.Stime.Nano()) * 1e-9
}

func middle(x []float64) float64 {
	slices.Sort(x)
	return x[len(x)/2]
}
