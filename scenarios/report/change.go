package report

import (
	"context"
	"reflect"
	"slices"
	"strings"

	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/trial"
)

// Change is one thing that is changed on a knob, and what it does by itself to the
// same dialings.
type Change struct {
	Knob     *scenarios.Knob
	Key      string // "" for the acceleration
	From, To string
	Before   sample.Panel // the knob's tasks as they are set now; nil: not measured
	After    sample.Panel // with this change alone
	Gain     paired.Average
}

// accelerated is what the acceleration as a whole is called in a list of changes.
const accelerated = "acceleration"

// changes lists what differs between now and after on a knob: each setting, and the
// acceleration as a whole.
func (r *Result) changes(ds []*Dialing) []Change {
	k := ds[0].Use.Knob
	var list []Change
	var keys []string
	accelerates := false
	for _, d := range ds {
		for _, p := range []*scenarios.Profile{d.Before.Profile, d.After.Profile} {
			for _, s := range p.Settings {
				if !slices.Contains(keys, s.Key) {
					keys = append(keys, s.Key)
				}
			}
		}
		b, a := d.Before.Profile, d.After.Profile
		accelerates = accelerates || b.Home != a.Home && !a.Acceleration.Plain() || b.PressCoarse != a.PressCoarse || !reflect.DeepEqual(b.Acceleration, a.Acceleration)
	}
	for _, key := range keys {
		from, to := valueOf(ds[0].Before.Profile, k, key), valueOf(ds[0].After.Profile, k, key)
		if from != to {
			list = append(list, Change{Knob: k, Key: key, From: from, To: to})
		}
	}
	if accelerates {
		list = append(list, Change{Knob: k, From: ds[0].Before.Profile.About(&k.Inner.Rig), To: ds[0].After.Profile.About(&k.Inner.Rig)})
	}
	return list
}

// valueOf is what a key is with a profile on a knob.
func valueOf(p *scenarios.Profile, k *scenarios.Knob, key string) string {
	for _, s := range p.Settings {
		if s.Key == key {
			return s.Value
		}
	}
	return scenarios.Get(&k.Inner.Rig, key)
}

// alone is the profile of now with one change of those that are recommended.
func (c *Change) alone(d *Dialing) *scenarios.Profile {
	p := *d.Before.Profile
	p.Name = recommended
	if c.Key == "" {
		p.Home, p.Acceleration, p.PressCoarse = d.After.Profile.Home, d.After.Profile.Acceleration, d.After.Profile.PressCoarse
		return &p
	}
	p.Settings = slices.DeleteFunc(slices.Clone(p.Settings), func(s scenarios.Setting) bool { return s.Key == c.Key })
	p.Settings = append(p.Settings, scenarios.Setting{Key: c.Key, Value: valueOf(d.After.Profile, d.Use.Knob, c.Key)})
	return &p
}

// single measures every change by itself, on the people of the report. A change that
// cannot be made without another one is not measured.
func (r *Result) single(ctx context.Context) error {
	var grips trial.Grips
	for _, ds := range r.knobs() {
		for _, c := range r.changes(ds) {
			for _, d := range ds {
				seat, err := grips.Seat(d.Use, c.alone(d), r.Study.Operator)
				if err != nil {
					break
				}
				t := sample.Of(seat)
				if _, err := trial.Batch(ctx, seat.Bench, r.Study.Seed, 0, d.Before.Trials.Len(), max(1, r.Study.Workers), t.Take); err != nil {
					return err
				}
				c.Before, c.After = append(c.Before, d.Before.Trials), append(c.After, t)
			}
			if len(c.After) < len(ds) {
				c.Before, c.After = nil, nil
				r.Changes = append(r.Changes, c)
				continue
			}
			c.Gain = c.After.Less(1, c.Before, draw.NewTrial(r.Study.Seed, "report change", len(r.Changes)))
			r.Changes = append(r.Changes, c)
		}
	}
	return nil
}

// name is the change in a few words.
func (c *ChangeReport) name() string {
	if c.Key == accelerated {
		return c.Key
	}
	return short(c.Key) + " " + spaced(c.From, c.To)
}

// spaced writes a value before and after, the unit once.
func spaced(from, to string) string {
	f, u := unit(from)
	t, v := unit(to)
	if u == v && u != "" {
		return f + " → " + t + " " + u
	}
	return strings.TrimSpace(short(from) + " → " + short(to))
}

// unit splits a quantity from its unit.
func unit(value string) (number, unit string) {
	i := strings.IndexFunc(value, func(r rune) bool { return (r < '0' || r > '9') && r != '.' && r != '-' })
	if i <= 0 || strings.ContainsAny(value[i:], "0123456789 ") {
		return value, ""
	}
	return value[:i], value[i:]
}
