package main

import (
	"errors"
	"strings"

	"github.com/spf13/cobra"

	"dialwright/scenarios/file"
	"dialwright/scenarios/workbench"
)

// builtins returns a loader for the built-in names and for files.
func builtins(s streams) file.Loader {
	l := workbench.Builtins()
	l.Context, l.In = s.ctx, s.in
	return l
}

// asked returns the command of a study, and where its result goes.
func asked(s streams, study workbench.Study, of workbench.Command) (*cobra.Command, *output) {
	c := &cobra.Command{Use: of.Use, Short: of.Short, Long: of.Long, Example: of.Example}
	switch _, takes, _ := strings.Cut(of.Use, " "); {
	case takes == "":
		c.Args = cobra.NoArgs
	case strings.HasSuffix(takes, "...]"):
	case strings.HasPrefix(takes, "["):
		c.Args = cobra.MaximumNArgs(1)
	default:
		c.Args = cobra.ExactArgs(1)
	}
	if of.Words != nil {
		c.ValidArgsFunction = completeNames(of.Words)
	}
	flagsOf(c, study.Flags())
	study.Asks().Given = c.Flags().Changed
	out := newOutput(s, c, of.Forms...)
	if of.Detail {
		out.detailFlag(c)
	}
	writing := []string{"--output"}
	for _, x := range study.Flags() {
		if x.Writes {
			writing = append(writing, "--"+x.Name)
		}
	}
	if n := len(writing) - 1; n > 0 {
		c.Flags().Lookup("force").Usage = "replace the files that " + strings.Join(writing[:n], ", ") + " and " + writing[n] + " name"
	}
	c.RunE = func(c *cobra.Command, args []string) error {
		if err := out.checked(study, args); err != nil {
			return err
		}
		r, err := out.run(c, study, args)
		if r == nil {
			return err
		}
		return out.result(r)
	}
	return c, out
}

// checked says what is wrong with the flags of a study, and with the files that it is to
// write, before any work is done.
func (o *output) checked(study workbench.Study, args []string) error {
	var more []target
	for _, x := range study.Flags() {
		if x.Writes {
			more = append(more, target{x.Name, *x.Value.(*string)})
		}
	}
	return errors.Join(study.Check(args), o.check(&study.Asks().Loader, more...))
}

// flagsOf gives a command flags that the shell completes.
func flagsOf(c *cobra.Command, flags []workbench.Flag) {
	f := c.Flags()
	for _, x := range flags {
		switch v := x.Value.(type) {
		case *string:
			f.StringVar(v, x.Name, *v, x.Usage)
		case *[]string:
			if x.Commas {
				f.StringSliceVar(v, x.Name, *v, x.Usage)
			} else {
				f.StringArrayVar(v, x.Name, *v, x.Usage)
			}
		case *int:
			f.IntVar(v, x.Name, *v, x.Usage)
		case *uint64:
			f.Uint64Var(v, x.Name, *v, x.Usage)
		case *bool:
			f.BoolVar(v, x.Name, *v, x.Usage)
		}
		if x.Words != nil {
			mustComplete(c, x.Name, x.Words)
		}
	}
}

// run works a study out, with its progress on the terminal.
func (o *output) run(c *cobra.Command, study workbench.Study, args []string) (*workbench.Outcome, error) {
	p := o.newProgress(c.Name())
	defer p.end()
	return study.Run(c.Context(), args, func(done, all int, found string) {
		p.at(done, all)
		if found != "" {
			p.say(found)
		}
	})
}
