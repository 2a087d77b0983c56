package report

import (
	"fmt"
	"strings"

	"dialwright/scenarios/figure"
	"dialwright/scenarios/follow"
	"dialwright/scenarios/sample"
)

// turns draws a quick turn in lanes, stage by stage, before and after.
func (r *Report) turns() []*figure.Figure {
	var list []*figure.Figure
	end := 0.0
	for i := range r.Turns {
		for _, l := range r.Turns[i].Lanes {
			for _, m := range l.Marks {
				end = max(end, m.To)
			}
		}
	}
	for i := range r.Turns {
		f := r.Turns[i].figure(i, len(r.Turns) > 1)
		f.X.Max = sample.Round(end * 1.02) // the same for both, to be compared
		list = append(list, f)
	}
	return list
}

func (t *TurnReport) figure(number int, both bool) *figure.Figure {
	when := ""
	if both {
		when = ", " + t.Name
	}
	f := follow.Draw(t.Lanes)
	f.Name, f.Title = named("turn", number, t.Knob), fmt.Sprintf("The %s knob: %d clicks in %.1f s%s", short(t.Knob), len(t.Detents), within.Seconds(), when)
	f.Caption = "Every click has a letter, shown at each stage that it reached. Polls and frames are shown where they had something to look at."
	f.Table.Header = []string{"click", "turned (ms)", "in the number (ms)", "what became of it"}
	reached := map[int][]string{}
	for _, l := range t.Lanes {
		for _, m := range l.Marks {
			if l.Name == "value" && m.Click >= 0 {
				reached[m.Click] = append(reached[m.Click], plain(m.From, 0))
			}
		}
	}
	lost := 0
	for i, d := range t.Detents {
		fate := "–"
		if d.Fate != nil {
			if fate = *d.Fate; fate != "delivered" {
				lost++
			}
		}
		steps := "–"
		if s := reached[i]; len(s) > 3 {
			steps = fmt.Sprintf("%s to %s (%d pulses)", s[0], s[len(s)-1], len(s))
		} else if len(s) > 0 {
			steps = strings.Join(s, ", ")
		}
		f.Table.Rows = append(f.Table.Rows, []string{follow.Letter(i), plain(d.TimeMs, 0), steps, fate})
	}
	steps := int64(0)
	for _, s := range t.Steps {
		steps += s.Count * int64(s.Direction)
	}
	last := 0.0
	if n := len(t.Steps); n > 0 {
		last = t.Steps[n-1].TimeMs
	}
	f.Alt = fmt.Sprintf("Of %d clicks in a quick turn %d are lost; together they make %d steps, the last one %s ms after the turn began.", len(t.Detents), lost, steps, plain(last, 0))
	return f
}
