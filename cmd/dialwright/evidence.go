package main

import (
	"errors"
	"io"

	"github.com/spf13/cobra"

	"dialwright/scenarios/evidence"
)

func newEvidence(s streams) *cobra.Command {
	in := newInputs(s)
	c := &cobra.Command{
		Use:   "evidence",
		Short: "Show published values beside what this build computes",
		Long: `Evidence runs published studies of people, data sheets, standards and arithmetic on
the same path and the same people as your own tasks, and prints for each what was
published, who says so and how we know, what this build computes, and whether that
holds. It exits with 3 when something does not.`,
		Example: `  dialwright evidence
  dialwright evidence --format markdown --output evidence.md`,
		Args: cobra.NoArgs,
	}
	in.trialFlags(c.Flags(), evidence.Full.Trials)
	out := newOutput(s, c, "table", "markdown", "json")
	c.RunE = func(c *cobra.Command, _ []string) error {
		if err := errors.Join(in.check(), out.check(&in.Loader)); err != nil {
			return err
		}
		size := evidence.Full
		size.Events = max(1, size.Events*in.trials/size.Trials)
		size.Trials, size.Seed = in.trials, in.seed
		p := out.newProgress("evidence")
		checks, err := evidence.Checks(c.Context(), size, in.workers, p.at)
		p.end()
		partial := c.Context().Err() != nil
		switch {
		case partial && len(checks) == 0:
			return err
		case err != nil && !partial:
			return failure{err}
		}
		err = out.write(partial, func(w io.Writer) error {
			switch out.format {
			case "markdown":
				return evidence.Markdown(w, checks)
			case "json":
				type report struct {
					Checks []evidence.Check `json:"checks"`
				}
				return writeJSON(w, in.header("evidence", partial), report{checks})
			}
			return evidence.Text(w, checks)
		})
		if err == nil && len(evidence.Broken(checks)) > 0 {
			return errFalse
		}
		return err
	}
	return c
}
