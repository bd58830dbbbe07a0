package main

import (
	"fmt"
	"math"
	"runtime"
	"sync"
	"time"

	"eha/strokewise/ident/plant"
	"eha/strokewise/samples/twin"
)

// result is one machine after its fit.
type result struct {
	machine  *twin.Machine
	plant    *plant.Plant
	outcomes []outcome
	stroke   float64 // error of travel over an unseen stroke as a share of it, NaN where none was played
	loops    *loopsVerdict
	took     time.Duration // of the fit
	err      error
}

// runAll runs the machines on all cores, in an order of results that does not
// depend on it. A panic becomes that machine's error.
func runAll(machines []func() *twin.Machine, one func(*twin.Machine) result) []result {
	results := make([]result, len(machines))
	next := make(chan int)
	var group sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(machines)) {
		group.Add(1)
		go func() {
			defer group.Done()
			for i := range next {
				results[i] = guarded(machines[i], one)
			}
		}()
	}
	for i := range machines {
		next <- i
	}
	close(next)
	group.Wait()
	return results
}

func guarded(make func() *twin.Machine, one func(*twin.Machine) result) (r result) {
	m := make()
	defer func() {
		if p := recover(); p != nil {
			r = result{machine: m, err: fmt.Errorf("panic: %v", p)}
		}
	}()
	return one(m)
}

// medianTime returns the median fit time (s).
func medianTime(results []result) float64 {
	var seconds []float64
	for _, r := range results {
		if r.plant != nil {
			seconds = append(seconds, r.took.Seconds())
		}
	}
	v := quantile(seconds, 0.5)
	if math.IsNaN(v) {
		return 0
	}
	return v
}
