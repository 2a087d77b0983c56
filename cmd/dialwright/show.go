package main

import (
	"dialwright/scenarios/workbench"
	"errors"

	"github.com/spf13/cobra"
)

func newShow(s streams) *cobra.Command {
	study := workbench.NewShow(builtins(s))
	c := &cobra.Command{
		Use:   "show NAME",
		Short: "Show anything built in as the file one would write",
		Long: `Show prints a built-in panel, rig, profile, task, operator or population as a file: a start for one
of your own. Of a part or a system it prints a rig that has it.`,
		Example: `  dialwright show left-pulse --output mine.yaml
  dialwright show practised`,
		Args:              cobra.ExactArgs(1),
		ValidArgsFunction: completeNames(workbench.Shown(&study.Loader)),
	}
	out := newOutput(s, c, "yaml")
	c.RunE = func(c *cobra.Command, args []string) error {
		if err := errors.Join(study.Check(args), out.check(&study.Loader)); err != nil {
			return err
		}
		r, err := out.run(c, study, args)
		if r == nil {
			return err
		}
		return out.result(r)
	}
	return c
}
