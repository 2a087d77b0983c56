package main

import (
	"dialwright/scenarios/workbench"
	"errors"

	"github.com/spf13/cobra"
)

func newFollow(s streams) *cobra.Command {
	study := workbench.NewFollow(builtins(s))
	c := &cobra.Command{
		Use:   "follow",
		Short: "Follow one turn of the knob through the path, click by click",
		Long: `Follow sends a turn through a rig and shows in lanes what became of every click:
the knob, the firmware's counts and pulses, the polls and frames that looked, and
the steps that the program applied. With --trial it replays a trial that compare
or overshoot have done, as the simulated person turned the knob.`,
		Example: `  dialwright follow
  dialwright follow --rig right-relative --turn '24 in 800ms'
  dialwright follow --detents turn.csv --format json
  dialwright follow --task com-25 --trial 17 --profile power`,
		Args: cobra.NoArgs,
	}
	ask(c, study)
	out := newOutput(s, c, "table", "json")
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
