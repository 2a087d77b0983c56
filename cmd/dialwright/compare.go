package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"dialwright/scenarios"
	"dialwright/scenarios/compare"
)

func newCompare(s streams) *cobra.Command {
	in := newInputs(s)
	var profiles []string
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
		ValidArgsFunction: completeNames(in.Profiles.Names),
	}
	f := c.Flags()
	f.StringArrayVar(&profiles, "profile", nil, "like an argument: a built-in name or a file (repeatable)")
	in.panelFlag(f)
	in.rigFlag(f, "rig of every knob: a built-in name or a file; twice or more: compare rigs")
	in.operatorFlag(f, "operator: a built-in name or a file; twice or more: compare operators")
	in.taskFlag(f)
	in.trialFlags(f, 400)
	out := newOutput(s, c, "table", "markdown", "csv", "json")
	out.detailFlag(c)
	in.complete(c)
	c.RunE = func(c *cobra.Command, args []string) error {
		if err := errors.Join(in.check(), out.check(&in.Loader)); err != nil {
			return err
		}
		study, err := in.study(append(args, profiles...))
		if err != nil {
			return err
		}
		if err := in.affords(80 * len(study.Candidates) * served(study.Panel)); err != nil {
			return err
		}
		for _, x := range study.Candidates {
			out.beyond(scenarios.Beyond(study.Panel, x.Rig, x.Profile, x.Operator))
		}
		p := out.newProgress("compare")
		study.Progress = p.at
		r, err := compare.Run(c.Context(), study)
		p.end()
		if r == nil {
			return err
		}
		return out.result(in, "compare", r.Partial, r, func() any { return r.Report() })
	}
	return c
}

// study makes a comparison from the flags.
func (i *inputs) study(profiles []string) (*compare.Study, error) {
	s := &compare.Study{Trials: i.trials, Seed: i.seed, Workers: i.workers}
	rigs, operators := i.rigs, i.operators
	if len(rigs) > 1 {
		i.rigs = nil
	}
	if len(rigs) > 1 && len(operators) > 1 {
		return nil, errors.New("--rig and --operator are both given several times; compare one kind at a time")
	}
	if (len(rigs) > 1 || len(operators) > 1) && len(profiles) > 1 {
		return nil, fmt.Errorf("%d profiles beside several rigs or operators; compare one kind at a time", len(profiles))
	}
	panel, err := i.loadPanel()
	s.Panel = panel
	faults := []error{err}
	var written []string // as the candidates were asked for
	add := func(asked string, c compare.Candidate, err error) {
		if err != nil {
			faults = append(faults, err)
			return
		}
		s.Candidates, written = append(s.Candidates, c), append(written, asked)
	}
	person := defaultOperator
	if len(operators) == 1 {
		person = operators[0]
	}
	operator, err := i.Operator(person)
	if len(operators) < 2 {
		faults = append(faults, err)
	}
	switch {
	case len(rigs) > 1 || len(operators) > 1:
		profile := scenarios.Plain()
		if len(profiles) == 1 {
			if profile, err = i.Profile(profiles[0]); err != nil {
				faults = append(faults, err)
			}
		}
		if len(rigs) > 1 {
			for _, name := range rigs {
				r, err := i.Rig(name)
				c := compare.Candidate{Profile: profile, Rig: r, Operator: operator}
				if err == nil {
					c.Name = r.Name
				}
				add(name, c, err)
			}
			break
		}
		for _, name := range operators {
			o, err := i.Operator(name)
			c := compare.Candidate{Profile: profile, Operator: o}
			if err == nil {
				c.Name = o.Name
			}
			add(name, c, err)
		}
	case len(profiles) == 0:
		profiles = i.Profiles.Names
		fallthrough
	default:
		for _, name := range profiles {
			p, err := i.Profile(name)
			c := compare.Candidate{Profile: p, Operator: operator}
			if err == nil {
				c.Name = p.Name
			}
			add(name, c, err)
		}
	}
	tellApart(s.Candidates, written)
	return s, errors.Join(faults...)
}

// tellApart makes names of candidates differ: where several have one, what they were
// asked for by is added, and where that is the same too, their number.
func tellApart(list []compare.Candidate, written []string) {
	for _, by := range []func(i int) string{func(i int) string { return written[i] }, func(i int) string { return fmt.Sprint(i + 1) }} {
		names := map[string]int{}
		for _, c := range list {
			names[c.Name]++
		}
		for i := range list {
			if c := &list[i]; names[c.Name] > 1 && by(i) != c.Name {
				c.Name = fmt.Sprintf("%s (%s)", c.Name, by(i))
			}
		}
	}
}
