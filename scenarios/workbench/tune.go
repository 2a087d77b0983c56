package workbench

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"dialwright/scenarios"
	"dialwright/scenarios/file"
	"dialwright/scenarios/survey"
	"dialwright/scenarios/tune"
)

// Tune searches the settings that a person can change.
type Tune struct {
	Asked
	write               string // file for the tuned profile
	goal                goal
	question, caps, was string
	over                string
	members             int
	change              []string
}

// NewTune returns the search on the demo's panel.
func NewTune(l file.Loader) *Tune {
	return &Tune{Asked: NewAsked(l, 400), goal: newGoal(), caps: string(tune.Each), members: 200}
}

// Command is how it is asked on a command line.
func (*Tune) Command() Command {
	return Command{
		Use:   "tune",
		Short: "Find the settings you can change, proved on fresh people",
		Long: `Tune searches what the rigs mark as adjustable, and an acceleration for each task,
for the least time per dialing within caps on overshoot and lost clicks. What it
recommends is measured again on people that the search never met.

With --decide it answers a question of design instead: one accelerated knob or two
rings; press-for-coarse or acceleration; buttons, keys, relative counts or an axis
(output); acceleration in the program, the firmware or as a second button pair
(home). Each alternative is tuned by itself, so that it is fair, and all meet the same
fresh people.

With several --rig or --operator it looks for one profile for all of them: the best
on average, or with --for worst for the slowest. With --was, the rig that there was
before a change of hardware, it says which settings of --profile still hold.

With --over it looks for one profile for a whole population, a default: the least
mean over its members, or with --for worst of the slowest tenth of them, proved on
members that the search never met beside the population's own candidates.

With --write the profile goes to a file, with parts where knobs or tasks want their
own. One that is there already keeps its name, its comments and the order of its
keys (--force); a new one takes those of the file that --profile names.`,
		Example: `  dialwright tune
  dialwright tune --task heading --for calm
  dialwright tune --change program
  dialwright tune --decide rings
  dialwright tune --over households --max-overshoot 40% --max-lost 15%
  dialwright tune --rig mine.yaml --max-overshoot 5% --write tuned.yaml`,
		Forms:   []string{"table", "markdown", "json"},
		Detail:  true,
		Reports: []Reported{{"tune", tune.Report{}}, {"decide", tune.DecisionReport{}}, {"over", tune.OverReport{}}},
	}
}

// Flags are what can be asked.
func (t *Tune) Flags() []Flag {
	return slices.Concat(
		t.TrialFlags("trials a task for each finalist, and again for the proof"),
		t.goal.flags("speed, balance, calm or, of several rigs and operators or a population, worst: what counts within the caps", tune.Worst),
		[]Flag{
			t.panelFlag(),
			t.rigFlag("rig of every knob: a built-in name or a file (repeatable: one profile for all)"),
			t.profileFlag("what is set now: a built-in name or a file"),
			t.operatorFlag("operator: a built-in name or a file (repeatable: one profile for all)"),
			t.taskFlag(),
			{Name: "caps", Usage: "each or panel: what the cap on overshoot is for, every task or the panel's average", Value: &t.caps, Words: []string{string(tune.Each), string(tune.Whole)}},
			{Name: "change", Usage: "only this may change: a key of a rig file, or firmware, program, acceleration, system (repeatable); with firmware and program goes the acceleration there", Value: &t.change},
			{Name: "was", Usage: "the rig that there was before a change of hardware: what still holds, what to redo", Value: &t.was},
			{Name: "decide", Usage: "rings, press, output or home: answer a question of design instead", Value: &t.question, Words: questions()},
			{Name: "over", Usage: "one profile for a population instead: a built-in name or a file; --trials are then a member's (20), caps the population's", Value: &t.over, Words: t.Populations.Names},
			{Name: "rigs", Usage: "of --over: members that the profile is proved on", Value: &t.members},
			{Name: "write", Usage: "write the tuned profile to this file", Value: &t.write, Writes: true},
		})
}

// questions are the words for the questions of design.
func questions() (list []string) {
	for _, q := range tune.Questions {
		list = append(list, string(q))
	}
	return list
}

// Check says what is wrong with the flags.
func (t *Tune) Check([]string) error {
	faults := []error{t.CheckTrials(), t.enough(), changeable(t.change)}
	if c := tune.Caps(t.caps); c != tune.Each && c != tune.Whole {
		faults = append(faults, fmt.Errorf("--caps: %s; each or panel would do", scenarios.Shown(t.caps)))
	}
	if t.over == "" && t.given("rigs") {
		faults = append(faults, errors.New("--rigs goes with --over; --rig names a rig"))
	}
	if t.members < leastMembers || t.members > survey.MostMembers {
		faults = append(faults, fmt.Errorf("--rigs: %d; %d to %d would do", t.members, leastMembers, survey.MostMembers))
	}
	for _, flag := range []string{"panel", "rig", "operator", "task", "profile", "caps", "was", "decide"} {
		if t.over != "" && t.given(flag) {
			faults = append(faults, fmt.Errorf("--%s does not go with --over: the population says who dials what on which rigs; --over without it would do", flag))
		}
	}
	if t.goal.aim == string(tune.Worst) && t.over == "" && len(t.rigs) < 2 && len(t.operators) < 2 {
		faults = append(faults, errors.New("--for worst is for several --rig or --operator, or --over; speed would do for one of each"))
	}
	switch {
	case t.question == "":
	case !slices.Contains(questions(), t.question):
		faults = append(faults, fmt.Errorf("--decide: %s; rings, press, output or home would do", scenarios.Shown(t.question)))
	case t.write != "":
		faults = append(faults, errors.New("--decide recommends no profile, so there is nothing to --write; one of the two would do"))
	case t.was != "":
		faults = append(faults, errors.New("--decide compares what could be built, so what --was there does not matter; one of the two would do"))
	}
	_, _, _, err := t.goal.read(tune.Worst)
	return errors.Join(append(faults, err)...)
}

// Run searches, or answers the question of design.
func (t *Tune) Run(ctx context.Context, _ []string, at Progress) (*Outcome, error) {
	study := &tune.Study{Trials: t.Trials, Seed: t.Seed, Workers: t.Workers, Caps: tune.Caps(t.caps), Change: t.change, Progress: at}
	var err error
	if study.For, study.MaxOvershoot, study.MaxLost, err = t.goal.read(tune.Worst); err != nil {
		return nil, err
	}
	if t.write != "" && t.Texts == nil && file.Same(t.write, t.profile) { // the profile that is there is rewritten
		t.Outputs = slices.DeleteFunc(t.Outputs, func(o file.Output) bool { return o.Flag == "write" })
	}
	if t.over != "" {
		return t.population(ctx, study)
	}
	rigs, operators := t.rigs, t.operators
	t.rigs, t.operators = rigs[:min(1, len(rigs))], operators[:min(1, len(operators))]
	if study.Panel, study.Profile, study.Operator, err = t.loadAll(); err != nil {
		return nil, err
	}
	if study.Combinations, err = t.combinations(rigs, operators); err != nil {
		return nil, err
	}
	if t.question != "" && study.Combinations != nil {
		return nil, errors.New("--decide is for one rig and one operator")
	}
	if t.was != "" {
		t.rigs = []string{t.was}
		if study.Was, err = t.loadPanel(); err != nil {
			return nil, fmt.Errorf("--was: %w", err)
		}
	}
	var o Outcome
	o.beyond(scenarios.Beyond(study.Panel, nil, study.Profile, study.Operator))
	if err := t.affords(8000 * served(study.Panel)); err != nil {
		return nil, err
	}
	if t.question != "" {
		d, err := tune.Decide(ctx, study, tune.Question(t.question))
		if d == nil || err != nil && !d.Partial {
			return nil, err
		}
		o.Header, o.Result, o.Report = t.Header("tune", d.Partial), d, d.Report()
		return &o, nil
	}
	r, err := tune.Run(ctx, study)
	if r == nil {
		return nil, err
	}
	o.Header, o.Result, o.Report, o.Figures = t.Header("tune", r.Partial), r, r.Report(), r.Figures
	o.file(t.write, func() ([]byte, error) {
		text, err := t.profileText(t.write, r.Profile())
		if err == nil && r.Partial {
			text = append([]byte(PartialLine), text...)
		}
		return text, err
	})
	return &o, nil
}

// leastMembers is how many members a proof needs.
const leastMembers = 20

// population searches one profile for a population.
func (t *Tune) population(ctx context.Context, s *tune.Study) (*Outcome, error) {
	p, err := t.Population(t.over)
	if err != nil {
		return nil, err
	}
	over := &tune.Over{
		Population: p, Members: t.members, Trials: membersTrials, MaxOvershoot: s.MaxOvershoot, MaxLost: s.MaxLost, For: s.For, Change: s.Change,
		Seed: s.Seed, Workers: s.Workers, Inputs: t.Inputs(), Version: Version(), Progress: s.Progress,
	}
	if t.given("trials") {
		over.Trials = s.Trials
	}
	if err := (&survey.Study{Population: p, Members: t.members}).Afford(survey.Whole, t.Memory); err != nil {
		return nil, fmt.Errorf("--rigs: %w", err)
	}
	r, err := tune.RunOver(ctx, over)
	if r == nil {
		return nil, err
	}
	var o Outcome
	o.Header, o.Result, o.Report = t.Header("tune", r.Partial), r, r.Report()
	o.file(t.write, func() ([]byte, error) {
		only := *r.Profile
		text, err := t.profileText(t.write, &only)
		if err == nil && r.Partial {
			text = append([]byte(PartialLine), text...)
		}
		return text, err
	})
	return &o, nil
}

// membersTrials is how many trials a member of a population does, unless asked.
const membersTrials = 20

// combinations are the rigs and people that one profile is to suit; nil for one of each.
func (i *Asked) combinations(rigs, operators []string) (list []tune.Combination, err error) {
	if len(rigs) < 2 && len(operators) < 2 {
		return nil, nil
	}
	if operators == nil {
		operators = []string{defaultOperator}
	}
	if rigs == nil {
		rigs = []string{""}
	}
	if err := errors.Join(repeated("rig", rigs), repeated("operator", operators)); err != nil {
		return nil, err
	}
	for _, name := range rigs {
		var r *scenarios.Rig
		if name != "" {
			if r, err = i.Rig(name); err != nil {
				return nil, err
			}
		}
		for _, who := range operators {
			c := tune.Combination{Name: who, Rig: r}
			if len(rigs) > 1 {
				c.Name = name
				if len(operators) > 1 {
					c.Name += ", " + who
				}
			}
			if c.Operator, err = i.Operator(who); err != nil {
				return nil, err
			}
			list = append(list, c)
		}
	}
	return list, nil
}

// repeated holds that no name is given twice.
func repeated(flag string, names []string) error {
	for n, name := range names {
		if slices.Contains(names[:n], name) {
			return fmt.Errorf("--%s: %s is given twice; once would do", flag, scenarios.Shown(name))
		}
	}
	return nil
}

// changeable holds that what may change is a key of a rig file or a group of keys.
func changeable(names []string) error {
	known := []string{"acceleration"}
	for _, k := range scenarios.Describe() {
		group, _, _ := strings.Cut(k.Name, ".")
		if !slices.Contains(known, group) {
			known = append(known, group)
		}
		known = append(known, k.Name)
	}
	var faults []error
	for _, n := range names {
		if !slices.Contains(known, n) {
			faults = append(faults, fmt.Errorf("--change: %s; a key such as firmware.pulse, or firmware, usb, system, program, acceleration would do", scenarios.Shown(n)))
		}
	}
	return errors.Join(faults...)
}

// profileText returns a profile as it goes to a file: with the comments and in the
// order of the profile that is there, or of the file that says what is set now.
func (i *Asked) profileText(path string, p *scenarios.Profile) ([]byte, error) {
	if text, old := i.readProfile(path); old != nil {
		p.Name = old.Name
		return file.Rewrite(text, p)
	}
	if !slices.Contains(i.Profiles.Names, i.profile) {
		if text, old := i.readProfile(i.profile); old != nil {
			return file.Rewrite(text, p)
		}
	}
	return file.Write(p)
}

// readProfile returns the profile in a file, or nil where there is no such file, or
// it is something else.
func (i *Asked) readProfile(path string) ([]byte, *scenarios.Profile) {
	text := i.Text(path)
	if text == nil {
		return nil, nil
	}
	alone := file.Loader{Texts: file.Texts{"profile.yaml": string(text)}}
	p, err := alone.Profile("profile.yaml")
	if err != nil {
		return nil, nil
	}
	return text, p
}
