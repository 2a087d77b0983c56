package main

import (
	"dialwright/scenarios/workbench"
	"errors"
	"fmt"

	"github.com/spf13/cobra"
)

func newFit(s streams) *cobra.Command {
	study := workbench.NewFit(builtins(s))
	c := &cobra.Command{
		Use:   "fit [RECORDING ...]",
		Short: "Find your rig and your hand from recordings and count tests",
		Long: `Fit finds out what a knob does: from a recording of its reports (dialwright capture,
evemu, libinput's recorder, raw event or joystick dumps, JSON lines of a browser page,
CSV), from a trace of its two contacts (CSV of a logic analyser), or from both, one of
each. What a recording does not show is said to be unknown. A fit is replayed, and
whether the replays look like the recording is printed.

Without a recorder, count: turn so many clicks in about such a time, slowly, briskly
and in a flick, with acceleration off, and say how far the number moved. That tells
which links may lose the clicks.

--dialed takes the numbers that you dialed on the page of dialwright serve. It finds
what they show of you, and says how well that predicts you: each half of the pairs as
the person fitted to the other half dials them.

Without arguments it fits a simulated session on the demo's rig left-pulse.`,
		Example: `  dialwright fit --count 'turned 24 in 12s shown 24' --count 'turned 24 in 2.4s shown 17'
  dialwright fit knob.csv --turned 144 --write-rig mine.yaml --write-operator me.yaml
  dialwright fit wheel.evemu --format json
  dialwright fit contacts.csv knob.csv
  dialwright fit --dialed dialings.jsonl --write-operator me.yaml`,
	}
	ask(c, study)
	out := newOutput(s, c, "table", "markdown", "json")
	c.Flags().Lookup("force").Usage = "replace the files that --output, --write-rig and --write-operator name"
	c.RunE = func(c *cobra.Command, args []string) error {
		if err := errors.Join(study.Check(args), out.check(&study.Loader, target{"write-rig", study.WriteRig}, target{"write-operator", study.WriteOperator})); err != nil {
			return err
		}
		r, err := out.run(c, study, args)
		if r == nil {
			return err
		}
		if len(args)+len(study.Counts) == 0 && study.Dialed == "" {
			out.hint = ownKnob
		}
		if err := out.result(r); err != nil || len(r.Files) == 0 || out.quiet {
			return err
		}
		hint := "compare, explain and tune take"
		for _, x := range []target{{" --rig ", study.WriteRig}, {" --operator ", study.WriteOperator}} {
			if x.path != "" {
				hint += x.flag + workbench.Quoted(x.path)
			}
		}
		fmt.Fprintln(printed(s.err), hint)
		return nil
	}
	return c
}

// ownKnob says what to do with one's own knob.
const ownKnob = `
Your own knob: turn, count, and compare with the number, acceleration off:
  dialwright fit --count 'turned 24 in 12s shown 24' \
                 --count 'turned 12 in 400ms shown 9'
Or record it, on Linux with dialwright capture; fit --help says what else.
`
