package explain

import (
	"fmt"
	"math"
	"slices"

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

// Page is what the explanation says.
func (r *Result) Page() *columns.Page {
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
		p.Item(fmt.Sprintf("on %s %s", a.Rig, told(a.Settings, a.Cost)))
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
		s += x.Key + " " + x.Value
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
	LinkReport
}

// Report returns the explanation for JSON.
func (r *Result) Report() Report {
	out := Report{Links: []LinkReport{}, Pairs: []PairReport{}, Advice: []AdviceReport{}}
	for _, b := range r.Blames {
		l := reportOf(b.Cost)
		l.Link, l.Sentence = b.Link.String(), b.Sentence
		out.Links = append(out.Links, l)
	}
	out.Total, out.Real, out.Ideal = reportOf(r.Total), reportOf(r.Real), reportOf(r.Ideal)
	for _, p := range r.Pairs {
		out.Pairs = append(out.Pairs, PairReport{[2]string{p.A.String(), p.B.String()}, sample.IntervalOf(p.Seconds)})
	}
	change := func(c Change) AdviceReport {
		a := AdviceReport{Settings: map[string]string{}, LinkReport: reportOf(c.Cost)}
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
