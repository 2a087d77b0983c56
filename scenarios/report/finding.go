package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"dialwright/scenarios/sample"
	"dialwright/scenarios/tune"
)

// Alternative is the panel with some of its knobs left as they are.
type Alternative struct {
	Left   []string `json:"left"`   // knobs
	Reason string   `json:"reason"` // slower, overshoot: what leaving them avoids
	sample.ScoreReport
}

// The reasons for which knobs could be left as they are.
const (
	becauseSlower = "slower"
	becausePast   = "overshoot"
)

// alternatives are worked out for knobs that make a task slower, and for those that
// take a task past the cap on overshoot, where something is gained all the same.
func (r *Result) alternatives() []Alternative {
	list := []Alternative{}
	for _, reason := range []string{becauseSlower, becausePast} {
		var left []string
		for _, d := range r.Dialings {
			b, a := d.Before.Trials.Summary(), d.After.Trials.Summary()
			bad := reason == becauseSlower && a.Mean > b.Mean && useful(b.Mean, a.Mean) ||
				reason == becausePast && past(a.Overshoot.Value, r.Study.MaxOvershoot) && a.Overshoot.Value > b.Overshoot.Value
			if name := d.Use.Knob.Name; d.Changed && bad && !slices.Contains(left, name) {
				left = append(left, name)
			}
		}
		if left == nil {
			continue
		}
		var panel sample.Panel
		for _, d := range r.Dialings {
			if slices.Contains(left, d.Use.Knob.Name) {
				panel = append(panel, d.Before.Trials)
			} else {
				panel = append(panel, d.After.Trials)
			}
		}
		x := Alternative{left, reason, panel.Score().Report()}
		if reason == becauseSlower || x.Time.Value < r.Before.Seconds.Value {
			list = append(list, x)
		}
	}
	return list
}

// slower lists the tasks that take longer with what is recommended.
func (r *Report) slower() []*Task {
	var list []*Task
	for i := range r.Tasks {
		t := &r.Tasks[i]
		if b, a := t.Before.Time.Mean, t.After.Time.Mean; t.Changed && a > b && useful(b, a) {
			list = append(list, t)
		}
	}
	return list
}

// called is what a task is called: with its knob where several knobs serve it.
func (r *Report) called(knob, task string) string {
	if slices.ContainsFunc(r.Tasks, func(t Task) bool { return t.Task == task && t.Knob != knob }) {
		return short(knob) + "/" + short(task)
	}
	return short(task)
}

func (r *Report) names(tasks []*Task) []string {
	var list []string
	for _, t := range tasks {
		list = append(list, r.called(t.Knob, t.Task))
	}
	return list
}

func (r *Report) changed() bool {
	return slices.ContainsFunc(r.Tasks, func(t Task) bool { return t.Changed })
}

// finding is the result in one line.
func (r *Report) finding() string {
	b, a := r.Before.Time.Value, r.After.Time.Value
	share := func(x float64) string { return plain(100*x, 0) }
	var s string
	switch {
	case !r.changed():
		return "Nothing to change: a number takes " + inSeconds(b) + " s, and nothing that was tried is worth it"
	case r.Gain.High < 0:
		s = fmt.Sprintf("%s %% less time per number: %s s instead of %s s", share(1-tenths(a)/tenths(b)), inSeconds(a), inSeconds(b))
	case r.Gain.Low > 0:
		return fmt.Sprintf("%s %% more time per number, the price of the caps: %s s instead of %s s", share(tenths(a)/tenths(b)-1), inSeconds(a), inSeconds(b))
	default:
		s = fmt.Sprintf("No difference in time was found: a number takes %s s, before %s s", inSeconds(a), inSeconds(b))
	}
	if slow := r.names(r.slower()); slow != nil {
		s += ", but " + listed(slow) + verb(slow, " takes longer", " take longer")
	}
	return s
}

// lead are the sentences that follow the finding: what it costs first, then where it
// comes from.
func (r *Report) lead() []string {
	var list []string
	if slow := r.slower(); slow != nil {
		var parts []string
		for _, t := range slow {
			b, a := t.Before.Time.Mean, t.After.Time.Mean
			parts = append(parts, fmt.Sprintf("%s takes %s s longer (%s s instead of %s s; overshoot %s %% instead of %s %%)",
				r.called(t.Knob, t.Task), plain(less(a, b), 1), inSeconds(a), inSeconds(b), inPercent(t.After.Overshoot.Share), inPercent(t.Before.Overshoot.Share)))
		}
		s := upper(listed(parts))
		for _, x := range r.Alternatives {
			if x.Reason == becauseSlower {
				s += ". " + x.sentence() + "; --max-overshoot moves the cap of " + bare(100*r.MaxOvershoot, 1) + " % that asks for it"
			}
		}
		list = append(list, s+".")
	}
	if t := r.mainTask(); t != nil && t.Changed && !slices.Contains(r.slower(), t) {
		s := fmt.Sprintf("%s gains most: %s s instead of %s s", upper(r.called(t.Knob, t.Task)), inSeconds(t.After.Time.Mean), inSeconds(t.Before.Time.Mean))
		if by := r.mostly(t); by != "" {
			s += ", mainly by " + by
		}
		list = append(list, s+".")
	}
	for _, s := range r.Search.said {
		list = append(list, clean(s, 400))
	}
	if !r.changed() {
		list = append(list, fmt.Sprintf("The number runs past its target in %s %% of the dialings; %s %% of the clicks are lost.", inPercent(r.Before.Overshoot), inPercent(r.Before.Lost)))
	}
	return list
}

// sentence says what the alternative is.
func (x *Alternative) sentence() string {
	var left []string
	for _, k := range x.Left {
		left = append(left, short(k))
	}
	return fmt.Sprintf("Leave the %s knob%s as %s and a number takes %s s on average, with %s %% overshoot", listed(left), verb(left, "", "s"), verb(left, "it is", "they are"), inSeconds(x.Time.Value), inPercent(x.Overshoot))
}

// mainTask is the task that the single dialings are of.
func (r *Report) mainTask() *Task {
	for i := range r.Tasks {
		if t := &r.Tasks[i]; r.Main == t.Task || r.Main == t.Knob+"/"+t.Task {
			return &r.Tasks[i]
		}
	}
	return nil
}

// mostly names the changes that do most for a task, each by itself.
func (r *Report) mostly(t *Task) string {
	type part struct {
		name string
		less float64
	}
	var parts []part
	for i := range r.Changes {
		c := &r.Changes[i]
		for _, x := range c.Tasks {
			if c.Knob == t.Knob && x.Task == t.Task && x.After < x.Before && useful(x.Before, x.After) {
				parts = append(parts, part{c.name(), less(x.After, x.Before)})
			}
		}
	}
	slices.SortStableFunc(parts, func(a, b part) int { return cmp.Compare(a.less, b.less) })
	var said []string
	for _, p := range parts[:min(2, len(parts))] {
		said = append(said, fmt.Sprintf("%s (%s s by itself)", p.name, signed(p.less, 1)))
	}
	return listed(said)
}

// caps says for which tasks the caps hold, what the calmest costs, and what could be
// done; nothing where all hold.
func (r *Report) caps() []string {
	var list []string
	loud := slices.ContainsFunc(r.Search.Caps, func(c tune.CapReport) bool { return c.Outcome != tune.Within })
	if loud {
		list = append(list, fmt.Sprintf("At most %s %% of the dialings of each task are to overshoot.", bare(100*r.MaxOvershoot, 1)))
		list = append(list, tune.Said(r.Search.Caps)...)
	}
	if past(r.After.Lost, r.MaxLost) {
		list = append(list, fmt.Sprintf("The cap of %s %% on lost clicks is broken: %s %% are lost%s.", bare(100*r.MaxLost, 1), inPercent(r.After.Lost), r.was(r.Before.Lost)))
	}
	if list == nil {
		return nil
	}
	for _, x := range r.Alternatives {
		if x.Reason == becausePast {
			list = append(list, x.sentence()+".")
		}
	}
	if r.For != "calm" && loud {
		list = append(list, "--for calm looks for settings that overshoot less, and --max-overshoot sets the cap.")
	}
	return list
}

// was adds what a share was, where something changes.
func (r *Report) was(before float64) string {
	if !r.changed() {
		return ""
	}
	return " (before " + inPercent(before) + " %)"
}

// past says whether a share is beyond a cap, as both are shown.
func past(share, most float64) bool { return tenths(100*share) > tenths(100*most) }

// about says what the report is of, and what the finding rests on.
func (r *Report) about() string {
	s := ""
	if t := short(r.Title); t != "" {
		s = strings.TrimSuffix(t, ".")
	} else {
		s = "Panel " + short(r.Panel)
	}
	s += fmt.Sprintf(", profile %s, %s operator (simulated).", short(r.Profile), short(r.Operator))
	if !r.changed() {
		return s
	}
	d := less(r.After.Time.Value, r.Before.Time.Value)
	return s + fmt.Sprintf(" %s s per number (%s, 95 %% sure). Overshoot %s %%. Lost clicks %s %%.", signed(d, 1), between(d, r.Gain),
		becomes(inPercent(r.Before.Overshoot), inPercent(r.After.Overshoot)), becomes(inPercent(r.Before.Lost), inPercent(r.After.Lost)))
}
