package explain

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/paired"
)

// Table writes the explanation for a terminal, Markdown for a document.
func (r *Result) Table(w io.Writer) error { return r.text(w, false) }

// Markdown writes the explanation for a document.
func (r *Result) Markdown(w io.Writer) error { return r.text(w, true) }

func (r *Result) text(w io.Writer, markdown bool) error {
	p := columns.New(w, markdown)
	p.Heading("What each link of the path costs, per dialing")
	rows := [][]string{}
	row := func(name string, c Cost) {
		rows = append(rows, []string{name, signed(c.Seconds, 1, 2), signed(c.Overshoot, 100, 0), signed(c.Lost, 100, 0)})
	}
	for _, b := range r.Blames {
		row(b.Link.String(), b.Cost)
	}
	row("all together", r.Total)
	p.Table([]string{"", "time, s", "overshoot, points", "lost, points"}, rows)
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
		p.Item(fmt.Sprintf("%s together with %s: %s (%s s)", x.A, x.B, how, signed(x.Seconds, 1, 2)))
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
	return p.Err()
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
		s += fmt.Sprintf(": no difference found in time (%s s)", signed(c.Seconds, 1, 2))
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

func signed(e paired.Estimate, times float64, decimals int) string {
	if e.Value == 0 && e.Low == 0 && e.High == 0 {
		return "0"
	}
	return fmt.Sprintf("%+.*f (%+.*f to %+.*f)", decimals, times*e.Value, decimals, times*e.Low, decimals, times*e.High)
}

// CSV writes a line for each link, and one for all together.
func (r *Result) CSV(w io.Writer) error {
	out := csv.NewWriter(w)
	row := func(name string, c Cost) {
		line := []string{name}
		for _, e := range []paired.Estimate{c.Seconds, c.Overshoot, c.Lost} {
			for _, x := range []float64{e.Value, e.Low, e.High} {
				line = append(line, strconv.FormatFloat(x, 'g', 6, 64))
			}
		}
		out.Write(line) // Flush tells
	}
	out.Write([]string{"link", "time_s", "time_low_s", "time_high_s", "overshoot_share", "overshoot_low", "overshoot_high", "lost_share", "lost_low", "lost_high"})
	for _, b := range r.Blames {
		row(b.Link.String(), b.Cost)
	}
	row("all together", r.Total)
	out.Flush()
	return out.Error()
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
	Link      string   `json:"link,omitempty"`
	Time      Interval `json:"time_s"`
	Overshoot Interval `json:"overshoot_share"`
	Lost      Interval `json:"lost_share"`
	Sentence  string   `json:"sentence,omitempty"`
}

// Interval is a value with its 95 % interval.
type Interval struct {
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

// PairReport is what two links cost only together.
type PairReport struct {
	Links [2]string `json:"links"`
	Time  Interval  `json:"time_s"`
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
		out.Pairs = append(out.Pairs, PairReport{[2]string{p.A.String(), p.B.String()}, intervalOf(p.Seconds)})
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
	return LinkReport{Time: intervalOf(c.Seconds), Overshoot: intervalOf(c.Overshoot), Lost: intervalOf(c.Lost)}
}

func intervalOf(e paired.Estimate) Interval {
	round := func(x float64) float64 { return math.Round(x*1e6) / 1e6 }
	return Interval{round(e.Value), round(e.Low), round(e.High)}
}
