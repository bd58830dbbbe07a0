package main

import (
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"eha/strokewise/samples"
	"eha/strokewise/tuning/job"
)

var errNoLogs = errors.New("check judges logs, and a plant file holds none")

func newDemo(s streams) *cobra.Command {
	return &cobra.Command{
		Use:   "demo DIR",
		Short: "Write the invented demo machine's logs and machine file into DIR",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return usageError{errors.New("strokewise demo: needs the one folder to write into")}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := os.MkdirAll(args[0], 0o755); err != nil {
				return &job.FileError{Path: args[0], Err: fmt.Errorf("%s: cannot be made: %w", args[0], job.Cause(err))}
			}
			names, err := job.WriteDemo(args[0])
			if err != nil {
				return err
			}
			text := fmt.Sprintf("%s\n\nWrote %v into %s. Try:\n  strokewise tune -m %s/machine.toml %s/survey.csv %s/press.csv\n",
				samples.Scenario, names, args[0], args[0], args[0], args[0])
			return printAll(s.out, []byte(text))
		},
	}
}
