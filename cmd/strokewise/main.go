// Command strokewise judges logged drive data of an electro-hydrostatic
// actuator, fits the machine, proposes its loop settings and shows all of it in
// the terminal. README.md tells how to use it.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"syscall"

	"eha/strokewise/tuning/job"
)

// The exit statuses, as README.md lists them.
const (
	exitDone        = 0
	exitFault       = 1
	exitUsage       = 2
	exitFile        = 3
	exitUnsupported = 4
	exitStopped     = 130 // by an interrupt, as shells report it
)

// streams are where a run reads and writes, so that tests can stand in for a terminal.
type streams struct {
	in       io.Reader
	out, err io.Writer
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second interrupt ends the program at once
	os.Exit(run(ctx, os.Args[1:], streams{os.Stdin, os.Stdout, os.Stderr}))
}

// usageError is a wrong call of the program.
type usageError struct{ error }

// unsupportedError says that the logs do not support the answer asked for; what
// could be found has been written by then.
type unsupportedError struct{ error }

// run executes one command line and returns its exit status. A panic becomes
// one line, the stack and exitFault.
func run(ctx context.Context, args []string, s streams) (status int) {
	defer func() {
		if fault := recover(); fault != nil {
			fmt.Fprintf(s.err, "strokewise: fault in the program: %v\nYour files are untouched. Please report this with the lines below.\n%s", fault, debug.Stack())
			status = exitFault
		}
	}()
	root := newRoot(s, "strokewise "+strings.Join(args, " "))
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	switch {
	case err == nil:
		return exitDone
	case ctx.Err() != nil:
		fmt.Fprintln(s.err, "strokewise: stopped before the end; nothing half written is left")
		return exitStopped
	}
	fmt.Fprintf(s.err, "strokewise: %v\n", err)
	return statusOf(err)
}

func statusOf(err error) int {
	var usage usageError
	var file *job.FileError
	var stop *job.StopError
	var unsupported unsupportedError
	switch {
	case errors.As(err, &usage):
		return exitUsage
	case errors.As(err, &file):
		return exitFile
	case errors.As(err, &stop), errors.As(err, &unsupported):
		return exitUnsupported
	}
	return exitFault
}
