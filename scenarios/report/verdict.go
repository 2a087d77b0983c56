package report

import (
	"fmt"
	"math"
	"strings"

	"dialwright/scenarios/explain"
	"dialwright/scenarios/tune"
)

// Verdict says the result in three sentences: how long a dialing takes, how it
// goes, and why it was so.
func (r *Result) Verdict() []string {
	before, after := r.Before.Seconds.Value, r.After.Seconds.Value
	var first string
	switch g := r.Gain.Mean; {
	case !r.changed():
		first = fmt.Sprintf("Nothing was found that beats the settings of now by more than %.0f %%: a dialing on this panel takes %.1f s on average (%.1f to %.1f s).",
			100*tune.Worth, before, r.Before.Seconds.Low, r.Before.Seconds.High)
	case g.High < 0:
		first = fmt.Sprintf("With the settings recommended here a dialing on this panel takes %.1f s on average instead of %.1f s: %.0f %% less (%.1f to %.1f s less).",
			after, before, 100*(1-after/before), -g.High, -g.Low)
	case g.Low > 0:
		first = fmt.Sprintf("With the settings recommended here a dialing on this panel takes %.1f s on average instead of %.1f s: that is what the caps on overshoot and lost clicks cost (%.1f to %.1f s more).",
			after, before, g.Low, g.High)
	default:
		first = fmt.Sprintf("With the settings recommended here a dialing on this panel takes %.1f s on average, now %.1f s; no difference in time was found.", after, before)
	}
	return []string{first, r.second(), r.third()}
}

func (r *Result) changed() bool {
	for _, d := range r.Dialings {
		if d.Changed {
			return true
		}
	}
	return false
}

func (r *Result) second() string {
	caps := fmt.Sprintf("%.3g %% and %.3g %%", 100*r.Study.MaxOvershoot, 100*r.Study.MaxLost)
	over, lost := r.After.Overshoot, r.After.Lost
	s := fmt.Sprintf("The number then runs past its target in %s %% of the dialings (now %s %%), and %s %% of the clicks are lost (now %s %%)",
		percentText(over), percentText(r.Before.Overshoot), percentText(lost), percentText(r.Before.Lost))
	if !r.changed() {
		s = fmt.Sprintf("The number runs past its target in %s %% of the dialings, and %s %% of the clicks are lost", percentText(over), percentText(lost))
	}
	switch within := over <= r.Study.MaxOvershoot && lost <= r.Study.MaxLost; {
	case within:
		return s + ", within the caps of " + caps + "."
	case r.Tune.Meets:
		return s + "; the people of the proof stayed within the caps of " + caps + ", these did not."
	}
	return s + "; nothing that was tried stays within the caps of " + caps + "."
}

// third says where the time goes and what to change first.
func (r *Result) third() string {
	var parts []string
	if r.Explain != nil {
		if b := r.worst(); b != nil {
			parts = append(parts, fmt.Sprintf("with the settings of now %.1f s of a dialing go into %s", b.Seconds.Value, b.Link))
		} else {
			parts = append(parts, "no link of the path costs time that could be shown")
		}
	}
	if c, knob := r.firstChange(); c != nil {
		what := c.What
		if c.Setting.Key != "" {
			what = c.Setting.Key + " " + c.Setting.Value
		}
		parts = append(parts, fmt.Sprintf("the change that does most is %s on the %s knob", what, short(knob)))
	}
	if len(parts) == 0 {
		return "Where the time goes was not looked at, because the report was interrupted."
	}
	s := strings.Join(parts, "; ")
	return strings.ToUpper(s[:1]) + s[1:] + "."
}

// worst returns the link that costs most time, or nil where none was shown to cost
// any.
func (r *Result) worst() *explain.Blame {
	var worst *explain.Blame
	for i, b := range r.Explain.Blames {
		if b.Seconds.Low > 0 && (worst == nil || b.Seconds.Value > worst.Seconds.Value) {
			worst = &r.Explain.Blames[i]
		}
	}
	return worst
}

// firstChange returns the single change that saves most in an hour, and its knob.
func (r *Result) firstChange() (best *tune.Change, on string) {
	least := 0.0
	for _, k := range r.Tune.Knobs {
		hour := 0.0
		for _, u := range k.Knob.Tasks {
			hour += u.PerHour
		}
		for i, c := range k.Changes {
			if g := hour * c.Gain.Mean.Value; g < least {
				best, on, least = &k.Changes[i], k.Knob.Name, g
			}
		}
	}
	return best, on
}

// percentText writes a share of 1 with a decimal where it is small.
func percentText(share float64) string {
	if p := math.Abs(100 * share); p < 9.95 && p != 0 {
		return fmt.Sprintf("%.1f", p)
	}
	return fmt.Sprintf("%.0f", 100*share)
}
