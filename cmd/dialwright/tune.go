package main

import (
	"dialwright/scenarios/workbench"
	"errors"

	"github.com/spf13/cobra"
)

func newTune(s streams) *cobra.Command {
	study := workbench.NewTune(builtins(s))
	c := &cobra.Command{
		Use:   "tune",
		Short: "Find the settings you can change, proved on fresh people",
		Long: `Tune searches what the rigs mark as adjustable, and an acceleration for each task,
for the least time per dialing within caps on overshoot and lost clicks. What it
recommends is measured again on people that the search never met.

With --decide it answers a question of design instead: one accelerated knob or two
rings; press-for-coarse or acceleration; buttons, keys, relative counts or an axis
(output); acceleration in the program, the firmware or as a second button pair
(home). Each alternative is tuned by itself, so that it is fair, and all meet the same
fresh people.

With several --rig or --operator it looks for one profile for all of them: the best
on average, or with --for worst for the slowest. With --was, the rig that there was
before a change of hardware, it says which settings of --profile still hold.

With --over it looks for one profile for a whole population, a default: the least
mean over its members, or with --for worst of the slowest tenth of them, proved on
members that the search never met beside the population's own candidates.

With --write the profile goes to a file, with parts where knobs or tasks want their
own. One that is there already keeps its name, its comments and the order of its
keys (--force); a new one takes those of the file that --profile names.`,
		Example: `  dialwright tune
  dialwright tune --task heading --for calm
  dialwright tune --change program
  dialwright tune --decide rings
  dialwright tune --over households --max-overshoot 40% --max-lost 15%
  dialwright tune --rig mine.yaml --max-overshoot 5% --write tuned.yaml`,
		Args: cobra.NoArgs,
	}
	ask(c, study)
	out := newOutput(s, c, "table", "markdown", "json")
	out.detailFlag(c)
	c.Flags().Lookup("force").Usage = "replace the files that --output and --write name"
	c.RunE = func(c *cobra.Command, args []string) error {
		if err := errors.Join(study.Check(args), out.check(&study.Loader, target{"write", study.Write})); err != nil {
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
