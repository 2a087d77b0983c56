package report

import (
	"context"
	"reflect"
	"slices"

	"dialwright/scenarios"
	"dialwright/scenarios/compare"
	"dialwright/scenarios/export"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/trial"
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
	Trials  *sample.Trials
	Watched Watched

	seat *trial.Seat
}

// recommended is what the settings after are called in sentences.
const recommended = "the recommendation"

// dial does the panel's dialings before and after, and watches them.
func (r *Result) dial(ctx context.Context, found []proposal) error {
	for _, k := range found {
		if err := r.dialKnob(ctx, k); err != nil {
			return err
		}
	}
	var family []paired.Verdict
	for _, d := range r.Dialings {
		if d.Changed {
			v := sample.Judge(recommended, d.After.Trials, short(r.Study.Profile.Name), d.Before.Trials, r.Study.Seed)
			v.Task = short(v.Task)
			family = append(family, v)
		}
	}
	paired.Family(family)
	for _, d := range r.Dialings {
		if d.Changed {
			d.Verdict, family = &family[0], family[1:]
		}
	}
	return r.watch(ctx)
}

// dialKnob compares what a knob is set to with what is recommended for each of its
// tasks.
func (r *Result) dialKnob(ctx context.Context, k proposal) error {
	s := r.Study
	study := &compare.Study{
		Panel: &scenarios.Panel{Name: s.Panel.Name, Knobs: []scenarios.Knob{*k.knob}}, Trials: s.Trials, Seed: s.Seed, Workers: s.Workers,
		Every: true, // the page shows single ones
	}
	// Tasks that want the same settings are one candidate.
	which := make([]int, len(k.chosen))
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
	candidate(k.now[0])
	for i, p := range k.chosen {
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
	var grips trial.Grips
	served := slices.DeleteFunc(s.Panel.Served(), func(u scenarios.Served) bool { return u.Knob.Name != k.knob.Name })
	for i, u := range served { // as they are called beside the panel's other knobs
		u.Knob = k.knob
		d := &Dialing{
			Use: u, Changed: which[i] != 0 || k.instead,
			Before: Way{Profile: study.Candidates[0].Profile, Trials: c.Trials[0][i]},
			After:  Way{Profile: study.Candidates[which[i]].Profile, Trials: c.Trials[which[i]][i]},
		}
		for _, w := range []*Way{&d.Before, &d.After} {
			w.Trials.Use = u
			if w.seat, err = grips.SeatOrPlain(u, w.Profile, s.Operator); err != nil {
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

// main returns the task that the single dialings are shown of: the one that gains most
// time a dialing, or where none gains any, the one that takes most in an hour.
func (r *Result) main() *Dialing {
	best, most := r.Dialings[0], 0.0
	for _, d := range r.Dialings {
		if x := -less(d.After.Trials.Summary().Mean, d.Before.Trials.Summary().Mean); d.Changed && x > most {
			best, most = d, x
		}
	}
	if most > 0 {
		return best
	}
	for _, d := range r.Dialings {
		if x := d.Use.PerHour * d.Before.Trials.Summary().Mean; x > most {
			best, most = d, x
		}
	}
	return best
}
