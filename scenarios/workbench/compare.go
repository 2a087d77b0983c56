package workbench

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"dialwright/scenarios"
	"dialwright/scenarios/compare"
	"dialwright/scenarios/file"
)

// Compare lets several candidates do the same dialings.
type Compare struct {
	Asked
	profiles []string
}

// NewCompare returns a comparison of the built-in profiles on the demo's panel.
func NewCompare(l file.Loader) *Compare { return &Compare{Asked: NewAsked(l, 400)} }

// Command is how it is asked on a command line.
func (c *Compare) Command() Command {
	return Command{
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
		Forms:   []string{"table", "markdown", "csv", "json"},
		Detail:  true,
		Words:   c.Profiles.Names,
		Reports: []Reported{{"compare", compare.Report{}}},
	}
}

// Flags are what can be asked.
func (c *Compare) Flags() []Flag {
	return append(c.TrialFlags("trials a cell"),
		Flag{Name: "profile", Usage: "like an argument: a built-in name or a file (repeatable)", Value: &c.profiles, Words: c.Profiles.Names},
		c.panelFlag(),
		c.rigFlag("rig of every knob: a built-in name or a file; twice or more: compare rigs"),
		c.operatorFlag("operator: a built-in name or a file; twice or more: compare operators"),
		c.taskFlag())
}

// Check says what is wrong with the flags.
func (c *Compare) Check([]string) error { return c.CheckTrials() }

// Run compares the profiles that are named, as arguments or by --profile.
func (c *Compare) Run(ctx context.Context, args []string, at Progress) (*Outcome, error) {
	study, err := c.comparison(slices.Concat(args, c.profiles))
	if err != nil {
		return nil, err
	}
	var o Outcome
	for _, x := range study.Candidates {
		o.beyond(scenarios.Beyond(study.Panel, x.Rig, x.Profile, x.Operator))
	}
	study.Progress = at.at
	r, err := compare.Run(ctx, study)
	if r == nil {
		return nil, err
	}
	o.Header, o.Result, o.Report = c.Header("compare", r.Partial), r, r.Report()
	return &o, nil
}

// comparison makes a comparison from what is asked.
func (i *Asked) comparison(profiles []string) (*compare.Study, error) {
	s := &compare.Study{Trials: i.Trials, Seed: i.Seed, Workers: i.Workers}
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
