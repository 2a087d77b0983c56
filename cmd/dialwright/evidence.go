package main

import (
	"errors"
	"io"

	"github.com/spf13/cobra"

	"dialwright/scenarios/evidence"
	"dialwright/scenarios/workbench"
)

func newEvidence(s streams) *cobra.Command {
	in := workbench.NewAsked(builtins(s), evidence.Full.Trials)
	c := &cobra.Command{
		Use:   "evidence [ID ...]",
		Short: "Show published values beside what this build computes",
		Long: `Evidence runs published studies of people, data sheets, standards and arithmetic on
the same path and the same people as your own tasks, and prints for each what was
published, who says so and how we know, what this build computes, and whether that
holds. Without arguments it says how they stand; with an ID it prints one check in
full, with --all every check. What the people were set on, what holds by
construction, and what was published but never compared does not count as a check.
It exits with 3 when something does not hold.`,
		Example: `  dialwright evidence
  dialwright evidence A4
  dialwright evidence --format markdown --output evidence.md`,
		ValidArgs: evidence.IDs(),
	}
	var all bool
	c.Flags().BoolVar(&all, "all", false, "print every check in full")
	flagsOf(c, in.TrialFlags("trials a cell"))
	out := newOutput(s, c, "table", "markdown", "json")
	c.RunE = func(c *cobra.Command, args []string) error {
		faults := []error{in.CheckTrials(), out.check(&in.Loader)}
		var ids []string
		for _, written := range args {
			id, err := evidence.Named(written)
			ids, faults = append(ids, id), append(faults, err)
		}
		if all && len(ids) > 0 {
			faults = append(faults, errors.New("--all goes without an ID"))
		}
		if err := errors.Join(faults...); err != nil {
			return err
		}
		size := evidence.Full
		size.Events = max(1, size.Events*in.Trials/size.Trials)
		size.Trials, size.Seed = in.Trials, in.Seed
		p := out.newProgress("evidence")
		checks, err := evidence.Checks(c.Context(), size, in.Workers, p.at, ids...)
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
				return workbench.WriteJSON(w, in.Header("evidence", partial), evidenceReport{evidence.ByKind(checks), checks})
			}
			switch {
			case all:
				return evidence.All(w, out.width(), checks)
			case len(ids) > 0:
				return evidence.Text(w, out.width(), checks)
			}
			return evidence.Summary(w, out.width(), checks)
		})
		if err == nil && len(evidence.Broken(checks)) > 0 {
			return errFalse
		}
		return err
	}
	return c
}
