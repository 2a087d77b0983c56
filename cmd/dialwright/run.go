package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"runtime/debug"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"dialwright/scenarios/columns"
	"dialwright/scenarios/file"
	"dialwright/scenarios/workbench"
)

// Exit codes.
const (
	exitDone        = 0
	exitFailed      = 1   // failed while running, or the system refused to read or write a file
	exitUsage       = 2   // wrong usage, or a file whose content cannot be used
	exitFalse       = 3   // done, but something checked does not hold
	exitPanicked    = 70  // a fault of the program itself (EX_SOFTWARE of sysexits.h)
	exitInterrupted = 130 // what was finished is printed and marked as partial
)

var (
	// errFalse ends a command whose answer is no.
	errFalse = errors.New("does not hold")
	// errUnread ends a check that named a file that cannot be read.
	errUnread = errors.New("cannot be read")
	// errInterrupted ends a command that printed a partial result.
	errInterrupted = errors.New("interrupted")
)

// failure is an error while running, after the inputs were found good.
type failure struct{ error }

func (f failure) Unwrap() error { return f.error }

// streams are what a command reads and writes, and what ends it.
type streams struct {
	ctx      context.Context
	in       io.Reader
	out, err io.Writer
}

// run is the whole program: it takes what main takes from the system and returns
// the exit code.
func run(ctx context.Context, args []string, in io.Reader, out, err io.Writer) (code int) {
	said := printed(err)
	defer func() {
		if p := recover(); p != nil {
			fmt.Fprintf(said, "dialwright panicked, which it must never do: %v\nplease report this line, what follows and the files that were used: dialwright %s\n%s",
				p, columns.Line(strings.Join(args, " ")), debug.Stack())
			code = exitPanicked
		}
	}()
	root := newRoot(streams{ctx, in, out, err})
	root.SetArgs(args)
	root.SetIn(in)
	help := &heard{Writer: out}
	root.SetOut(help)
	root.SetErr(err)
	e := root.ExecuteContext(ctx)
	say := func(lines string) {
		_ = file.Aside(ctx, func() error { _, err := fmt.Fprintln(said, lines); return err }) // there is nobody else to tell
	}
	var failed failure
	if help.err != nil {
		e = failure{fmt.Errorf("cannot write the result: %w", help.err)}
	}
	switch {
	case e == nil:
		return exitDone
	case errors.Is(e, errFalse):
		return exitFalse
	case errors.Is(e, errUnread):
		return exitFailed
	case errors.Is(e, errInterrupted):
		say("interrupted: the result is partial")
		return exitInterrupted
	case errors.Is(e, context.Canceled), ctx.Err() != nil && !errors.As(e, &failed) && !workbench.IsFailure(e) && !file.IsSystemFailure(e):
		say("interrupted: nothing was finished")
		return exitInterrupted
	}
	say(e.Error())
	if errors.As(e, &failed) || workbench.IsFailure(e) || file.IsSystemFailure(e) {
		return exitFailed
	}
	return exitUsage
}

// heard is a stream that remembers what went wrong: cobra does not ask when it has
// printed help.
type heard struct {
	io.Writer
	err error
}

func (h *heard) Write(p []byte) (int, error) {
	n, err := h.Writer.Write(p)
	h.err = cmp.Or(h.err, err)
	return n, err
}

// noneEmpty refuses flags and arguments that are given without a value, as a shell
// does of a variable that is not set.
func noneEmpty(c *cobra.Command, args []string) error {
	var faults []error
	c.Flags().Visit(func(f *pflag.Flag) {
		values := []string{f.Value.String()}
		if list, ok := f.Value.(pflag.SliceValue); ok {
			values = list.GetSlice()
		}
		if slices.Contains(values, "") {
			faults = append(faults, fmt.Errorf("--%s: the value is empty; leave the flag out, or give it one", f.Name))
		}
	})
	if slices.Contains(args, "") && c.Runnable() && c.Name() != cobra.ShellCompRequestCmd && c.Name() != cobra.ShellCompNoDescRequestCmd {
		faults = append(faults, errors.New("an argument is empty; leave it out, or name something"))
	}
	return errors.Join(faults...)
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
		Version:       workbench.Version(),
		RunE:          func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	root.PersistentPreRunE = func(c *cobra.Command, args []string) error { return noneEmpty(c, args) }
	cobra.MousetrapHelpText = "" // a double-click opens the workbench, see main
	for _, study := range workbench.Commands(func() file.Loader { return builtins(s) }) {
		c, _ := asked(s, study, study.Command())
		root.AddCommand(c)
	}
	root.AddCommand(newReport(s), newServe(s), newCapture(s), newNew(s), newList(s), newCheck(s), newEvidence(s), newSurvey(s), newMerge(s), newLicences(s))
	forgive(s, root)
	return root
}
