package explain

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"sync"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/trial"
)

// Advice is a setting that its owner can change, and what that would do: measured,
// not guessed. The value was chosen on the study's people; what it does was
// measured on as many others.
type Advice struct {
	Link    scenarios.Link
	Rig     string // "" for the profile
	Setting scenarios.Setting
	Change
}

// Change is what another setting does to the mean time of a dialing (negative:
// faster), to overshoot and to lost detents.
type Change struct {
	Cost
	Settings []scenarios.Setting
}

// mostValues is how many values of a range are tried, its ends among them; ours.
const mostValues = 6

// worthShare is the share of the mean time from which on a link is worth advice; ours.
const worthShare = 0.03

// noticedShare is the share of the mean time that somebody would notice; ours.
const noticedShare = 0.005

// rank sorts the blames and finds words for them.
func (r *Result) rank(tasks []*served) {
	slices.SortStableFunc(r.Blames, func(a, b Blame) int { return cmp.Compare(b.Seconds.Value, a.Seconds.Value) })
	for i := range r.Blames {
		b := &r.Blames[i]
		b.Sentence, b.note = sentence(b.Link, tasks), note(b.Link, tasks)
		none := paired.Estimate{}
		switch {
		case b.Sentence == idealAlready, b.Sentence == noneSet:
		case b.Seconds == none && b.Overshoot == none && b.Lost == none:
			b.Sentence += "; that changes nothing here"
		case !found(b.Seconds) && !found(b.Overshoot) && !found(b.Lost):
			b.Sentence += "; no cost was found"
		}
	}
}

// alternative is advice that has yet to prove itself.
type alternative struct {
	Advice
	measure func(on people) (Change, error)
	err     error // it cannot be set
}

// measure measures alternatives on people, as many at a time as there are workers.
func (r *Result) measure(ctx context.Context, list []*alternative, on people) error {
	return trial.Each(ctx, r.Study.Workers, len(list), func(i int) {
		list[i].Change, list[i].err = list[i].measure(on)
	})
}

// helps says whether an alternative saves time that somebody would notice.
func (r *Result) helps(a *alternative) bool {
	return a.err == nil && a.Seconds.High < 0 && -a.Seconds.Value > noticedShare*r.Real.Seconds.Value
}

// advise re-runs what could be set differently for the links that cost enough,
// and the settings of the question what if. After an interruption it does nothing.
func (r *Result) advise(ctx context.Context, tasks []*served) error {
	if r.Partial {
		return nil
	}
	s := r.Study
	for _, t := range tasks {
		t.fresh = sync.OnceValues(func() (*sample.Trials, error) { return r.runOn(ctx, t, fresh) })
	}
	whatIf := &alternative{measure: func(on people) (Change, error) {
		return r.change(ctx, tasks, s.WhatIf, func(string) bool { return true }, on)
	}}
	settings, curves := r.settings(ctx, tasks), r.curves(ctx, tasks)
	list := slices.Concat(slices.Concat(settings...), curves)
	if s.WhatIf != nil {
		list = append(list, whatIf)
	}
	if err := r.measure(ctx, list, seen); err != nil {
		return err
	}
	if s.WhatIf != nil {
		if whatIf.err != nil {
			return whatIf.err
		}
		r.WhatIf = &whatIf.Change
	}
	if err := r.keepSettings(ctx, settings); err != nil {
		return err
	}
	if err := r.keepCurves(ctx, curves); err != nil {
		return err
	}
	slices.SortStableFunc(r.Advice, func(a, b Advice) int { return cmp.Compare(a.Seconds.Value, b.Seconds.Value) })
	return nil
}

// settings lists, for everything that can be set on the links that cost enough, the
// values that could stand there instead.
func (r *Result) settings(ctx context.Context, tasks []*served) (lists [][]*alternative) {
	for _, b := range r.Blames {
		if b.Seconds.Value < worthShare*r.Real.Seconds.Value {
			continue
		}
		met := map[string]bool{}
		for _, t := range tasks {
			for _, rig := range []*scenarios.Rig{t.Knob.Inner, t.Knob.Outer} {
				if rig == nil || met[rig.Name] {
					continue
				}
				met[rig.Name] = true
				for _, g := range rig.Adjustable.Settings {
					if of(g.Key) != b.Link {
						continue
					}
					var list []*alternative
					for _, value := range choices(rig, g) {
						set := scenarios.Setting{Key: g.Key, Value: value}
						list = append(list, &alternative{
							Advice: Advice{Link: b.Link, Rig: rig.Name, Setting: set},
							measure: func(on people) (Change, error) {
								return r.change(ctx, tasks, []scenarios.Setting{set}, func(name string) bool { return name == rig.Name }, on)
							},
						})
					}
					lists = append(lists, list)
				}
			}
		}
	}
	return lists
}

// choices returns some values of a range, evenly, its ends among them; not the one that
// is set.
func choices(rig *scenarios.Rig, g scenarios.Range) (few []string) {
	all, err := g.Choices()
	if err != nil {
		return nil // a check of the file says so
	}
	now := scenarios.Get(&rig.Rig, g.Key)
	n := min(len(all), mostValues)
	for i := range n {
		value := all[i*(len(all)-1)/max(1, n-1)]
		if value != now {
			few = append(few, value)
		}
	}
	return few
}

// keepSettings advises the quickest value of each setting, if it helps.
func (r *Result) keepSettings(ctx context.Context, lists [][]*alternative) error {
	var kept []*alternative
	for _, list := range lists {
		list = slices.DeleteFunc(list, func(a *alternative) bool { return !r.helps(a) })
		if len(list) > 0 {
			kept = append(kept, slices.MinFunc(list, quicker))
		}
	}
	if err := r.measure(ctx, kept, fresh); err != nil {
		return err
	}
	for _, a := range kept {
		if a.err != nil {
			return a.err
		}
		if a.Seconds.High < 0 {
			r.Advice = append(r.Advice, a.Advice)
		}
	}
	return nil
}

// quicker compares what two alternatives save.
func quicker(a, b *alternative) int { return cmp.Compare(a.Seconds.Value, b.Seconds.Value) }

// Breaks says whether with a change more dialings than [scenarios.Calm] overshoot, and
// more than without it.
func (r *Result) Breaks(c Cost) bool {
	return c.Overshoot.Low > 0 && r.Real.Overshoot.Value+c.Overshoot.Value > scenarios.Calm
}

// curves lists the accelerations of the built-in profiles, instead of the profile's own.
func (r *Result) curves(ctx context.Context, tasks []*served) (list []*alternative) {
	for _, p := range scenarios.Profiles() {
		if p.Name == scenarios.Plain().Name || p.Name == r.Study.Profile.Name {
			continue
		}
		list = append(list, &alternative{
			Advice: Advice{Link: scenarios.Acceleration, Setting: scenarios.Setting{Key: "profile", Value: p.Name}},
			measure: func(on people) (Change, error) {
				return r.accelerated(ctx, tasks, p, on)
			},
		})
	}
	return list
}

// keepCurves keeps the quickest acceleration and, where that breaks the cap, the
// quickest that does not. It is how much a curve may save that counts here; tune
// searches for the curve.
func (r *Result) keepCurves(ctx context.Context, curves []*alternative) error {
	for _, a := range curves {
		if a.err != nil {
			return a.err
		}
	}
	curves = slices.DeleteFunc(curves, func(a *alternative) bool { return !r.helps(a) })
	slices.SortStableFunc(curves, quicker)
	// Those that will be asked unless other people say otherwise are measured at once.
	ahead := slices.IndexFunc(curves, func(a *alternative) bool { return !r.Breaks(a.Cost) }) + 1
	if ahead == 0 {
		ahead = len(curves)
	}
	if err := r.measure(ctx, curves[:ahead], fresh); err != nil {
		return err
	}
	for i, a := range curves {
		if i >= ahead {
			if err := r.measure(ctx, curves[i:i+1], fresh); err != nil {
				return err
			}
		}
		if a.err != nil {
			return a.err
		}
		if a.Seconds.High < 0 && (len(r.Quicker) == 0 || !r.Breaks(a.Cost)) {
			r.Quicker = append(r.Quicker, a.Advice)
			if !r.Breaks(a.Cost) {
				break
			}
		}
	}
	r.Advice = append(r.Advice, r.Quicker...)
	for i := range r.Blames {
		if b := &r.Blames[i]; b.Sentence == noneSet {
			b.Sentence += "; none of the built-in ones saves time here"
			if len(r.Quicker) > 0 {
				most := slices.MinFunc(r.Quicker, func(a, b Advice) int { return cmp.Compare(a.Seconds.Value, b.Seconds.Value) })
				b.Sentence = fmt.Sprintf("%s; of the built-in ones %s saves most, about %.1f s", noneSet, most.Setting.Value, -most.Seconds.Value)
			}
		}
	}
	return nil
}

// accelerated measures what the acceleration of a profile does beside the settings of
// the study's own.
func (r *Result) accelerated(ctx context.Context, tasks []*served, p scenarios.Profile, on people) (Change, error) {
	name := p.Name
	p.Settings = slices.Concat(r.Study.Profile.Settings, p.Settings)
	after, before := make(sample.Panel, len(tasks)), make(sample.Panel, len(tasks))
	for i, t := range tasks {
		c, set, err := r.Study.served(t.Served, &p)
		if err != nil {
			return Change{}, err
		}
		if before[i], err = r.real(t, on); err != nil {
			return Change{}, err
		}
		if after[i] = before[i]; set {
			if after[i], err = r.runOn(ctx, c, on); err != nil {
				return Change{}, err
			}
		}
	}
	return changed(tasks, []scenarios.Setting{{Key: "profile", Value: name}}, before, after), nil
}

// changed is what lies between what was measured before and after.
func changed(tasks []*served, settings []scenarios.Setting, before, after sample.Panel) Change {
	mean := func(part part) paired.Estimate {
		groups := make([]paired.Group, len(tasks))
		for i, t := range tasks {
			groups[i] = paired.Group{Weight: t.PerHour, Sample: make([]float64, before[i].Len())}
			for n := range groups[i].Sample {
				groups[i].Sample[n] = part(after[i], n) - part(before[i], n)
			}
		}
		return paired.WeightedMean(groups)
	}
	return Change{Settings: settings, Cost: Cost{mean(seconds), mean(overshot), mean(lost)}}
}

// people says on whom a change is measured.
type people int

const (
	seen  people = iota // those of the study
	fresh               // as many others
)

// real returns what all links real did to people.
func (r *Result) real(t *served, on people) (*sample.Trials, error) {
	if on == seen {
		return t.by[all], nil
	}
	return t.fresh()
}

// runOn does the trials of a task with all links real.
func (r *Result) runOn(ctx context.Context, t *served, on people) (*sample.Trials, error) {
	first := int(on) * r.Trials
	return r.Study.run(ctx, nil, t.Served, t.inner, t.outer, t.single, first, first+r.Trials)
}

// change measures what settings do on the rigs that are meant. Keys that a rig
// does not use are left out there.
func (r *Result) change(ctx context.Context, tasks []*served, settings []scenarios.Setting, meant func(rig string) bool, on people) (Change, error) {
	after, before := make(sample.Panel, len(tasks)), make(sample.Panel, len(tasks))
	used := map[string]bool{}
	for i, t := range tasks {
		c := *t
		touched := false
		for _, x := range []*setup{&c.inner, &c.outer} {
			if !meant(x.rig.Name) {
				continue
			}
			rig := x.rig
			var some []scenarios.Setting
			for _, set := range settings {
				probe := rig
				if err := scenarios.Set(&probe, set.Key, set.Value); err != nil {
					return Change{}, err
				}
				if slices.Contains(scenarios.Keys(&probe), set.Key) {
					some = append(some, set)
					used[set.Key] = true
				}
			}
			changed, err := scenarios.With(rig, some)
			if err != nil {
				return Change{}, err
			}
			if len(some) > 0 {
				x.rig, touched = changed, true
			}
		}
		before[i] = t.by[all]
		after[i] = before[i] // and no difference
		if touched {
			var err error
			if after[i], err = r.runOn(ctx, &c, on); err != nil {
				return Change{}, err
			}
			if before[i], err = r.real(t, on); err != nil {
				return Change{}, err
			}
		}
	}
	for _, set := range settings {
		if !used[set.Key] {
			return Change{}, fmt.Errorf("%s: no rig of the panel uses it", set.Key)
		}
	}
	return changed(tasks, settings, before, after), nil
}

const (
	idealAlready = "is ideal already on every knob"
	noneSet      = "none is set"
)

// sentence says what a link does on the rig that is used most of those on which
// it is not ideal.
func sentence(l scenarios.Link, tasks []*served) string {
	most := notIdeal(l, tasks)
	switch {
	case most == nil && l == scenarios.Acceleration:
		return noneSet
	case most == nil:
		return idealAlready
	}
	r := &most.inner.rig
	f := &r.Firmware
	return fmt.Sprintf("on %s ", r.Name) + [...]func() string{
		scenarios.ContactAndScan: func() string {
			return fmt.Sprintf("a contact chatters for up to %s, and %d equal readings %s apart are wanted", scenarios.Spoken(r.Knob.Bounce), f.Debounce, scenarios.Spoken(f.Scan))
		},
		scenarios.PulsesAndQueue: func() string {
			if f.Hold > 0 {
				return fmt.Sprintf("a line stays pressed until no click came for %s, and repeats do the counting", scenarios.Spoken(f.Hold))
			}
			return fmt.Sprintf("pulses of %s and gaps of %s carry %.1f clicks a second; %d may wait, the next is refused", scenarios.Spoken(f.Pulse), scenarios.Spoken(f.Gap), 1/(f.Pulse+f.Gap).Seconds(), f.Queue)
		},
		scenarios.USBPoll: func() string { return fmt.Sprintf("the computer asks every %s", scenarios.Spoken(r.USB.Poll)) },
		scenarios.KeyRepeat: func() string {
			return fmt.Sprintf("a key that stays down repeats after %s, %.3g times a second", scenarios.Spoken(r.System.Repeat.Delay), float64(r.System.Repeat.Rate))
		},
		scenarios.ProgramSampling: func() string { return sampling(r) },
		scenarios.DisplayLag: func() string {
			return fmt.Sprintf("the number shows %s late", scenarios.Spoken(r.Display.Latency))
		},
		scenarios.Acceleration: func() string { return "a quick click counts for more than a slow one" },
	}[l]()
}

// notIdeal returns the task done most of those on whose rig a link is not ideal.
func notIdeal(l scenarios.Link, tasks []*served) (most *served) {
	for _, t := range tasks {
		if t.inner.mend(all).key() != t.inner.mend(all&^(1<<l)).key() && (most == nil || t.PerHour > most.PerHour) {
			most = t
		}
	}
	return most
}

// note is a sentence's figures.
func note(l scenarios.Link, tasks []*served) string {
	most := notIdeal(l, tasks)
	if most == nil {
		return ""
	}
	r := &most.inner.rig
	f := &r.Firmware
	switch l {
	case scenarios.ContactAndScan:
		return fmt.Sprintf("%d readings, %s apart", f.Debounce, scenarios.Spoken(f.Scan))
	case scenarios.PulsesAndQueue:
		if f.Hold > 0 {
			return "held for " + scenarios.Spoken(f.Hold)
		}
		return fmt.Sprintf("%s on, %s off: %.1f/s", scenarios.Spoken(f.Pulse), scenarios.Spoken(f.Gap), 1/(f.Pulse+f.Gap).Seconds())
	case scenarios.USBPoll:
		return "every " + scenarios.Spoken(r.USB.Poll)
	case scenarios.KeyRepeat:
		return fmt.Sprintf("after %s, %.3g/s", scenarios.Spoken(r.System.Repeat.Delay), float64(r.System.Repeat.Rate))
	case scenarios.ProgramSampling:
		if r.Program.Sampling != encoder.Immediate && len(r.Program.FrameList) == 0 {
			return fmt.Sprintf("%.3g looks a second", float64(r.Program.Frames))
		}
	case scenarios.DisplayLag:
		return scenarios.Spoken(r.Display.Latency)
	}
	return ""
}

// sampling says what the program misses.
func sampling(r *encoder.Rig) string {
	g, f := &r.Program, &r.Firmware
	if g.Sampling == encoder.Immediate {
		return "the program repeats a button that stays down"
	}
	looks := fmt.Sprintf("the program looks %.3g times a second", float64(g.Frames))
	frame := 1 / float64(g.Frames)
	if len(g.FrameList) > 0 {
		looks, frame = "the program looks once a measured frame", 0
	}
	if g.Sampling == encoder.State && f.Output.Lines() && f.Hold == 0 && frame > 0 {
		if missed := 1 - f.Pulse.Seconds()/frame; missed > 0.005 {
			return fmt.Sprintf("%s and your pulses last %s: %s never seen", looks, scenarios.Spoken(f.Pulse), inTen(missed))
		}
		return looks + " and takes presses without a frame between them for one"
	}
	return looks
}

// inTen says a share in words.
func inTen(share float64) string {
	if share < 0.05 {
		return fmt.Sprintf("%.0f clicks in a hundred are", math.Max(1, 100*share))
	}
	words := [...]string{"no click is", "one click in ten is", "two clicks in ten are", "three clicks in ten are", "four clicks in ten are", "half of the clicks are", "six clicks in ten are", "seven clicks in ten are", "eight clicks in ten are", "nine clicks in ten are", "all clicks are"}
	return words[int(math.Round(10*math.Min(share, 1)))]
}

// found says whether an estimate is told from 0.
func found(e paired.Estimate) bool { return e.Sign() != 0 }
