package main

import (
	"context"
	"io"
	"os"

	"github.com/mattn/go-isatty"

	"eha/strokewise/tui"
	"eha/strokewise/tui/bench"
	"eha/strokewise/tuning"
	"eha/strokewise/tuning/job"
	"eha/strokewise/tuning/record"
)

// runScreens opens the terminal program; without a terminal it prints the text
// report of tune, without logs that of the demo machine.
func runScreens(ctx context.Context, c *common, logs []string, s streams) error {
	if onTerminal(s) {
		return openScreens(ctx, c, logs, s)
	}
	if len(logs) > 0 {
		return runTune(ctx, c, tuning.DefaultOptions(), "", logs, s)
	}
	system, err := c.system()
	if err != nil {
		return err
	}
	p, err := job.DemoPlant()
	if err != nil {
		return err
	}
	t, err := tuning.Propose(ctx, p, tuning.DefaultOptions())
	if err != nil {
		return err
	}
	return c.deliver(s, func(w io.Writer) error { return record.WriteTune(w, t, p, system) })
}

// onTerminal reports whether both ends of the conversation are a terminal.
func onTerminal(s streams) bool {
	in, isFile := s.in.(*os.File)
	out, isFileToo := s.out.(*os.File)
	// A dumb terminal cannot place text; it gets the plain report.
	return isFile && isFileToo && isatty.IsTerminal(in.Fd()) && isatty.IsTerminal(out.Fd()) && os.Getenv("TERM") != "dumb"
}

// openScreens starts on the logs named, else on the demo machine with what lies in the folder on offer.
func openScreens(ctx context.Context, c *common, logs []string, s streams) error {
	system, err := c.system()
	if err != nil {
		return err
	}
	src, err := c.source(logs, s)
	if err != nil {
		return err
	}
	start := tui.Start{Units: system, Folder: ".", Request: tui.Request{
		Paths: logs, MachineFile: src.Machine, AsFound: src.AsFound, Columns: src.Columns, LeftOut: src.LeftOut, Period: src.Period}}
	start.Work.Options = tuning.DefaultOptions()
	if len(logs) == 0 {
		if start.Work.Plant, err = job.DemoPlant(); err != nil {
			return err
		}
		start.Work.Demo = true
	}
	err = tui.Run(ctx, bench.Services(version()), start)
	if ctx.Err() != nil {
		return ctx.Err() // the screens may take the signal for a key and end without a fault
	}
	return err
}
