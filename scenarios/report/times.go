package report

import (
	"fmt"

	"dialwright/scenarios/figure"
)

// shown is the share of the dialings that the figure of times shows: the slowest
// would press all others together.
const shown = 0.98

// times draws, task by task, which share of the dialings is done by a time.
func (r *Report) times() []*figure.Figure {
	var list []*figure.Figure
	for i, t := range r.Tasks {
		name := r.called(t.Knob, t.Task)
		f := &figure.Figure{
			Name: named("times", i, t.Task), Title: name + ": done by when",
			Caption: fmt.Sprintf("Share of %d dialings done by a time; the slowest 2 %% are left out.", t.Before.Trials),
			X:       figure.Axis{Label: "time to target (s)", Zero: true}, Y: figure.Axis{Label: "dialings done (%)", Max: 100},
			Table: figure.Table{Header: []string{"dialings done (%)", "before (s)", "after (s)"}},
		}
		before := figure.Line{Name: "before", Tone: beforeTone}
		after := figure.Line{Name: "after", Tone: afterTone}
		for _, d := range t.Done {
			if d.Share <= shown && d.Before != nil {
				before.At = append(before.At, figure.XY{X: *d.Before, Y: hundred(d.Share)})
			}
			if d.Share <= shown && d.After != nil {
				after.At = append(after.At, figure.XY{X: *d.After, Y: hundred(d.Share)})
			}
		}
		half, most := t.Done[50], t.Done[90]
		f.Alt = fmt.Sprintf("Half of the %s dialings are done after %s s before and after %s s after the change, nine in ten after %s s and %s s.",
			name, timeOr(half.Before, 1), timeOr(half.After, 1), timeOr(most.Before, 1), timeOr(most.After, 1))
		if !t.Changed {
			before.Name, before.Tone, f.Table.Header = "now", sameTone, []string{"dialings done (%)", "now (s)"}
			f.Alt = fmt.Sprintf("Half of the %s dialings are done after %s s, nine in ten after %s s. Nothing changes here.", name, timeOr(half.Before, 1), timeOr(most.Before, 1))
		}
		for _, n := range []int{10, 25, 50, 75, 90, 95} {
			d := t.Done[n]
			row := []string{plain(hundred(d.Share), 0), timeOr(d.Before, 2)}
			if t.Changed {
				row = append(row, timeOr(d.After, 2))
			}
			f.Table.Rows = append(f.Table.Rows, row)
		}
		f.Marks = []figure.Mark{before}
		if t.Changed {
			f.Marks = append(f.Marks, after)
		}
		list = append(list, f)
	}
	return list
}
