package report

import (
	"fmt"

	"dialwright/scenarios/figure"
	"dialwright/scenarios/sample"
)

// sizes draws, task by task, how far past its target a number went, and how often.
func (r *Report) sizes() []*figure.Figure {
	var list []*figure.Figure
	for i, t := range r.Tasks {
		if len(t.Sizes) == 0 {
			continue
		}
		f := &figure.Figure{
			Name: named("sizes", i, t.Task), Title: r.called(t.Knob, t.Task) + ": how far past",
			Caption: "Overshoots by size, in steps of the ring or number that went furthest past.",
			X:       figure.Axis{Label: "past the target (steps)"}, Y: figure.Axis{Label: "dialings (%)", Zero: true},
			Table: figure.Table{Header: []string{"past the target (steps)", "before (dialings)", "after (dialings)"}},
		}
		before, after := figure.Bars{Name: "before", Tone: beforeTone}, figure.Bars{Name: "after", Tone: afterTone}
		percent := func(n, of int) float64 { return sample.Round(100 * float64(n) / float64(max(1, of))) }
		for k, s := range t.Sizes {
			label := fmt.Sprint(s.From)
			if s.To > s.From {
				label = fmt.Sprintf("%d–%d", s.From, s.To)
			}
			f.X.Categories = append(f.X.Categories, label)
			before.Bars = append(before.Bars, figure.Bar{At: float64(k), Value: percent(s.Before, t.Before.Trials)})
			after.Bars = append(after.Bars, figure.Bar{At: float64(k), Value: percent(s.After, t.After.Trials)})
			row := []string{label, fmt.Sprint(s.Before)}
			if t.Changed {
				row = append(row, fmt.Sprint(s.After))
			}
			f.Table.Rows = append(f.Table.Rows, row)
		}
		f.Alt = fmt.Sprintf("Of the %s dialings %s %% went past the target before, %s %% after the change.", r.called(t.Knob, t.Task), inPercent(t.Before.Overshoot.Share), inPercent(t.After.Overshoot.Share))
		f.Marks = []figure.Mark{before, after}
		if !t.Changed {
			before.Name, before.Tone, f.Table.Header = "now", sameTone, []string{"past the target (steps)", "now (dialings)"}
			f.Marks = []figure.Mark{before}
			f.Alt = fmt.Sprintf("Of the %s dialings %s %% went past the target.", r.called(t.Knob, t.Task), inPercent(t.Before.Overshoot.Share))
		}
		list = append(list, f)
	}
	return list
}
