package workbench

import (
	"cmp"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strings"

	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/file"
)

// Asked is what most studies are asked: the flags that they share, and what they name.
type Asked struct {
	file.Loader

	Trials, Workers int
	Seed            uint64

	panel, profile         string
	rigs, operators, tasks []string
	whole                  *scenarios.Panel // with all of its tasks, once it was loaded

	// Given says whether a flag was given or has its default. Nil: none was.
	Given func(flag string) bool
	// Memory is what the samples of a study may take, bytes.
	Memory int
}

// Asks is what a study shares with most.
func (i *Asked) Asks() *Asked { return i }

// given says whether a flag was given.
func (i *Asked) given(flag string) bool { return i.Given != nil && i.Given(flag) }

// Builtins returns a loader that knows the built-in names.
func Builtins() file.Loader {
	return file.Loader{
		Tasks:       lookup(names(demo.Tasks()), demo.Task),
		Rigs:        lookup(names(demo.Rigs()), demo.Rig),
		Panels:      lookup(names(demo.Panels()), demo.Panel),
		Profiles:    named(scenarios.Profiles(), func(p *scenarios.Profile) string { return p.Name }),
		Operators:   named(scenarios.Operators(), func(o *scenarios.Operator) string { return o.Name }),
		Populations: lookup(names(demo.Populations()), demo.Population),
	}
}

func lookup[T any](names []string, find func(string) *T) file.Builtins[T] {
	return file.Builtins[T]{Names: names, Find: find}
}

func names(items []demo.Item) []string {
	var ns []string
	for _, i := range items {
		ns = append(ns, i.Name)
	}
	return ns
}

func named[T any](all []T, name func(*T) string) file.Builtins[T] {
	var b file.Builtins[T]
	for i := range all {
		b.Names = append(b.Names, name(&all[i]))
	}
	b.Find = func(n string) *T {
		if i := slices.Index(b.Names, n); i >= 0 {
			return &all[i]
		}
		return nil
	}
	return b
}

// defaults of the shared flags.
const (
	defaultPanel    = "quillmoor"
	defaultOperator = "practised"
	defaultSeed     = 1
	mostTrials      = 100_000_000
)

func (i *Asked) panelFlag() Flag {
	return Flag{Name: "panel", Usage: "panel: a built-in name or a file", Value: &i.panel, Words: i.Panels.Names}
}

func (i *Asked) rigFlag(usage string) Flag {
	return Flag{Name: "rig", Usage: usage, Value: &i.rigs, Words: i.Rigs.Names}
}

func (i *Asked) profileFlag(usage string) Flag {
	return Flag{Name: "profile", Usage: usage, Value: &i.profile, Words: i.Profiles.Names}
}

func (i *Asked) operatorFlag(usage string) Flag {
	return Flag{Name: "operator", Usage: usage, Value: &i.operators, Words: i.Operators.Names}
}

func (i *Asked) taskFlag() Flag {
	return Flag{Name: "task", Usage: "only this task: a name, the beginning of several (hf-20m), a file, or on one knob alone (knob/task); repeatable", Value: &i.tasks, Words: i.Tasks.Names}
}

// TrialFlags are how many trials are done, with which seed, on how many workers.
func (i *Asked) TrialFlags(usage string) []Flag {
	return []Flag{
		{Name: "trials", Usage: usage, Value: &i.Trials},
		i.seedFlag(),
		{Name: "workers", Usage: "trials done at the same time; changes no result", Value: &i.Workers},
	}
}

func (i *Asked) seedFlag() Flag {
	return Flag{Name: "seed", Usage: "the same seed gives the same people, targets and noise", Value: &i.Seed}
}

// NewAsked returns what is asked where no flag is given.
func NewAsked(l file.Loader, trials int) Asked {
	return Asked{Loader: l, Trials: trials, Seed: defaultSeed, Workers: runtime.NumCPU(), Memory: mostMemory, panel: defaultPanel, profile: "plain"}
}

// CheckTrials holds the ranges of the shared numbers.
func (i *Asked) CheckTrials() error {
	if i.Trials < 1 || i.Trials > mostTrials {
		return fmt.Errorf("--trials: %d; 1 to %d would do", i.Trials, mostTrials)
	}
	if i.Workers < 1 || i.Workers > 1024 {
		return fmt.Errorf("--workers: %d; 1 to 1024 would do", i.Workers)
	}
	return nil
}

// mostMemory is what the samples of a study may take, bytes; ours: half of what a
// small machine has.
const mostMemory = 4 << 30

// affords refuses a study whose samples would not fit into memory. What a trial of
// all its cells takes was measured, and is rounded up.
func (i *Asked) affords(bytesATrial int) error {
	if most := i.Memory / max(1, bytesATrial); i.Trials > most {
		return fmt.Errorf("--trials: %d would take some %d GB of memory; %d or fewer would do",
			i.Trials, int64(i.Trials)*int64(bytesATrial)>>30, most)
	}
	return nil
}

// served is how many numbers a panel dials.
func served(p *scenarios.Panel) int { return max(1, len(p.Served())) }

// one returns the only value of a flag that a command takes once, or what is
// meant without it.
func one(flag string, values []string, otherwise string) (string, error) {
	switch len(values) {
	case 0:
		return otherwise, nil
	case 1:
		return values[0], nil
	}
	return "", fmt.Errorf("--%s is given %d times; this command takes one", flag, len(values))
}

// loadOperator returns the operator that a command works with.
func (i *Asked) loadOperator() (*scenarios.Operator, error) {
	name, err := one("operator", i.operators, defaultOperator)
	if err != nil {
		return nil, err
	}
	return i.Operator(name)
}

// loadAll returns the panel, the profile and the operator that a command works with.
func (i *Asked) loadAll() (p *scenarios.Panel, profile *scenarios.Profile, o *scenarios.Operator, err error) {
	p, err1 := i.loadPanel()
	profile, err2 := i.Profile(i.profile)
	o, err3 := i.loadOperator()
	return p, profile, o, errors.Join(err1, err2, err3)
}

// loadPanel returns the panel, with one rig behind every knob where --rig names
// one, and with the tasks of --task only. A task that the panel does not have is
// put on its first knob, once an hour.
func (i *Asked) loadPanel() (*scenarios.Panel, error) {
	p, err := i.Panel(i.panel)
	faults := []error{err}
	name, err := one("rig", i.rigs, "")
	var r *scenarios.Rig
	if err == nil && name != "" {
		r, err = i.Rig(name)
	}
	faults = append(faults, err)
	tasks := i.named(i.tasks)
	var only []scenarios.Pick
	for _, name := range tasks {
		pick, err := i.pick(p, name)
		only, faults = append(only, pick), append(faults, err)
	}
	if err := errors.Join(faults...); err != nil {
		return nil, err
	}
	if r != nil {
		putRig(p, r)
	}
	if i.whole = p; tasks == nil {
		return p, nil
	}
	return p.Only(only...), nil
}

// Profile returns the profile of a name. What its parts are for has to be there: on the
// panel, if one was loaded, or among the built-in tasks.
func (i *Asked) Profile(name string) (*scenarios.Profile, error) {
	p, err := i.Loader.Profile(name)
	if err != nil || i.whole == nil {
		return p, err
	}
	known := append(slices.Clone(i.tasks), i.Tasks.Names...)
	for _, k := range i.whole.Knobs {
		known = append(known, k.Name)
		for _, u := range k.Tasks {
			known = append(known, u.Task.Name, k.Name+"/"+u.Task.Name)
		}
	}
	var faults []error
	for _, part := range p.Parts {
		for _, on := range part.For {
			if slices.Contains(known, on) {
				continue
			}
			would := "see the names in the panel's file"
			if near := scenarios.Nearest(on, known); near != "" {
				would = "did you mean " + near + "?"
			}
			faults = append(faults, fmt.Errorf("%s: for: %s is no knob and no task of panel %s; %s", scenarios.Shown(name), scenarios.Shown(on), scenarios.Shown(i.whole.Name), would))
		}
	}
	return p, errors.Join(faults...)
}

// named puts the members of a family of tasks in the place of its name.
func (i *Asked) named(tasks []string) (all []string) {
	for _, name := range tasks {
		members := Family(name, i.Tasks.Names)
		if i.Exists(name) || i.Tasks.Find(name) != nil || len(members) == 0 {
			members = []string{name}
		}
		all = append(all, members...)
	}
	return all
}

// pick returns what a name picks: the panel's own, if one was loaded, where it has that,
// else a built-in task or a file's.
func (i *Asked) pick(p *scenarios.Panel, name string) (scenarios.Pick, error) {
	if p != nil {
		if own, ok := p.Pick(name); ok {
			return own, nil
		}
	}
	t, err := i.Task(name)
	if err != nil && p != nil {
		err = cmp.Or(notOn(p, name), err)
	}
	return scenarios.Pick{Task: t}, err
}

// notOn says of a knob that somebody wrote before a task what it serves instead; nil where
// there is no such knob.
func notOn(p *scenarios.Panel, name string) error {
	knob, task, _ := strings.Cut(name, "/")
	var serves []string
	for _, u := range p.Served() {
		if u.Knob.Name == knob {
			serves = append(serves, scenarios.Shown(u.Knob.Name+"/"+u.Task.Name))
		}
	}
	if task == "" || serves == nil {
		return nil
	}
	return fmt.Errorf("knob %s does not serve %s; %s would do", scenarios.Shown(knob), scenarios.Shown(task), strings.Join(serves, ", "))
}

func putRig(p *scenarios.Panel, r *scenarios.Rig) {
	for k := range p.Knobs {
		p.Knobs[k].Inner = r
		if p.Knobs[k].Outer != nil {
			p.Knobs[k].Outer = r
		}
	}
}

// Family lists the names of which somebody wrote the beginning: hf, hf-20m.
func Family(written string, names []string) (list []string) {
	for _, n := range names {
		if written != "" && strings.HasPrefix(n, written+"-") {
			list = append(list, n)
		}
	}
	return list
}
