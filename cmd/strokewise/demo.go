package main

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"eha/strokewise/samples"
	"eha/strokewise/tuning/job"
)

func newDemo(s streams) *cobra.Command {
	return &cobra.Command{
		Use:   "demo DIR",
		Short: "Write the invented demo machine's logs, machine file and settings in use into DIR",
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
			text := fmt.Sprintf("%s\n\nWrote %s into %[3]s. Try:\n"+
				"  strokewise tune -m %[3]s/machine.toml %[3]s/survey.csv %[3]s/press.csv\n"+
				"  strokewise compare -m %[3]s/machine.toml --before %[3]s/asfound.csv --after %[3]s/after/after.csv\n",
				samples.Scenario, strings.Join(names, ", "), args[0])
			return printAll(s.out, []byte(text))
		},
	}
}
