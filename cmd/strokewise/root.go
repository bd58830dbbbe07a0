package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tuning/job"
)

// common are the flags that every command with logs shares.
type common struct {
	machine  string
	period   string
	channels []string
	leaveOut []string
	json     bool
	units    string
	output   string
	asFound  string
}

// newRoot builds the command tree; nothing global, so that tests can run many.
// line is the command line as typed, for the record.
func newRoot(s streams, line string) *cobra.Command {
	c := &common{}
	root := &cobra.Command{
		Use:   "strokewise [LOG ...]",
		Short: "Loop settings for electro-hydrostatic actuators, from logged drive data",
		Long: "strokewise judges logged drive data of an electro-hydrostatic actuator, fits the machine and proposes\n" +
			"position and force loop settings with margins and simulated responses. It reads files and never connects\n" +
			"to a drive. With a terminal it opens its screens, without logs on an invented demo machine.",
		Args:          cobra.ArbitraryArgs,
		SilenceErrors: true, SilenceUsage: true,
		Version:           version(),
		CompletionOptions: cobra.CompletionOptions{HiddenDefaultCmd: true},
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := misspelt(cmd, args); err != nil {
				return err
			}
			return runScreens(cmd.Context(), c, args, s)
		},
	}
	root.SetOut(s.out)
	root.SetErr(s.err)
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return usageError{fmt.Errorf("%w; %s --help lists the flags", err, cmd.CommandPath())}
	})
	c.addFlags(root)
	root.AddCommand(newCheck(s), newFit(s), newTune(s), newCompare(s), newReport(s, line), newMoves(s), newDemo(s))
	return root
}

// addFlags declares the common flags on a command.
func (c *common) addFlags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVarP(&c.machine, "machine", "m", "", "machine `file`")
	f.StringVar(&c.period, "log-period", "", "sample `period` of logs without time, such as 2ms (not the controller's)")
	f.StringVar(&c.period, "period", "", "same as --log-period")
	f.StringArrayVar(&c.channels, "channel", nil, "column of a channel, as `rod_position=COLUMN[unit]`; repeatable")
	f.StringArrayVar(&c.leaveOut, "leave-out", nil, "stretch of a log to leave out, as `LOG=12s..14s`; repeatable")
	f.StringVar(&c.units, "units", "metric", "units shown: `metric` or inch (JSON keeps its own)")
	f.StringVar(&c.asFound, "as-found", "", "settings `file` in use when the logs were made")
}

// addResultFlags declares the flags of commands that print a result.
func (c *common) addResultFlags(cmd *cobra.Command) {
	c.addFlags(cmd)
	f := cmd.Flags()
	f.BoolVar(&c.json, "json", false, "one JSON document on standard output")
	f.StringVarP(&c.output, "output", "o", "", "write the result to `file` instead, whole or not at all")
}

// source turns flags and arguments into what is to be read.
func (c *common) source(logs []string, s streams) (job.Source, error) {
	src := job.Source{Machine: c.machine, Logs: logs, AsFound: c.asFound, Columns: map[trace.Channel]trace.Column{}, Stdin: s.in}
	if c.period != "" {
		period, err := quantity.Parse(c.period, quantity.Time)
		if err != nil || !(period > 0) {
			return src, usageError{fmt.Errorf("--log-period %q: expected a time with its unit above zero, such as 2ms", c.period)}
		}
		src.Period = period
	}
	for _, text := range c.channels {
		channel, column, err := trace.ParseColumn(text)
		if err != nil {
			return src, usageError{fmt.Errorf("--channel: %w", err)}
		}
		src.Columns[channel] = column
	}
	for _, text := range c.leaveOut {
		log, part, err := leftOut(text, logs)
		if err != nil {
			return src, usageError{err}
		}
		if src.LeftOut == nil {
			src.LeftOut = map[string][]trace.Stretch{}
		}
		src.LeftOut[log] = append(src.LeftOut[log], part)
	}
	return src, nil
}

// leftOut reads a stretch of one of the logs, such as "survey.csv=12s..14s".
func leftOut(text string, logs []string) (log string, part trace.Stretch, err error) {
	at := strings.LastIndexByte(text, '=')
	from, to, parted := strings.Cut(text[at+1:], "..")
	if at >= 0 {
		log = text[:at]
	}
	if part.From, err = quantity.Parse(from, quantity.Time); err == nil && parted {
		part.To, err = quantity.Parse(to, quantity.Time)
	}
	switch {
	case err != nil || at < 0 || !parted || !(part.To > part.From):
		return log, part, fmt.Errorf("--leave-out %q: expected a log and two times with their units, such as survey.csv=12s..14s", text)
	case !slices.Contains(logs, log):
		return log, part, fmt.Errorf("--leave-out %q: %s is not among the logs named; name it as there", text, trace.Printable(log))
	}
	return log, part, nil
}

// system returns the units of display.
func (c *common) system() (quantity.System, error) {
	system, ok := quantity.ParseSystem(c.units)
	if !ok {
		return system, usageError{fmt.Errorf("--units %q: expected metric or inch", c.units)}
	}
	return system, nil
}

// needLogs is the argument rule of commands that cannot do without a log.
func needLogs(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return usageError{errors.New(cmd.CommandPath() + ": needs at least one log; strokewise demo DIR writes some to try")}
	}
	return nil
}

// misspelt catches a single word that names no file but nearly a command.
func misspelt(cmd *cobra.Command, args []string) error {
	if len(args) == 0 || strings.ContainsAny(args[0], "./\\+") {
		return nil
	}
	cmd.SuggestionsMinimumDistance = 2
	if near := cmd.SuggestionsFor(args[0]); len(near) > 0 && !isFile(args[0]) {
		return usageError{fmt.Errorf("%q is neither a file nor a command; did you mean %s?", args[0], strings.Join(near, " or "))}
	}
	return nil
}
