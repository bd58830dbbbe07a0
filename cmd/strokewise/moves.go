package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tuning/job"
	"eha/strokewise/tuning/moves"
)

// The files beside the tables.
const (
	movesFile = "moves.json"
	sheetFile = "sheet.txt"
)

func newMoves(s streams) *cobra.Command {
	c := &common{}
	command := "speed"
	cmd := &cobra.Command{
		Use:   "moves [-m machine.toml] [PLANT.json or LOG ...] -o DIR",
		Short: "Test-move tables (CSV) for the drive to play, inside stated limits, and the sheet to print",
		Long: "Plans the test moves from the machine file and, where given, an earlier fit (a plant file or logs): one CSV per\n" +
			"move and size, moves.json and sheet.txt in DIR. Read the sheet before anything is played.",
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if c.output == "" {
				return usageError{errors.New("strokewise moves: needs -o DIR, the folder to write the tables into")}
			}
			opt, err := moveOptions(command)
			if err != nil {
				return err
			}
			return runMoves(cmd.Context(), c, opt, args, s)
		},
	}
	c.addFlags(cmd)
	f := cmd.Flags()
	f.BoolVar(&c.json, "json", false, "moves.json on standard output instead of the sheet")
	f.StringVarP(&c.output, "output", "o", "", "`folder` to write into; made where it is absent")
	f.StringVar(&command, "command", command, "what the tables command: `speed`, played open loop, or position")
	return cmd
}

func moveOptions(command string) (moves.Options, error) {
	switch command {
	case "speed":
		return moves.Options{Command: trace.SpeedCommand}, nil
	case "position":
		return moves.Options{Command: trace.PositionCommand}, nil
	}
	return moves.Options{}, usageError{fmt.Errorf("--command %q: expected speed or position", command)}
}

func runMoves(ctx context.Context, c *common, opt moves.Options, logs []string, s streams) error {
	system, err := c.system()
	if err != nil {
		return err
	}
	plan, err := c.planMoves(ctx, opt, logs, s)
	if err != nil {
		return err
	}
	list, err := moves.EncodeJSON(plan)
	if err != nil {
		return err
	}
	sheet := moves.Sheet(plan, system)
	if err := savePlan(c.output, plan, list, []byte(sheet)); err != nil {
		return err
	}
	out := sheet
	if c.json {
		out = string(list)
	}
	if _, err := io.WriteString(s.out, out); err != nil {
		return err
	}
	if len(plan.Moves) == 0 {
		return unsupportedError{errors.New("no move can be planned inside these bounds; the sheet says why, move by move")}
	}
	fmt.Fprintf(s.err, "wrote %d tables, %s and %s into %s\n", len(plan.Moves), movesFile, sheetFile, c.output)
	return nil
}

// planMoves plans by the machine file and, where logs or a plant file are given, by their fit.
func (c *common) planMoves(ctx context.Context, opt moves.Options, logs []string, s streams) (*moves.Plan, error) {
	j, err := c.open(ctx, logs, s)
	if err == nil {
		err = c.mistyped(j)
	}
	if err != nil {
		return nil, err
	}
	var p *plant.Plant
	if len(logs) > 0 {
		if p, err = fitted(ctx, j, s); err != nil {
			return nil, err
		}
	}
	var m *machine.Machine // nil: the plant's own
	if j.MachineFile != "" || p == nil {
		m = &j.Machine
	}
	plan, err := moves.For(m, p, opt)
	if err != nil {
		return nil, unsupportedError{err}
	}
	return plan, nil
}

// savePlan writes every file of the plan into dir, each whole or not at all; the
// list comes last, so that whoever finds it finds what it names.
func savePlan(dir string, plan *moves.Plan, list, sheet []byte) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return &job.FileError{Path: dir, Err: fmt.Errorf("%s: cannot be made: %w", dir, err)}
	}
	if err := refuseStale(dir, plan); err != nil {
		return err
	}
	save := func(name string, data []byte) error {
		path := filepath.Join(dir, name)
		if err := job.Save(path, data); err != nil {
			return &job.FileError{Path: path, Err: err}
		}
		return nil
	}
	for i := range plan.Moves {
		if err := save(plan.Moves[i].File(), moves.EncodeCSV(&plan.Moves[i])); err != nil {
			return err
		}
	}
	if err := save(sheetFile, sheet); err != nil {
		return err
	}
	return save(movesFile, list)
}

// refuseStale returns an error if dir holds a table of an earlier plan that this
// one does not replace: nobody should play it by mistake.
func refuseStale(dir string, plan *moves.Plan) error {
	fresh := map[string]bool{}
	for i := range plan.Moves {
		fresh[plan.Moves[i].File()] = true
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return &job.FileError{Path: dir, Err: fmt.Errorf("%s: cannot be read: %w", dir, err)}
	}
	for _, e := range entries {
		if moves.IsTable(e.Name()) && !fresh[e.Name()] {
			return &job.FileError{Path: dir, Err: fmt.Errorf("%s: holds %s of an earlier plan, which this plan leaves out; name another folder, or remove the old tables", dir, e.Name())}
		}
	}
	return nil
}
