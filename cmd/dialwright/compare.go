package main

import (
	"dialwright/scenarios/workbench"
	"errors"

	"github.com/spf13/cobra"
)

func newCompare(s streams) *cobra.Command {
	study := workbench.NewCompare(builtins(s))
	c := &cobra.Command{
		Use:   "compare [PROFILE ...]",
		Short: "Compare profiles, rigs or operators on a panel's tasks",
		Long: `Compare lets every candidate do the same dialings: the same people, the same
targets, the same noise. Without arguments it compares the built-in profiles on
the demo panel. With --rig given twice or more it compares rigs; with --operator
given twice or more, operators; then one profile at most.`,
		Example: `  dialwright compare
  dialwright compare plain power --task com-25
  dialwright compare --rig before.yaml --rig after.yaml
  dialwright compare plain --operator novice --operator expert`,
		ValidArgsFunction: completeNames(study.Profiles.Names),
	}
	ask(c, study)
	out := newOutput(s, c, "table", "markdown", "csv", "json")
	out.detailFlag(c)
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
