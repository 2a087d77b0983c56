package main

import (
	"dialwright/scenarios/workbench"
	"errors"

	"github.com/spf13/cobra"
)

func newOvershoot(s streams) *cobra.Command {
	study := workbench.NewOvershoot(builtins(s))
	c := &cobra.Command{
		Use:   "overshoot [TASK]",
		Short: "Find out how far past the target a number goes, how often, and why",
		Long: `Overshoot dials a task many times and counts by how much the number went past its
target, ring by ring, with the cause of each. Without a task it takes the panel's
radio tasks; the beginning of several names takes all of them: hf-20m is tuning on
20 m at its three tolerances.`,
		Example: `  dialwright overshoot com-25 --profile power
  dialwright overshoot hf-20m
  dialwright overshoot transponder --operator novice --trials-out trials.csv`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeNames(study.Tasks.Names),
	}
	ask(c, study)
	out := newOutput(s, c, "table", "markdown", "csv", "json")
	out.detailFlag(c)
	c.RunE = func(c *cobra.Command, args []string) error {
		if err := errors.Join(study.Check(args), out.check(&study.Loader, target{"trials-out", study.TrialsOut})); err != nil {
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
