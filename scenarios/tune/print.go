package tune

import (
	"fmt"
	"slices"
	"strings"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/figure"
	"dialwright/scenarios/sample"
)

// Page is what to set and what comes of it, in a few lines.
func (r *Result) Page() *columns.Page {
	p := &columns.Page{}
	p.Heading("What to set")
	p.Text(r.Verdict())
	for _, s := range Said(r.caps()) {
		p.Text(s)
	}
	p.Text("")
	for _, s := range r.settings() {
		p.Item(s)
	}
	p.Text("")
	header := []string{"mean, s; overshoot, lost, %", "now", "then", "over", "lost"}
	for _, l := range levelsTo(r.Study.MaxOvershoot) {
		header = append(header, fmt.Sprintf("≤%.0f", 100*l))
	}
	var rows [][]string
	for _, k := range r.Knobs {
		for i, b := range k.Before {
			x, y := b.Summary(), k.After[i].Summary()
			name := b.Use.Name()
			if k.Combination != "" {
				name += ", " + k.Combination
			}
			row := []string{name, fmt.Sprintf("%.1f", x.Mean), fmt.Sprintf("%.1f", y.Mean), arrow(x.Overshoot.Value, y.Overshoot.Value), arrow(x.Lost.Value, y.Lost.Value)}
			for _, l := range k.Levels[i] {
				best := "–"
				if l.Profile != nil {
					best = fmt.Sprintf("%.1f", l.Seconds)
				}
				row = append(row, best)
			}
			rows = append(rows, row)
		}
	}
	p.Table(header, rows)
	p.Text("The last columns: the least time found with at most so many % overshoots.")
	r.pageDead(p)
	r.pageOld(p)
	r.pageMany(p)
	var elsewhere []string
	for _, v := range r.Robust {
		if v.Cannot != nil {
			elsewhere = append(elsewhere, v.Name+" cannot be tried")
			continue
		}
		elsewhere = append(elsewhere, v.Name+" "+sample.Plus(v.Gain.Mean.Value, 1))
	}
	if elsewhere != nil {
		p.Text("Elsewhere, s: " + strings.Join(elsewhere, ", ") + ".")
	}
	r.end(p)
	return p
}

// arrow says a share before and after, %.
func arrow(before, after float64) string {
	return fmt.Sprintf("%.0f -> %.0f", 100*before, 100*after)
}

// settings say what changes, knobs with the same changes in one sentence.
func (r *Result) settings() (list []string) {
	var said []string
	knobs := map[string][]string{}
	add := func(knob, what string) {
		if knobs[what] == nil {
			said = append(said, what)
		}
		knobs[what] = append(knobs[what], knob)
	}
	for _, k := range r.Knobs {
		if !k.Changed || k.Front == nil { // of the first combination
			continue
		}
		var keys []string
		rig := &k.Knob.Inner.Rig
		for _, x := range slices.Concat(k.Now[0].Settings, k.Chosen[0].Settings) {
			from, to := value(k.Now[0], rig, x.Key), value(k.Chosen[0], rig, x.Key)
			if said := fmt.Sprintf("%s %s -> %s", x.Key, from, to); from != to && to != "" && !slices.Contains(keys, said) {
				keys = append(keys, said)
			}
		}
		slices.Sort(keys)
		if keys != nil {
			add(k.Knob.Name, strings.Join(keys, ", "))
		}
		for i, p := range k.Chosen {
			bare := func(p *scenarios.Profile) *scenarios.Profile {
				return &scenarios.Profile{Home: p.Home, Acceleration: p.Acceleration, PressCoarse: p.PressCoarse}
			}
			if same(bare(p), bare(k.Now[i])) || i > 0 && k.OneProfile() {
				continue
			}
			name := k.Knob.Name
			if !k.OneProfile() {
				name = k.Before[i].Use.Name()
			}
			what := fmt.Sprintf("%s in the %s, a click counts %s", accel.KindOf(p.Acceleration.Curve).Word, p.Home, p.Gains(&k.Knob.Inner.Rig))
			if p.Acceleration.Plain() {
				what = "no acceleration"
			}
			if p.PressCoarse > 0 {
				what += fmt.Sprintf(", %d after a push", p.PressCoarse)
			}
			add(name, what)
		}
	}
	for _, what := range said {
		list = append(list, strings.Join(knobs[what], ", ")+": "+what)
	}
	return list
}

// value is that of a key under a profile.
func value(p *scenarios.Profile, r *encoder.Rig, key string) string {
	for _, s := range p.Settings {
		if s.Key == key {
			return s.Value
		}
	}
	return scenarios.Get(r, key)
}

// pageMany says how the settings suit several rigs and people.
func (r *Result) pageMany(p *columns.Page) {
	if r.Many == nil {
		return
	}
	var rows [][]string
	quicker := false
	for _, x := range r.Many {
		quicker = quicker || x.After.Seconds.Value < x.Own.Seconds.Value
		rows = append(rows, []string{x.Name, fmt.Sprintf("%.2f", x.Before.Seconds.Value), fmt.Sprintf("%.2f", x.After.Seconds.Value), columns.Percent(x.After.Overshoot),
			fmt.Sprintf("%.2f", x.Own.Seconds.Value), sample.Plus(x.After.Seconds.Value-x.Own.Seconds.Value, 2)})
	}
	p.Text("")
	p.Table([]string{"mean of a dialing, s", "now", "then", "overshoot, %", "its own best", "regret"}, rows)
	if quicker {
		p.Text("Its own best keeps to the caps as far as it can; below 0 a regret says what that costs.")
	}
}

// end says what it took.
func (r *Result) end(p *columns.Page) {
	if r.Partial {
		p.Text(fmt.Sprintf("Partial: interrupted with %d of %d knobs searched; what stands here is proven.", len(r.Knobs), len(r.Study.Panel.Knobs)))
	}
	p.Text(fmt.Sprintf("%d settings tried in %d trials, seed %d; now and then on %d fresh dialings a task, the caps on %d.", r.Evaluations, r.Trials, r.Study.Seed, r.Study.Trials, proofTimes*r.Study.Trials))
}

// Detail is everything that the search found.
func (r *Result) Detail() *columns.Page {
	p := &columns.Page{}
	p.Heading("What to set")
	p.Text(r.Verdict())
	for _, s := range Said(r.caps()) {
		p.Text(s)
	}
	p.Text("")
	for _, k := range r.Knobs {
		k.page(p)
	}
	r.pageDead(p)
	r.pageOld(p)
	r.pageMany(p)
	if len(r.Robust) > 0 {
		p.Heading("Somewhere else: mean time of a dialing, s")
		var rows [][]string
		for _, v := range r.Robust {
			if v.Cannot != nil {
				rows = append(rows, []string{v.Name, "–", "–", oneLine(v.Cannot)})
				continue
			}
			rows = append(rows, []string{v.Name, fmt.Sprintf("%.2f", v.Before.Seconds.Value), fmt.Sprintf("%.2f", v.After.Seconds.Value), sample.Signed(v.Gain.Mean, 1, 2)})
		}
		p.Table([]string{"", "before", "after", "difference"}, rows)
		if r.OnlyHere {
			p.Text("Marked: not better in every one of these. The recommendation wins only close to this rig and these hands.")
		}
		p.Text("")
	}
	r.end(p)
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
	if r.Study.Caps != Whole {
		caps += " on every task"
	}
	if !r.Meets {
		s += " No candidate was found within the caps (" + caps + "); this is the nearest that could be proven."
	} else if !r.NowMeets {
		s += " Your settings are not within the caps (" + caps + "); these are, as far as can be told."
	}
	if r.Gain.Mean.Low > 0 {
		s += " They are slower: that is what the caps cost. Keep yours where time matters more, or allow more with --max-overshoot or --max-lost."
	}
	return s
}

func (k *KnobResult) page(p *columns.Page) {
	title := fmt.Sprintf("The %s knob (%s)", k.Knob.Name, k.Knob.Inner.Name)
	if k.Combination != "" {
		title += ", " + k.Combination
	}
	p.Heading(title)
	if !k.Changed {
		p.Text("Stays as it is.")
	}
	for i, chosen := range k.Chosen {
		alike := func(o *scenarios.Profile) bool { return same(o, chosen) }
		if !k.Changed || slices.ContainsFunc(k.Chosen[:i], alike) {
			continue
		}
		which := "Set: "
		if !k.OneProfile() {
			var names []string
			for n, b := range k.Before {
				if alike(k.Chosen[n]) {
					names = append(names, b.Use.Task.Name)
				}
			}
			which = "For " + strings.Join(names, ", ") + " set: "
		}
		p.Text(which + chosen.About(&k.Knob.Inner.Rig))
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

// Figures are what can be had, knob by knob.
func (r *Result) Figures() []*figure.Figure {
	var list []*figure.Figure
	for i := range r.Knobs {
		f := r.Knobs[i].Figure()
		f.Name = fmt.Sprintf("front-%d", i+1)
		list = append(list, f)
	}
	return list
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
