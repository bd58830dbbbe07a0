package sim

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// Each calls do for every i from 0 to n-1, spread over the processors, and
// returns when all are done. The calls must not depend on each other.
func Each(n int, do func(i int)) {
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n) {
		wait.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				do(i)
			}
		})
	}
	wait.Wait()
}
