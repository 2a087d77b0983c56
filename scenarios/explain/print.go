package explain

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
)

// Rows is a line for each link, and one for all together.
func (r *Result) Rows() columns.Table {
	var rows [][]columns.Cell
	row := func(name string, c Cost) {
		cost := func(e paired.Estimate, times float64, decimals int) columns.Cell {
			return columns.Cell{Text: sample.Signed(e, times, decimals), Values: []any{e.Value, e.Low, e.High}}
		}
		rows = append(rows, []columns.Cell{columns.Of(name), cost(c.Seconds, 1, 2), cost(c.Overshoot, 100, 0), cost(c.Lost, 100, 0)})
	}
	for _, b := range r.Blames {
		row(b.Link.String(), b.Cost)
	}
	row("all together", r.Total)
	return columns.Table{Columns: []columns.Column{
		{Keys: []string{"link"}},
		{Head: "time, s", Keys: []string{"time_s", "time_low_s", "time_high_s"}},
		{Head: "overshoot, points", Keys: []string{"overshoot_share", "overshoot_low", "overshoot_high"}},
		{Head: "lost, points", Keys: []string{"lost_share", "lost_low", "lost_high"}},
	}, Rows: slices.Values(rows)}
}

// Detail is everything that the explanation says.
func (r *Result) Detail() *columns.Page {
	p := &columns.Page{}
	p.Heading("What each link of the path costs, per dialing")
	p.Show(r.Rows())
	p.Text(fmt.Sprintf("A dialing takes %.2f s on average; with every link ideal it would take %.2f s. In brackets 95 %% intervals.", r.Real.Seconds.Value, r.Ideal.Seconds.Value))
	p.Text("")
	for _, b := range r.Blames {
		p.Item(b.Link.String() + ": " + b.Sentence)
	}
	for _, x := range r.Pairs {
		how := "they cost more than each by itself: mend one of them, and much of the other's cost is gone too"
		if x.Seconds.Value < 0 {
			how = "they stand in for each other: while one is there, mending the other helps little"
		}
		p.Item(fmt.Sprintf("%s together with %s: %s (%s s)", x.A, x.B, how, sample.Signed(x.Seconds, 1, 2)))
	}
	p.Text("")
	if r.WhatIf != nil {
		p.Heading("What if")
		p.Item(told(r.WhatIf.Settings, r.WhatIf.Cost))
		p.Text("")
	}
	p.Heading("What to change")
	if r.Partial {
		p.Text("Partial: interrupted before all settings had been tried.")
	} else if len(r.Advice) == 0 {
		p.Text("Nothing found among the settings marked adjustable that makes dialing quicker.")
	}
	for _, a := range r.Advice {
		said := told(a.Settings, a.Cost)
		if a.Rig != "" {
			said = "on " + a.Rig + " " + said
		}
		if r.Breaks(a.Cost) {
			said += fmt.Sprintf("; that is more than %.0f %%", 100*scenarios.Calm)
		}
		p.Item(said)
	}
	p.Text("")
	note := fmt.Sprintf("Shapley values over %d combinations of real and ideal links, %d trials a task each, seed %d.", r.Runs, r.Trials, r.Study.Seed)
	if r.Partial {
		note += fmt.Sprintf(" Partial: interrupted, %d trials were asked for.", r.Study.Trials)
	} else {
		note += fmt.Sprintf(" Settings were tried one at a time; what they do was measured on %d other people a task.", r.Trials)
	}
	p.Text(note)
	return p
}

// told says what settings do.
func told(settings []scenarios.Setting, c Cost) string {
	s := ""
	for i, x := range settings {
		if i > 0 {
			s += ", "
		}
		s += x.String()
	}
	switch {
	case !found(c.Seconds):
		s += fmt.Sprintf(": no difference found in time (%s s)", sample.Signed(c.Seconds, 1, 2))
	case c.Seconds.Value < 0:
		s += fmt.Sprintf(": %.2f s less per dialing (%.2f to %.2f)", -c.Seconds.Value, -c.Seconds.High, -c.Seconds.Low)
	default:
		s += fmt.Sprintf(": %.2f s more per dialing (%.2f to %.2f)", c.Seconds.Value, c.Seconds.Low, c.Seconds.High)
	}
	if o := c.Overshoot; found(o) {
		more := "more"
		if o.Value < 0 {
			more = "fewer"
		}
		s += fmt.Sprintf(", %.0f points %s overshoot", math.Abs(100*o.Value), more)
	}
	if l := c.Lost; found(l) {
		more := "more"
		if l.Value < 0 {
			more = "fewer"
		}
		s += fmt.Sprintf(", %.0f points %s lost clicks", math.Abs(100*l.Value), more)
	}
	return s
}

// Page is the answer: what to change, and where the time goes.
func (r *Result) Page() *columns.Page {
	p := &columns.Page{}
	r.changes(p)
	p.Text("")
	r.times(p)
	note := fmt.Sprintf("%d trials a task and combination of links, seed %d; in brackets 95 %% intervals.", r.Trials, r.Study.Seed)
	if r.Partial {
		note += fmt.Sprintf(" Partial: interrupted, %d trials were asked for, and not all settings were tried.", r.Study.Trials)
	} else if len(r.Advice) > 0 {
		note += " Changes were tried one at a time and measured on other people."
	}
	p.Text(note + " --detail: overshoot and lost clicks of each link.")
	return p
}

// changes shows what to change, the most useful first, with what it does to overshoot
// and lost clicks.
func (r *Result) changes(p *columns.Page) {
	breaks := false
	var rows [][]string
	row := func(name string, c Cost) {
		over := points(c.Overshoot)
		if r.Breaks(c) {
			over, breaks = over+" !", true
		}
		rows = append(rows, []string{name, span(c.Seconds.Negated()), over, points(c.Lost)})
	}
	if r.WhatIf != nil {
		name := ""
		for i, x := range r.WhatIf.Settings {
			if i > 0 {
				name += ", "
			}
			name += x.String()
		}
		row("what if: "+name, r.WhatIf.Cost)
	}
	for _, a := range r.Advice {
		name := a.Setting.String()
		if a.Rig != "" {
			name = a.Rig + ": " + name
		}
		row(name, a.Cost)
	}
	if len(rows) > 0 {
		p.Table([]string{"To change, most useful first", "less, s", "overshoot", "lost"}, rows)
	}
	if len(r.Advice) == 0 && !r.Partial {
		p.Text("Nothing was found to change that makes dialing quicker: neither among the settings marked adjustable nor among the built-in accelerations.")
	}
	if breaks {
		p.Text(fmt.Sprintf("! more than %.0f %% of the dialings overshoot then (now %s); tune searches for settings that keep within that.", 100*scenarios.Calm, columns.Percent(r.Real.Overshoot.Value)))
	}
}

// times shows where all of the time of a dialing goes.
func (r *Result) times(p *columns.Page) {
	t := r.Total.Seconds
	p.Heading(fmt.Sprintf("Where %.2f s go: hand and eye %.2f, path %s", r.Real.Seconds.Value, r.Ideal.Seconds.Value, span(t)))
	longest := r.Ideal.Seconds.Value
	for _, b := range r.Blames {
		longest = max(longest, math.Abs(b.Seconds.Value))
	}
	var rows [][]string
	row := func(name string, seconds float64, note string) {
		const most = 24
		bar := strings.Repeat("#", int(most*max(0, seconds)/longest+0.5))
		if bar == "" && seconds > 0 {
			bar = "."
		}
		rows = append(rows, []string{name, plain(seconds), bar, note})
	}
	row("hand and eye", r.Ideal.Seconds.Value, "with every link ideal")
	var free []string
	rest, accelerated := 0.0, true
	for _, b := range r.Blames {
		switch {
		case b.Link == scenarios.Acceleration && strings.HasPrefix(b.Sentence, noneSet):
			accelerated = false
		case b.Link == scenarios.Acceleration:
			row(b.Link.String(), b.Seconds.Value, r.Study.Profile.Name)
		case found(b.Seconds) && math.Abs(b.Seconds.Value) >= 0.005:
			row(b.Link.String(), b.Seconds.Value, b.note)
		default:
			free, rest = append(free, b.Link.String()), rest+b.Seconds.Value
		}
	}
	p.Show(columns.Table{Columns: []columns.Column{{Head: ""}, {Head: "s"}, {Head: "", Left: true}, {Head: "", Left: true}}, Rows: func(yield func([]columns.Cell) bool) {
		for _, x := range rows {
			var cells []columns.Cell
			for _, s := range x {
				cells = append(cells, columns.Cell{Text: s})
			}
			if !yield(cells) {
				return
			}
		}
	}})
	var said []string
	if len(free) > 0 {
		said = append(said, fmt.Sprintf("No cost found: %s (together %s s).", strings.Join(free, ", "), plain(rest)))
	}
	if !accelerated {
		for _, b := range r.Blames {
			if b.Link == scenarios.Acceleration {
				said = append(said, "Acceleration: "+b.Sentence+".")
			}
		}
	}
	if len(r.Pairs) > 0 {
		x := slices.MaxFunc(r.Pairs, func(a, b Pair) int { return cmp.Compare(math.Abs(a.Seconds.Value), math.Abs(b.Seconds.Value)) })
		how := "Together %s with %s cost %s s of that: mend one, and most of it is gone."
		if x.Seconds.Value < 0 {
			how = "%s and %s stand in for each other (%s s): while one is there, mending the other helps little."
		}
		said = append(said, fmt.Sprintf(how, x.A, x.B, plain(math.Abs(x.Seconds.Value))))
	}
	if len(said) > 0 {
		p.Text(strings.Join(said, " "))
	}
}

// span writes a time with its interval.
func span(e paired.Estimate) string {
	if e.Low < 0 {
		return fmt.Sprintf("%s (%s to %s)", plain(e.Value), plain(e.Low), plain(e.High))
	}
	return fmt.Sprintf("%s (%s–%s)", plain(e.Value), plain(e.Low), plain(e.High))
}

// plain writes seconds with a sign where they are below 0.
func plain(seconds float64) string { return strings.TrimPrefix(sample.Plus(seconds, 2), "+") }

// points writes a difference of shares; none where none was found.
func points(e paired.Estimate) string {
	if s := sample.Plus(100*e.Value, 0); found(e) && s != "0" {
		return s + " pt"
	}
	return "–"
}

// Report is the explanation as it is written in JSON; names end in their unit,
// shares are 0 to 1.
type Report struct {
	Links  []LinkReport   `json:"links"`
	Total  LinkReport     `json:"total"`
	Real   LinkReport     `json:"real"`
	Ideal  LinkReport     `json:"ideal"`
	Pairs  []PairReport   `json:"pairs"`
	Advice []AdviceReport `json:"advice"`
	WhatIf *AdviceReport  `json:"what_if,omitempty"`
}

// LinkReport is what a link costs.
type LinkReport struct {
	Link      string          `json:"link,omitempty"`
	Time      sample.Interval `json:"time_s"`
	Overshoot sample.Interval `json:"overshoot_share"`
	Lost      sample.Interval `json:"lost_share"`
	Sentence  string          `json:"sentence,omitempty"`
}

// PairReport is what two links cost only together.
type PairReport struct {
	Links [2]string       `json:"links"`
	Time  sample.Interval `json:"time_s"`
}

// AdviceReport is what a setting does.
type AdviceReport struct {
	Link     string            `json:"link,omitempty"`
	Rig      string            `json:"rig,omitempty"`
	Settings map[string]string `json:"settings"`
	Breaks   bool              `json:"breaks_cap"` // more dialings overshoot than one in ten, because of it
	LinkReport
}

// Report returns the explanation for JSON.
func (r *Result) Report() Report {
	out := Report{Links: []LinkReport{}, Pairs: []PairReport{}, Advice: []AdviceReport{}}
	for _, b := range r.Blames {
		l := reportOf(b.Cost)
		l.Link, l.Sentence = b.Link.String(), strings.ReplaceAll(b.Sentence, "−", "-")
		out.Links = append(out.Links, l)
	}
	out.Total, out.Real, out.Ideal = reportOf(r.Total), reportOf(r.Real), reportOf(r.Ideal)
	for _, p := range r.Pairs {
		out.Pairs = append(out.Pairs, PairReport{[2]string{p.A.String(), p.B.String()}, sample.IntervalOf(p.Seconds)})
	}
	change := func(c Change) AdviceReport {
		a := AdviceReport{Settings: map[string]string{}, Breaks: r.Breaks(c.Cost), LinkReport: reportOf(c.Cost)}
		for _, x := range c.Settings {
			a.Settings[x.Key] = x.Value
		}
		return a
	}
	for _, x := range r.Advice {
		a := change(x.Change)
		a.Link, a.Rig = x.Link.String(), x.Rig
		out.Advice = append(out.Advice, a)
	}
	if r.WhatIf != nil {
		a := change(*r.WhatIf)
		out.WhatIf = &a
	}
	return out
}

func reportOf(c Cost) LinkReport {
	return LinkReport{Time: sample.IntervalOf(c.Seconds), Overshoot: sample.IntervalOf(c.Overshoot), Lost: sample.IntervalOf(c.Lost)}
}
