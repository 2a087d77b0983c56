package main

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"dialwright/scenarios"
	"dialwright/scenarios/overshoot"
	"dialwright/scenarios/radio"
)

func newOvershoot(s streams) *cobra.Command {
	in := newInputs(s)
	var trialsOut string
	c := &cobra.Command{
		Use:   "overshoot [TASK]",
		Short: "Find out how far past the target a number goes, how often, and why",
		Long: `Overshoot dials a task many times and counts by how much the number went past its
target, ring by ring, with the cause of each. Without a task it takes the panel's
radio tasks; the beginning of several names takes all of them: hf-20m is tuning on
20 m at its three tolerances.`,
		Example: `  dialwright overshoot com-25 --profile power
  dialwright overshoot hf-20m
  dialwright overshoot transponder --operator novice --trials-out trials.csv`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeNames(in.Tasks.Names),
	}
	f := c.Flags()
	in.panelFlag(f)
	in.rigFlag(f, "rig of every knob: a built-in name or a file")
	f.StringVar(&in.profile, "profile", "plain", "profile: a built-in name or a file")
	in.operatorFlag(f, "operator: a built-in name or a file (repeatable; default: all built-in ones)")
	in.taskFlag(f)
	f.StringVar(&trialsOut, "trials-out", "", "write every trial to this file, one CSV line each")
	in.trialFlags(f, 1000)
	out := newOutput(s, c, "table", "markdown", "csv", "json")
	out.detailFlag(c)
	in.complete(c)
	c.RunE = func(c *cobra.Command, args []string) error {
		if err := errors.Join(in.check(), out.check(&in.Loader, target{"trials-out", trialsOut})); err != nil {
			return err
		}
		study, err := in.overshoot(append(args, in.tasks...))
		if err != nil {
			return err
		}
		if err := in.affords(1000 * len(study.Operators) * max(1, len(study.Tasks))); err != nil {
			return err
		}
		for _, u := range study.Tasks {
			for _, o := range study.Operators {
				out.beyond(scenarios.Beyond(&scenarios.Panel{Knobs: []scenarios.Knob{*u.Knob}}, nil, study.Profile, o))
			}
		}
		p := out.newProgress("overshoot")
		study.Progress = p.at
		r, err := overshoot.Run(c.Context(), study)
		p.end()
		if r == nil {
			return err
		}
		if trialsOut != "" {
			var lines bytes.Buffer
			err := r.Trials().CSV(&lines)
			if r.Partial {
				lines.WriteString(partialLine)
			}
			if err := errors.Join(err, out.writeFile(trialsOut, r.Partial, lines.Bytes())); err != nil {
				return failure{fmt.Errorf("cannot write the trials: %w", err)}
			}
		}
		return out.result(in, "overshoot", r.Partial, r, func() any { return r.Report() })
	}
	return c
}

// overshoot makes the study that the flags and the task names ask for.
func (i *inputs) overshoot(names []string) (*overshoot.Study, error) {
	s := &overshoot.Study{Trials: i.trials, Seed: i.seed, Workers: i.workers}
	i.tasks = nil                // put on the panel below, one by one
	asked := map[string]string{} // what follow is told, by the name of a task or an operator
	panel, err := i.loadPanel()
	faults := []error{err}
	if s.Profile, err = i.Profile(i.profile); err != nil {
		faults = append(faults, err)
	}
	operators := i.operators
	if operators == nil {
		operators = i.Operators.Names
	}
	for _, name := range operators {
		o, err := i.Operator(name)
		s.Operators, faults = append(s.Operators, o), append(faults, err)
		if err == nil {
			asked[o.Name] = name
		}
	}
	if panel == nil {
		return nil, errors.Join(faults...)
	}
	if len(names) == 0 {
		for _, u := range panel.Served() {
			if radio.Task(u.Task.Name) != nil {
				s.Tasks = append(s.Tasks, u)
			}
		}
		if s.Tasks == nil {
			s.Tasks = panel.Served()
		}
	}
	for _, name := range i.named(names) {
		t, err := i.taskOn(panel, name)
		if err != nil {
			faults = append(faults, err)
			continue
		}
		asked[t.Name] = name
		s.Tasks = append(s.Tasks, panel.Only(t).Served()[0])
	}
	var rest string
	if i.panel != defaultPanel {
		rest += " --panel " + i.panel
	}
	for _, rig := range i.rigs {
		rest += " --rig " + rig
	}
	rest += " --profile " + i.profile
	s.Replay = func(task, operator string) string {
		return "--task " + cmp.Or(asked[task], task) + " --operator " + cmp.Or(asked[operator], operator) + rest
	}
	return s, errors.Join(faults...)
}
