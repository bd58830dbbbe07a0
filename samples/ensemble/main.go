// Command ensemble simulates invented machines of all kinds, fits them as if
// their logs had come from outside, and compares with the truth.
//
//	go run ./samples/ensemble -n 200 -seed 1000          fit, a table by parameter
//	go run ./samples/ensemble -n 40 -loops               also propose loops and run them on the machines
//	go run ./samples/ensemble -n 40 -loops -exact        propose from the true parameters, without a fit
//	go run ./samples/ensemble -write DIR -kind pressing -seed 7    one machine's logs, machine file and truth
//
// Machine i of -n has seed -seed plus i and takes the kinds in turn.
package main

import (
	"flag"
	"fmt"
	"io"
	"os"
	"strings"

	"eha/strokewise/ident/machine"
	"eha/strokewise/samples/twin"
	"eha/strokewise/tuning"
)

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }

// options are the command's flags.
type options struct {
	write, kind, logs           string
	n                           int
	seed                        uint64
	loops, exact, best, details bool
	pull, stated                bool
	scale                       machine.Scale
	damping                     bool
}

// ask returns what is asked of every proposal.
func (o options) ask() tuning.Options {
	opt := tuning.DefaultOptions()
	opt.Scale = o.scale
	if o.damping {
		opt.PressureDamping = machine.Yes
	}
	return opt
}

func run(args []string, stdout, stderr io.Writer) int {
	var o options
	flags := flag.NewFlagSet("ensemble", flag.ContinueOnError)
	flags.SetOutput(stderr)
	flags.StringVar(&o.write, "write", "", "write one machine's logs, machine file and truth into this folder")
	flags.StringVar(&o.kind, "kind", "", "kinds of machine, comma-separated; all in turn if empty: "+names()+"; by name also "+twin.Warming.String())
	flags.Uint64Var(&o.seed, "seed", 1000, "seed of the first machine")
	flags.IntVar(&o.n, "n", 22, "number of machines")
	flags.StringVar(&o.logs, "logs", "survey", "logs to fit: survey, asfound or all")
	flags.BoolVar(&o.loops, "loops", false, "propose loops and judge them on the machines")
	flags.BoolVar(&o.exact, "exact", false, "with -loops: design on the true parameters instead of a fit")
	flags.BoolVar(&o.best, "best", false, "with -loops: compare settling with the best found by brute force, and remedies with what they bring (seconds a machine)")
	flags.BoolVar(&o.pull, "pull", false, "machines that press do so while retracting")
	flags.BoolVar(&o.stated, "stated", false, "no log shows the work piece: it is stated, with half to twice its stiffness as the range, and machines of every kind get one")
	scale := flags.String("scale", "direction", "with -loops: the scale asked for: single, direction, chamber or table")
	flags.BoolVar(&o.damping, "damping", false, "with -loops: ask for pressure damping even where it does not pay")
	flags.BoolVar(&o.details, "details", false, "one line a machine")
	if err := flags.Parse(args); err != nil {
		return 2
	}
	kinds, err := parseKinds(o.kind)
	if err == nil {
		o.scale, err = parseScale(*scale)
	}
	if err == nil && o.logs != "survey" && o.logs != "asfound" && o.logs != "all" {
		err = fmt.Errorf("ensemble: -logs %q: not survey, asfound or all", o.logs)
	}
	if err == nil && (o.n < 1 || o.exact && !o.loops) {
		err = fmt.Errorf("ensemble: -n is at least 1, and -exact goes with -loops")
	}
	if err != nil {
		fmt.Fprintln(stderr, err)
		return 2
	}
	if o.write != "" {
		return writeOne(o, kinds[0], stdout, stderr)
	}
	var machines []func() *twin.Machine
	for i := range o.n {
		machines = append(machines, func() *twin.Machine {
			m := twin.Random(kinds[i%len(kinds)], o.seed+uint64(i))
			if o.stated {
				m = twin.Touching(m)
			}
			if o.pull && m.Contact != nil {
				m = twin.Pulling(m)
			}
			return m
		})
	}
	report(stdout, runAll(machines, o.one), o)
	return 0
}

// one simulates, fits and judges one machine.
func (o options) one(m *twin.Machine) result {
	r := result{machine: m}
	if o.exact {
		r.plant, r.err = exactPlant(m)
	} else {
		r = fitMachine(m, o.logs, o.stated)
	}
	if o.loops && r.plant != nil {
		r.loops = judge(m, r.plant, o)
	}
	return r
}

func writeOne(o options, kind twin.Kind, stdout, stderr io.Writer) int {
	if err := twin.WriteFolder(twin.Random(kind, o.seed), o.write); err != nil {
		fmt.Fprintln(stderr, err)
		return 1
	}
	fmt.Fprintf(stdout, "%s: machine %s-%d\n", o.write, kind, o.seed)
	return 0
}

func names() string {
	var all []string
	for _, k := range twin.Kinds() {
		all = append(all, k.String())
	}
	return strings.Join(all, ", ")
}

func parseScale(name string) (machine.Scale, error) {
	for _, s := range []machine.Scale{machine.ScaleSingle, machine.ScaleDirection, machine.ScaleChamber, machine.ScaleTable} {
		if s.String() == name {
			return s, nil
		}
	}
	return machine.ScaleUnknown, fmt.Errorf("ensemble: -scale %q: not single, direction, chamber or table", name)
}

func parseKinds(text string) ([]twin.Kind, error) {
	if text == "" {
		return twin.Kinds(), nil
	}
	var kinds []twin.Kind
	for _, name := range strings.Split(text, ",") {
		k, err := twin.ParseKind(strings.TrimSpace(name))
		if err != nil {
			return nil, err
		}
		kinds = append(kinds, k)
	}
	return kinds, nil
}
