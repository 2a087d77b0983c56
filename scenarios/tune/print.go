package tune

import (
	"fmt"
	"strings"

	"dialwright/scenarios/columns"
	"dialwright/scenarios/figure"
	"dialwright/scenarios/sample"
)

// Page is what the search found.
func (r *Result) Page() *columns.Page {
	p := &columns.Page{}
	p.Heading("What to set")
	p.Text(r.Verdict())
	p.Text("")
	for _, k := range r.Knobs {
		k.page(p)
	}
	for _, d := range r.Dead {
		p.Text("The " + d.Knob + " knob is dead: " + strings.ReplaceAll(d.Err.Error(), "\n", "; ") + ".")
		p.Text("")
	}
	if len(r.Robust) > 0 {
		p.Heading("Somewhere else: mean time of a dialing, s")
		var rows [][]string
		for _, v := range r.Robust {
			rows = append(rows, []string{v.Name, fmt.Sprintf("%.2f", v.Before.Seconds.Value), fmt.Sprintf("%.2f", v.After.Seconds.Value), sample.Signed(v.Gain.Mean, 1, 2)})
		}
		p.Table([]string{"", "before", "after", "difference"}, rows)
		if r.OnlyHere {
			p.Text("Marked: not better in every one of these. The recommendation wins only close to this rig and these hands.")
		}
		p.Text("")
	}
	if r.Partial {
		p.Text(fmt.Sprintf("Partial: interrupted with %d of %d knobs searched; what stands here is proven.", len(r.Knobs), len(r.Study.Panel.Knobs)))
	}
	p.Text(fmt.Sprintf("%d settings tried in %d trials, seed %d; before and after are %d fresh trials a task that no search has seen. In brackets 95 %% intervals.", r.Evaluations, r.Trials, r.Study.Seed, r.Study.Trials))
	return p
}

// Verdict says the result in a few sentences.
func (r *Result) Verdict() string {
	var s string
	switch {
	case !r.Changed():
		s = fmt.Sprintf("Nothing found that beats your settings by more than %.0f %%.", 100*Worth)
	case r.Gain.Mean.High < 0:
		s = fmt.Sprintf("A dialing takes %.2f s instead of %.2f s: %.0f %% less (%.2f to %.2f s less).", r.After.Seconds.Value, r.Before.Seconds.Value,
			100*(1-r.After.Seconds.Value/r.Before.Seconds.Value), -r.Gain.Mean.High, -r.Gain.Mean.Low)
	default:
		s = fmt.Sprintf("A dialing takes %.2f s instead of %.2f s (difference %s s).", r.After.Seconds.Value, r.Before.Seconds.Value, sample.Signed(r.Gain.Mean, 1, 2))
	}
	s += fmt.Sprintf(" Overshoot %.1f %% of dialings (before: %.1f %%), lost clicks %.1f %% (before: %.1f %%).", 100*r.After.Overshoot, 100*r.Before.Overshoot, 100*r.After.Lost, 100*r.Before.Lost)
	caps := fmt.Sprintf("at most %.3g %% overshoot and %.3g %% lost clicks", 100*r.Study.MaxOvershoot, 100*r.Study.MaxLost)
	if !r.Meets {
		s += " No candidate was found within the caps (" + caps + "); this is the nearest that could be proven."
	} else if !r.NowMeets {
		s += " Your settings are not within the caps (" + caps + "); these are."
	}
	if r.Gain.Mean.Low > 0 {
		s += " They are slower: that is what the caps cost. Keep yours where time matters more, or allow more with --max-overshoot or --max-lost."
	}
	return s
}

func (k *KnobResult) page(p *columns.Page) {
	p.Heading(fmt.Sprintf("The %s knob (%s)", k.Knob.Name, k.Knob.Inner.Name))
	if !k.Changed {
		p.Text("Stays as it is.")
	}
	for i, use := range k.Before {
		if i > 0 && same(k.Chosen[0], k.Chosen[i]) {
			continue
		}
		if k.Changed {
			which := "Set: "
			if i > 0 || len(k.Before) > 1 && !k.OneProfile() {
				which = "For " + use.Use.Task.Name + " set: "
			}
			p.Text(which + k.Chosen[i].About())
		}
	}
	var rows [][]string
	for i, b := range k.Before {
		a := k.After[i]
		rows = append(rows, row(b.Use.Task.Name+" before", b))
		if k.Changed {
			rows = append(rows, row(b.Use.Task.Name+" after", a))
		}
	}
	p.Table([]string{"", "time to target, s", "mean, s", "overshoot, %", "lost, %"}, rows)
	if len(k.Changes) > 0 {
		p.Text("Changed one at a time, the most useful first, s per dialing:")
		for _, c := range k.Changes {
			p.Item(fmt.Sprintf("%s: %s, overshoot %.0f %%, lost %.0f %%", c.What, sample.Signed(c.Gain.Mean, 1, 2), 100*c.Overshoot, 100*c.Lost))
		}
	}
	if len(k.Unimportant) > 0 {
		p.Text("Left alone because it does not matter: " + strings.Join(k.Unimportant, ", ") + ".")
	}
	if len(k.Sensitivity) > 0 {
		p.Text("Around the choice, s per dialing against it:")
		for _, n := range k.Sensitivity {
			p.Item(fmt.Sprintf("%s %s: %s, overshoot %.0f %%, lost %.0f %%", n.Key, n.Value, sample.Signed(n.Gain.Mean, 1, 2), 100*n.Overshoot, 100*n.Lost))
		}
	}
	if len(k.Front) > 1 {
		p.Drawing(k.Figure().Text)
	}
	p.Text("")
}

// OneProfile says whether all tasks of the knob have the same profile.
func (k *KnobResult) OneProfile() bool {
	for _, p := range k.Chosen {
		if !same(p, k.Chosen[0]) {
			return false
		}
	}
	return true
}

func row(name string, t *sample.Trials) []string {
	s, lost := t.Summary(), "–"
	if s.Fated {
		lost = columns.Percent(s.Lost.Value)
	}
	return []string{name, sample.Seconds(s.Time), fmt.Sprintf("%.2f", s.Mean), sample.Percent(s.Overshoot), lost}
}

// Figure is what can be had on the knob.
func (k *KnobResult) Figure() *figure.Figure {
	point := func(s sample.Score) figure.Point { return figure.Point{X: s.Seconds.Value, Y: 100 * s.Overshoot} }
	var tried []figure.Point
	for _, f := range k.Front {
		tried = append(tried, point(f.Score))
	}
	var choice *figure.Point
	if k.Changed {
		c := point(k.After.Score())
		choice = &c
	}
	f := Front(tried, point(k.Before.Score()), choice)
	f.Title = "Time against overshoot; nothing tried is better in both"
	return f
}

// Front draws mean times, s, to the right and overshoots, %, upwards: of what was
// tried, of the settings of now, and of the choice, nil where those of now are kept.
func Front(tried []figure.Point, now figure.Point, choice *figure.Point) *figure.Figure {
	now.Label = "now"
	if now.Chosen = choice == nil; now.Chosen {
		now.Label = "now, and the choice"
	}
	f := &figure.Figure{
		X: figure.Axis{Label: "mean time of a dialing (s)"}, Y: figure.Axis{Label: "dialings that overshoot (%)", Zero: true},
		Marks: []figure.Mark{
			figure.Points{Name: "tried", Tone: figure.Ink, At: tried},
			figure.Points{Name: "now", Tone: figure.Vermilion, At: []figure.Point{now}},
		},
	}
	if choice != nil {
		c := *choice
		c.Label, c.Chosen = "the choice", true
		f.Marks = append(f.Marks, figure.Points{Name: "the choice", Tone: figure.Blue, At: []figure.Point{c}})
	}
	return f
}
