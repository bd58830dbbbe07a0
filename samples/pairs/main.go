// Command pairs logs simulated machines twice, with a known change between, lets
// the comparison judge them and counts what it said that is not so and what it missed.
//
//	go run ./samples/pairs -n 40 -seed 70000                 as-found logs
//	go run ./samples/pairs -n 40 -seed 70000 -logs survey    survey logs
//	go run ./samples/pairs -n 40 -seed 70000 -logs all -details
//
// Machine i has seed -seed plus i and takes the kinds that log pressures in turn;
// every machine goes through every change.
package main

import (
	"flag"
	"fmt"
	"io"
	"os"
	"runtime"
	"sync"
)

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }

func run(args []string, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("pairs", flag.ContinueOnError)
	flags.SetOutput(stderr)
	n := flags.Int("n", 11, "number of machines")
	seed := flags.Uint64("seed", 70000, "seed of the first machine")
	logs := flags.String("logs", "asfound", "logs on each side: survey, asfound or all")
	details := flags.Bool("details", false, "one line for every false statement and for every change missed")
	if err := flags.Parse(args); err != nil {
		return 2
	}
	if *n < 1 || *logs != "survey" && *logs != "asfound" && *logs != "all" {
		fmt.Fprintln(stderr, "pairs: -n is at least 1, and -logs survey, asfound or all")
		return 2
	}
	scores := judgeAll(*n, *seed, *logs)
	print(stdout, scores)
	if *details {
		for _, s := range scores {
			for _, line := range s.lines {
				fmt.Fprintln(stdout, line)
			}
		}
	}
	return 0
}

// judgeAll runs the machines on all cores; the order of results does not depend on it.
func judgeAll(n int, seed uint64, logs string) []score {
	results := make([][]score, n)
	next := make(chan int)
	var group sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n) {
		group.Add(1)
		go func() {
			defer group.Done()
			for i := range next {
				results[i] = judgeMachine(machineOf(i, seed), logs)
			}
		}()
	}
	for i := range n {
		next <- i
	}
	close(next)
	group.Wait()
	return total(results)
}

// total adds up the machines, change by change.
func total(results [][]score) []score {
	sum := results[0]
	for _, r := range results[1:] {
		for i := range r {
			sum[i].add(r[i])
		}
	}
	return sum
}

func print(w io.Writer, scores []score) {
	fmt.Fprintf(w, "%-34s %8s %20s %12s %9s\n", "change", "reports", "with a false word", "change found", "failures")
	for _, s := range scores {
		found := "-"
		if s.change != "nothing" {
			found = fmt.Sprintf("%d", s.found)
		}
		fmt.Fprintf(w, "%-34s %8d %20d %12s %9d\n", s.change, s.reports, s.wrong, found, s.failed)
	}
}
