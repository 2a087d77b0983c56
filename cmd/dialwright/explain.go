package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/explain"
)

func newExplain(s streams) *cobra.Command {
	in := newInputs(s)
	var whatIf string
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
	f := c.Flags()
	in.panelFlag(f)
	in.rigFlag(f, "rig of every knob: a built-in name or a file")
	f.StringVar(&in.profile, "profile", "plain", "profile: a built-in name or a file")
	in.operatorFlag(f, "operator: a built-in name or a file")
	in.taskFlag(f)
	f.StringVar(&whatIf, "what-if", "", "settings to try: KEY=VALUE,...")
	in.trialFlags(f, 100)
	out := newOutput(s, c, "table", "markdown", "csv", "json")
	out.detailFlag(c)
	in.complete(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		if err := errors.Join(in.check(), out.check(&in.Loader)); err != nil {
			return err
		}
		study := &explain.Study{Trials: in.trials, Seed: in.seed, Workers: in.workers}
		var err error
		if study.WhatIf, err = parseSettings(whatIf); err != nil {
			return err
		}
		if study.Panel, study.Profile, study.Operator, err = in.loadAll(); err != nil {
			return err
		}
		if err := in.affords(4000 * served(study.Panel)); err != nil {
			return err
		}
		out.beyond(scenarios.Beyond(study.Panel, nil, study.Profile, study.Operator))
		p := out.newProgress("explain")
		study.Progress = p.at
		r, err := explain.Run(c.Context(), study)
		p.end()
		if r == nil {
			return err
		}
		return out.result(in, "explain", r.Partial, r, func() any { return r.Report() })
	}
	return c
}

// parseSettings reads KEY=VALUE,….
func parseSettings(text string) ([]scenarios.Setting, error) {
	if text == "" {
		return nil, nil
	}
	var list []scenarios.Setting
	var faults []error
	for part := range strings.SplitSeq(text, ",") {
		key, value, ok := strings.Cut(strings.TrimSpace(part), "=")
		if !ok {
			faults = append(faults, fmt.Errorf("--what-if: %s; KEY=VALUE such as firmware.pulse=40ms would do", scenarios.Shown(part)))
			continue
		}
		scratch := encoder.Default()
		if err := scenarios.Set(&scratch, key, value); err != nil {
			faults = append(faults, fmt.Errorf("--what-if: %w", err))
		}
		list = append(list, scenarios.Setting{Key: key, Value: value})
	}
	return list, errors.Join(faults...)
}
