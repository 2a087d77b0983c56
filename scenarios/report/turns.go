package report

import (
	"fmt"
	"strings"

	"dialwright/scenarios/figure"
	"dialwright/scenarios/follow"
)

// turns draws a quick turn in lanes, stage by stage, before and after below each other.
func (r *Report) turns() []*figure.Figure {
	if len(r.Turns) == 0 {
		return nil
	}
	f := &figure.Figure{
		Name: named("turn", 0, r.Turns[0].Knob), Title: fmt.Sprintf("The %s knob: %d clicks in %.1f s", short(r.Turns[0].Knob), len(r.Turns[0].Detents), shownTime.Seconds()),
		Caption: "Every click has a letter, shown at each stage that it reached, and beside the value the steps that it made. Polls and frames are shown where they had something to look at.",
		Table:   figure.Table{Header: []string{"click", "turned (ms)", "in the number (ms)", "steps", "what became of it"}},
	}
	var told []string
	for i := range r.Turns {
		t := &r.Turns[i]
		d := follow.Draw(t.Lanes)
		lane := len(f.Y.Categories)
		f.X, f.Y.Categories = d.X, append(f.Y.Categories, d.Y.Categories...)
		if len(r.Turns) > 1 {
			tone := beforeTone
			if t.Name != "before" {
				tone = afterTone
			}
			f.Y.Heads = append(f.Y.Heads, figure.Head{Lane: lane, Text: t.Name, Tone: tone})
		}
		for _, m := range d.Marks {
			s := m.(figure.Spans)
			for k := range s.Spans {
				s.Spans[k].Lane += lane
			}
			f.Marks = append(f.Marks, s)
		}
		told = append(told, t.tell(f))
	}
	f.Alt = upper(strings.Join(told, "; ")) + "."
	if n := len(r.Turns); n > 1 {
		f.Title += fmt.Sprintf(": %d steps instead of %d", r.Turns[n-1].made(), r.Turns[0].made())
	}
	return []*figure.Figure{f}
}

// made is how many steps the turn made.
func (t *TurnReport) made() int64 {
	steps := int64(0)
	for _, s := range t.Steps {
		steps += s.Count * int64(s.Direction)
	}
	return steps
}

// tell adds the clicks of a turn to the figure's numbers, and says what came of it.
func (t *TurnReport) tell(f *figure.Figure) string {
	reached, worth := map[int][]string{}, map[int]int64{}
	for _, l := range t.Lanes {
		for _, m := range l.Marks {
			if l.Name == "value" && m.Click >= 0 {
				reached[m.Click] = append(reached[m.Click], plain(m.From, 0))
				worth[m.Click] += m.Steps
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
		f.Table.Rows = append(f.Table.Rows, []string{t.Name + " " + follow.Letter(i), plain(d.TimeMs, 0), steps, signed(float64(worth[i]), 0), fate})
	}
	last := 0.0
	if n := len(t.Steps); n > 0 {
		last = t.Steps[n-1].TimeMs
	}
	return fmt.Sprintf("%s, %d of %d clicks in a quick turn are lost; together they make %d steps, the last one %s ms after the turn began", t.Name, lost, len(t.Detents), t.made(), plain(last, 0))
}
