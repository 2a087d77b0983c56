package main

import (
	"errors"
	"fmt"
	"os"
	"runtime"
	"slices"

	"github.com/spf13/pflag"

	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/file"
)

// inputs are the flags that most commands share, and what they name.
type inputs struct {
	file.Loader

	panel, profile         string
	rigs, operators, tasks []string
	trials, workers        int
	seed                   uint64
}

// newInputs returns inputs that know the built-in names.
func newInputs(s streams) *inputs {
	i := &inputs{}
	i.Loader = builtins(s)
	return i
}

// builtins returns a loader for the built-in names and for files.
func builtins(s streams) file.Loader {
	return file.Loader{
		Context:     s.ctx,
		In:          s.in,
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

func (i *inputs) panelFlag(f *pflag.FlagSet) {
	f.StringVar(&i.panel, "panel", defaultPanel, "panel: a built-in name or a file")
}

func (i *inputs) rigFlag(f *pflag.FlagSet, usage string) {
	f.StringArrayVar(&i.rigs, "rig", nil, usage)
}

func (i *inputs) operatorFlag(f *pflag.FlagSet, usage string) {
	f.StringArrayVar(&i.operators, "operator", nil, usage)
}

func (i *inputs) taskFlag(f *pflag.FlagSet) {
	f.StringArrayVar(&i.tasks, "task", nil, "only this task: a built-in name, the beginning of several (hf-20m) or a file (repeatable)")
}

func (i *inputs) trialFlags(f *pflag.FlagSet, trials int) {
	f.IntVar(&i.trials, "trials", trials, "trials a cell")
	i.seedFlag(f)
	f.IntVar(&i.workers, "workers", runtime.NumCPU(), "trials done at the same time; changes no result")
}

func (i *inputs) seedFlag(f *pflag.FlagSet) {
	f.Uint64Var(&i.seed, "seed", defaultSeed, "the same seed gives the same people, targets and noise")
}

// check holds the ranges of the shared numbers.
func (i *inputs) check() error {
	if i.trials < 1 || i.trials > mostTrials {
		return fmt.Errorf("--trials: %d; 1 to %d would do", i.trials, mostTrials)
	}
	if i.workers < 1 || i.workers > 1024 {
		return fmt.Errorf("--workers: %d; 1 to 1024 would do", i.workers)
	}
	return nil
}

// mostMemory is what the samples of a study may take, bytes; ours: half of what a
// small machine has.
const mostMemory = 4 << 30

// affords refuses a study whose samples would not fit into memory. What a trial of
// all its cells takes was measured, and is rounded up.
func (i *inputs) affords(bytesATrial int) error {
	if most := mostMemory / max(1, bytesATrial); i.trials > most {
		return fmt.Errorf("--trials: %d would take some %d GB of memory; %d or fewer would do",
			i.trials, int64(i.trials)*int64(bytesATrial)>>30, most)
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
func (i *inputs) loadOperator() (*scenarios.Operator, error) {
	name, err := one("operator", i.operators, defaultOperator)
	if err != nil {
		return nil, err
	}
	return i.Operator(name)
}

// loadAll returns the panel, the profile and the operator that a command works with.
func (i *inputs) loadAll() (p *scenarios.Panel, profile *scenarios.Profile, o *scenarios.Operator, err error) {
	p, err1 := i.loadPanel()
	profile, err2 := i.Profile(i.profile)
	o, err3 := i.loadOperator()
	return p, profile, o, errors.Join(err1, err2, err3)
}

// loadPanel returns the panel, with one rig behind every knob where --rig names
// one, and with the tasks of --task only. A task that the panel does not have is
// put on its first knob, once an hour.
func (i *inputs) loadPanel() (*scenarios.Panel, error) {
	p, err := i.Panel(i.panel)
	faults := []error{err}
	name, err := one("rig", i.rigs, "")
	var r *scenarios.Rig
	if err == nil && name != "" {
		r, err = i.Rig(name)
	}
	faults = append(faults, err)
	tasks := i.named(i.tasks)
	for _, name := range tasks {
		_, err := i.Task(name)
		faults = append(faults, err)
	}
	if err := errors.Join(faults...); err != nil {
		return nil, err
	}
	if r != nil {
		putRig(p, r)
	}
	if tasks == nil {
		return p, nil
	}
	var only []*scenarios.Task
	for _, name := range tasks {
		t, err := i.taskOn(p, name)
		if err != nil {
			return nil, err
		}
		only = append(only, t)
	}
	return p.Only(only...), nil
}

// named puts the members of a family of tasks in the place of its name.
func (i *inputs) named(tasks []string) (all []string) {
	for _, name := range tasks {
		members := family(name, i.Tasks.Names)
		if _, err := os.Stat(name); err == nil || i.Tasks.Find(name) != nil || len(members) == 0 {
			members = []string{name}
		}
		all = append(all, members...)
	}
	return all
}

// taskOn returns the task of a name: the panel's own where it has one, else a
// built-in one or a file's.
func (i *inputs) taskOn(p *scenarios.Panel, name string) (*scenarios.Task, error) {
	t, err := i.Task(name)
	if own := p.Task(name); own != nil {
		return own, nil
	}
	return t, err
}

func putRig(p *scenarios.Panel, r *scenarios.Rig) {
	for k := range p.Knobs {
		p.Knobs[k].Inner = r
		if p.Knobs[k].Outer != nil {
			p.Knobs[k].Outer = r
		}
	}
}
