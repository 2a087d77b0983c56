package workbench

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"slices"

	"dialwright/scenarios"
	"dialwright/scenarios/file"
	"dialwright/scenarios/overshoot"
	"dialwright/scenarios/radio"
)

// Overshoot finds out how far past the target numbers go, how often, and why.
type Overshoot struct {
	Asked
	trialsOut string // file for every trial
}

// NewOvershoot returns the question for the demo's radio tasks.
func NewOvershoot(l file.Loader) *Overshoot { return &Overshoot{Asked: NewAsked(l, 1000)} }

// Command is how it is asked on a command line.
func (x *Overshoot) Command() Command {
	return Command{
		Use:   "overshoot [TASK]",
		Short: "Find out how far past the target a number goes, how often, and why",
		Long: `Overshoot dials a task many times and counts by how much the number went past its
target, ring by ring, with the cause of each. Without a task it takes the panel's
radio tasks; the beginning of several names takes all of them: hf-20m is tuning on
20 m at its three tolerances.`,
		Example: `  dialwright overshoot com-25 --profile power
  dialwright overshoot hf-20m
  dialwright overshoot transponder --operator novice --trials-out trials.csv`,
		Forms:   []string{"table", "markdown", "csv", "json"},
		Detail:  true,
		Words:   x.Tasks.Names,
		Reports: []Reported{{"overshoot", overshoot.Report{}}},
	}
}

// Flags are what can be asked.
func (x *Overshoot) Flags() []Flag {
	return append(x.TrialFlags("trials a cell"),
		x.panelFlag(),
		x.rigFlag("rig of every knob: a built-in name or a file"),
		x.profileFlag("profile: a built-in name or a file"),
		x.operatorFlag("operator: a built-in name or a file (repeatable; default: all built-in ones)"),
		x.taskFlag(),
		Flag{Name: "trials-out", Usage: "write every trial to this file, one CSV line each", Value: &x.trialsOut, Writes: true})
}

// Check says what is wrong with the flags.
func (x *Overshoot) Check([]string) error { return x.CheckTrials() }

// Run dials the tasks that are named, as arguments or by --task.
func (x *Overshoot) Run(ctx context.Context, args []string, at Progress) (*Outcome, error) {
	study, err := x.overshoot(slices.Concat(args, x.tasks))
	if err != nil {
		return nil, err
	}
	if study.Every = x.trialsOut != ""; study.Every {
		if err := x.affords(1000 * len(study.Operators) * max(1, len(study.Tasks))); err != nil {
			return nil, err
		}
	}
	var o Outcome
	for _, u := range study.Tasks {
		for _, who := range study.Operators {
			o.beyond(scenarios.Beyond(&scenarios.Panel{Knobs: []scenarios.Knob{*u.Knob}}, nil, study.Profile, who))
		}
	}
	study.Progress = at.at
	r, err := overshoot.Run(ctx, study)
	if r == nil {
		return nil, err
	}
	o.Header, o.Result, o.Report = x.Header("overshoot", r.Partial), r, r.Report()
	o.file(x.trialsOut, func() ([]byte, error) {
		var lines bytes.Buffer
		err := r.Trials().CSV(&lines)
		if r.Partial {
			lines.WriteString(PartialLine)
		}
		return lines.Bytes(), err
	})
	return &o, nil
}

// overshoot makes the study that the flags and the task names ask for.
func (i *Asked) overshoot(names []string) (*overshoot.Study, error) {
	s := &overshoot.Study{Trials: i.Trials, Seed: i.Seed, Workers: i.Workers}
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
	var picks []scenarios.Pick
	for _, name := range i.named(names) {
		pick, err := i.pick(panel, name)
		if err != nil {
			faults = append(faults, err)
			continue
		}
		asked[pick.Task.Name] = name
		picks = append(picks, pick)
	}
	picked := panel.Only(picks...).Served()
	for _, pick := range picks { // in the order in which they were asked for
		for _, u := range picked {
			if u.Task == pick.Task && (pick.Knob == "" || pick.Knob == u.Knob.Name) && !slices.Contains(s.Tasks, u) {
				s.Tasks = append(s.Tasks, u)
			}
		}
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
