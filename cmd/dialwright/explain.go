package main

import (
	"dialwright/scenarios/workbench"
	"errors"

	"github.com/spf13/cobra"
)

func newExplain(s streams) *cobra.Command {
	study := workbench.NewExplain(builtins(s))
	c := &cobra.Command{
		Use:   "explain",
		Short: "Find out what each link of the path costs, and what to change",
		Long: `Explain makes every combination of the links of the path ideal, with the same
people and targets, and gives each link its fair share of the blame. For the links
that cost enough it tries the settings that the rig marks as adjustable.`,
		Example: `  dialwright explain
  dialwright explain --task com-25 --profile ladder
  dialwright explain --what-if firmware.pulse=40ms,program.frames=60/s`,
		Args: cobra.NoArgs,
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
