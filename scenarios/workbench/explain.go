package workbench

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/explain"
	"dialwright/scenarios/figure"
	"dialwright/scenarios/file"
	"dialwright/scenarios/report"
)

// Explain finds out what each link of the path costs.
type Explain struct {
	Asked
	whatIf string
}

// NewExplain returns the question what costs what on the demo's panel.
func NewExplain(l file.Loader) *Explain { return &Explain{Asked: NewAsked(l, 100)} }

// Command is how it is asked on a command line.
func (*Explain) Command() Command {
	return Command{
		Use:   "explain",
		Short: "Find out what each link of the path costs, and what to change",
		Long: `Explain makes every combination of the links of the path ideal, with the same
people and targets, and gives each link its fair share of the blame. For the links
that cost enough it tries the settings that the rig marks as adjustable.`,
		Example: `  dialwright explain
  dialwright explain --task com-25 --profile ladder
  dialwright explain --what-if firmware.pulse=40ms,program.frames=60/s`,
		Forms:   []string{"table", "markdown", "csv", "json"},
		Detail:  true,
		Reports: []Reported{{"explain", explain.Report{}}},
	}
}

// Flags are what can be asked.
func (e *Explain) Flags() []Flag {
	return append(e.TrialFlags("trials a cell"),
		e.panelFlag(),
		e.rigFlag("rig of every knob: a built-in name or a file"),
		e.profileFlag("profile: a built-in name or a file"),
		e.operatorFlag("operator: a built-in name or a file"),
		e.taskFlag(),
		Flag{Name: "what-if", Usage: "settings to try: KEY=VALUE,...", Value: &e.whatIf})
}

// Check says what is wrong with the flags.
func (e *Explain) Check([]string) error { return e.CheckTrials() }

// Run makes every combination of the links ideal.
func (e *Explain) Run(ctx context.Context, _ []string, at Progress) (*Outcome, error) {
	study := &explain.Study{Trials: e.Trials, Seed: e.Seed, Workers: e.Workers, Progress: at.at}
	var err error
	if study.WhatIf, err = parseSettings(e.whatIf); err != nil {
		return nil, err
	}
	if study.Panel, study.Profile, study.Operator, err = e.loadAll(); err != nil {
		return nil, err
	}
	if err := e.affords(4000 * served(study.Panel)); err != nil {
		return nil, err
	}
	var o Outcome
	o.beyond(scenarios.Beyond(study.Panel, nil, study.Profile, study.Operator))
	r, err := explain.Run(ctx, study)
	if r == nil {
		return nil, err
	}
	x := r.Report()
	o.Header, o.Result, o.Report = e.Header("explain", r.Partial), r, x
	o.Figures = func() []*figure.Figure { return []*figure.Figure{report.Links(&x)} }
	return &o, nil
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
