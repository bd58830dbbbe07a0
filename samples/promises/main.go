// Command promises compares what the check says can be identified from logs with what
// the fit then gives, on simulated machines and on parts of their surveys.
//
//	go run ./samples/promises -n 60 -seed 20000            tables of promises kept and broken
//	go run ./samples/promises -n 60 -seed 20000 -complete  are the moves that the check names enough, and none too many?
//	go run ./samples/promises -n 24 -seed 20000 -moves     are the moves of the surveys recognised?
//
// Machine i of -n has seed -seed plus i and takes the kinds in turn.
package main

import (
	"flag"
	"fmt"
	"io"
	"os"
	"slices"
	"sync"

	"eha/strokewise/samples/twin"
)

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }

func run(args []string, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("promises", flag.ContinueOnError)
	flags.SetOutput(stderr)
	n := flags.Int("n", 24, "number of machines")
	seed := flags.Uint64("seed", 20000, "seed of the first machine")
	details := flags.Bool("details", false, "one line for every parameter of every set of logs")
	completing := flags.Bool("complete", false, "add the moves that the check names, and leave each of them out")
	moves := flags.Bool("moves", false, "are the moves of the surveys recognised?")
	if err := flags.Parse(args); err != nil {
		return 2
	}
	if *n < 1 {
		fmt.Fprintln(stderr, "promises: -n is at least 1")
		return 2
	}
	machine := func(i int) *twin.Machine {
		kinds := twin.Kinds()
		return twin.Random(kinds[i%len(kinds)], *seed+uint64(i))
	}
	if *moves {
		recognitionTable(stdout, slices.Concat(each(*n, func(i int) []recognition { return recogniseMachine(machine(i)) })...))
		return 0
	}
	if *completing {
		completionTable(stdout, slices.Concat(each(*n, func(i int) []completion { return completeMachine(machine(i)) })...))
		return 0
	}
	all := slices.Concat(each(*n, func(i int) []verdict { return judgeMachine(machine(i)) })...)
	if *details {
		for _, v := range all {
			fmt.Fprintln(stdout, v)
		}
	}
	promiseTables(stdout, all)
	return 0
}

// each runs do for 0 to n-1, two at a time, and returns the results in order.
func each[T any](n int, do func(i int) T) []T {
	out := make([]T, n)
	next := make(chan int)
	var group sync.WaitGroup
	for range min(2, n) {
		group.Add(1)
		go func() {
			defer group.Done()
			for i := range next {
				out[i] = do(i)
			}
		}()
	}
	for i := range n {
		next <- i
	}
	close(next)
	group.Wait()
	return out
}
