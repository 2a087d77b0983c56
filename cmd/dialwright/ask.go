package main

import (
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

// ask gives a command the flags of its study.
func ask(c *cobra.Command, study workbench.Study) {
	flagsOf(c, study.Flags())
	study.Asks().Given = c.Flags().Changed
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
