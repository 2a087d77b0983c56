package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"dialwright/scenarios/file"
)

// Exit codes.
const (
	exitDone        = 0
	exitFailed      = 1   // failed while running
	exitUsage       = 2   // wrong usage, or a file that cannot be used
	exitFalse       = 3   // done, but something checked does not hold
	exitInterrupted = 130 // what was finished is printed and marked as partial
)

var (
	// errFalse ends a command whose answer is no.
	errFalse = errors.New("does not hold")
	// errInterrupted ends a command that printed a partial result.
	errInterrupted = errors.New("interrupted")
)

// failure is an error while running, after the inputs were found good.
type failure struct{ error }

func (f failure) Unwrap() error { return f.error }

// streams are what a command reads and writes.
type streams struct {
	in       io.Reader
	out, err io.Writer
}

// run is the whole program: it takes what main takes from the system and returns
// the exit code.
func run(ctx context.Context, args []string, in io.Reader, out, err io.Writer) int {
	root := newRoot(streams{in, out, err})
	root.SetArgs(args)
	root.SetIn(in)
	root.SetOut(out)
	root.SetErr(err)
	e := root.ExecuteContext(ctx)
	var failed failure
	switch {
	case e == nil:
		return exitDone
	case errors.Is(e, errFalse):
		return exitFalse
	case errors.Is(e, errInterrupted):
		fmt.Fprintln(err, "interrupted: the result is partial")
		return exitInterrupted
	case errors.Is(e, context.Canceled):
		fmt.Fprintln(err, "interrupted: nothing was finished")
		return exitInterrupted
	}
	for line := range strings.SplitSeq(e.Error(), "\n") {
		fmt.Fprintln(err, line)
	}
	if errors.As(e, &failed) || file.IsWriteFailure(e) {
		return exitFailed
	}
	return exitUsage
}

func newRoot(s streams) *cobra.Command {
	root := &cobra.Command{
		Use:   "dialwright",
		Short: "Find out why a rotary encoder disappoints, and what to set",
		Long: `dialwright models the whole way from a detented rotary encoder to the number on
the screen, and the person who turns the knob. Without flags every command works
on the demo, the training desk of the Quillmoor flying school (invented).

For simulators, training desks, hobby panels and receivers; not for certified
aircraft equipment or navigation.`,
		SilenceUsage:  true,
		SilenceErrors: true,
		Args:          cobra.NoArgs,
		Version:       version(),
		RunE:          func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return fmt.Errorf("%w; %s --help lists the flags", err, c.CommandPath())
	})
	root.AddCommand(newCompare(s), newOvershoot(s), newExplain(s), newTune(s), newFit(s), newExport(s), newReport(s), newFollow(s), newCapture(s), newNew(s), newShow(s), newList(s), newCheck(s), newEvidence(s))
	return root
}
