// Command ensemble makes invented machines with known truth.
//
//	go run ./samples/ensemble -write DIR -kind pressing -seed 7
//
// writes the logs, machine file and truth of one machine into DIR.
package main

import (
	"flag"
	"fmt"
	"io"
	"os"

	"eha/strokewise/samples/twin"
)

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }

func run(args []string, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("ensemble", flag.ContinueOnError)
	flags.SetOutput(stderr)
	write := flags.String("write", "", "write one machine's logs, machine file and truth into this folder")
	kindName := flags.String("kind", "resisting", fmt.Sprintf("kind of machine: one of %v", twin.Kinds()))
	seed := flags.Uint64("seed", 1, "seed of the machine")
	if err := flags.Parse(args); err != nil {
		return 2
	}
	kind, err := twin.ParseKind(*kindName)
	if err != nil {
		fmt.Fprintln(stderr, err)
		return 2
	}
	if *write == "" {
		fmt.Fprintln(stderr, "ensemble: -write DIR is needed")
		return 2
	}
	if err := twin.WriteFolder(twin.Random(kind, *seed), *write); err != nil {
		fmt.Fprintln(stderr, err)
		return 1
	}
	fmt.Fprintf(stdout, "%s: machine %s-%d\n", *write, kind, *seed)
	return 0
}
