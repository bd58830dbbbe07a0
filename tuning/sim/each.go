package sim

import (
	"runtime"
	"sync/atomic"
)

// Each calls do for every i from 0 to n-1, spread over the processors, and
// returns when all are done. The calls must not depend on each other. A panic in
// one becomes a panic of the caller, who can recover from it.
func Each(n int, do func(i int)) {
	var next atomic.Int64
	workers := min(runtime.GOMAXPROCS(0), n)
	faults := make(chan any, max(workers, 0))
	for range workers {
		go func() {
			defer func() { faults <- recover() }()
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				do(i)
			}
		}()
	}
	for range workers {
		if fault := <-faults; fault != nil {
			panic(fault)
		}
	}
}
