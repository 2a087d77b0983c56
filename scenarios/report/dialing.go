package report

import (
	"context"
	"reflect"

	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/compare"
	"dialwright/scenarios/export"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/trial"
	"dialwright/scenarios/tune"
)

// Dialing is a task on the knob that serves it, before and after.
type Dialing struct {
	Use           scenarios.Served
	Changed       bool // what is recommended differs from what is set
	Before, After Way
	Verdict       *paired.Verdict // after against before; nil where nothing changed

	card export.KnobCard // of the knob as it is set for this task, which alone is in its Tasks
}

// Way is how a task is dialed with some settings.
type Way struct {
	Profile *scenarios.Profile
	Cell    *compare.Cell
	Watched Watched

	bench  *trial.Bench
	report compare.TaskReport
}

// recommended is what the settings after are called in sentences.
const recommended = "the recommendation"

func source(seed uint64, task string) draw.Trial { return compare.Source(seed, task) }

// dial does the panel's dialings before and after, and watches them.
func (r *Result) dial(ctx context.Context) error {
	for _, k := range r.Tune.Knobs {
		if err := r.dialKnob(ctx, k); err != nil {
			return err
		}
	}
	var family []paired.Verdict
	for _, d := range r.Dialings {
		if d.Changed {
			b, a := d.Before.Cell, d.After.Cell
			family = append(family, paired.Judge(paired.Pair{
				A: recommended, B: short(r.Study.Profile.Name), Task: short(d.Use.Task.Name), TimesA: a.Seconds, TimesB: b.Seconds, Limit: b.Limit,
				OvershotA: a.Overshot, OvershotB: b.Overshot,
			}, source(r.Study.Seed, d.Use.Task.Name)))
		}
	}
	paired.Family(family)
	for _, d := range r.Dialings {
		if d.Changed {
			d.Verdict, family = &family[0], family[1:]
		}
	}
	r.watch()
	return nil
}

// dialKnob compares what a knob is set to with what is recommended for each of its
// tasks.
func (r *Result) dialKnob(ctx context.Context, k *tune.KnobResult) error {
	s := r.Study
	study := &compare.Study{
		Panel: &scenarios.Panel{Name: s.Panel.Name, Knobs: []scenarios.Knob{*k.Knob}}, Trials: s.Trials, Seed: s.Seed, Workers: s.Workers,
	}
	// Tasks that want the same settings are one candidate.
	which := make([]int, len(k.Chosen))
	candidate := func(p *scenarios.Profile) int {
		for i, c := range study.Candidates {
			if same(c.Profile, p) {
				return i
			}
		}
		set := *p
		set.Name = recommended
		if len(study.Candidates) == 0 {
			set.Name = s.Profile.Name
		}
		study.Candidates = append(study.Candidates, compare.Candidate{Name: set.Name, Profile: &set, Operator: s.Operator})
		return len(study.Candidates) - 1
	}
	candidate(k.Now[0])
	for i, p := range k.Chosen {
		which[i] = candidate(p)
	}
	c, err := compare.Run(ctx, study)
	if err != nil {
		return err
	}
	cards := make([]*export.Card, len(study.Candidates))
	for i := range cards {
		if cards[i], err = export.NewCard(c, i); err != nil {
			return err
		}
	}
	reports := c.Report().Profiles
	for i, u := range c.Uses {
		u.Knob = k.Knob
		d := &Dialing{
			Use: u, Changed: which[i] != 0,
			Before: Way{Profile: study.Candidates[0].Profile, Cell: c.Cells[0][i], report: reports[0].Tasks[i]},
			After:  Way{Profile: study.Candidates[which[i]].Profile, Cell: c.Cells[which[i]][i], report: reports[which[i]].Tasks[i]},
		}
		for _, w := range []*Way{&d.Before, &d.After} {
			if w.bench, err = bench(u, w.Profile, s.Operator); err != nil {
				return err
			}
		}
		d.card = cards[which[i]].Knobs[0]
		d.card.Tasks = d.card.Tasks[i : i+1]
		r.Dialings = append(r.Dialings, d)
	}
	return nil
}

// same says whether two profiles do the same.
func same(a, b *scenarios.Profile) bool {
	return a.Home == b.Home && a.PressCoarse == b.PressCoarse && sameSettings(a.Settings, b.Settings) && reflect.DeepEqual(a.Acceleration, b.Acceleration)
}

func sameSettings(a, b []scenarios.Setting) bool {
	return len(a) == len(b) && (len(a) == 0 || reflect.DeepEqual(a, b))
}

// bench makes a task on its knob ready, with a profile that is known to fit it.
func bench(u scenarios.Served, p *scenarios.Profile, o *scenarios.Operator) (*trial.Bench, error) {
	cell := trial.Cell{Task: u.Task, Rings: u.Knob.Rings, Inner: &u.Knob.Inner.Rig, Profile: p, Operator: o, Others: u.Others}
	if u.Knob.Outer != nil {
		cell.Outer = &u.Knob.Outer.Rig
	}
	return trial.NewBench(cell)
}

// main returns the task that the single dialings are shown of: the one that the
// recommendation saves most time on in an hour, or where nothing is recommended,
// the one that takes most.
func (r *Result) main() *Dialing {
	var best *Dialing
	most := 0.0
	for _, changed := range []bool{true, false} {
		for _, d := range r.Dialings {
			x := d.Use.PerHour * d.Before.Cell.Mean
			if changed {
				x = d.Use.PerHour * (d.Before.Cell.Mean - d.After.Cell.Mean)
			}
			if x > most && (d.Changed || !changed) {
				best, most = d, x
			}
		}
		if best != nil {
			return best
		}
	}
	return r.Dialings[0]
}
