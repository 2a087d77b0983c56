package report

import (
	"fmt"
	"strings"

	"dialwright/scenarios/figure"
	"dialwright/scenarios/sample"
)

// afterTones set several accelerations apart from each other and from before.
var afterTones = []figure.Tone{afterTone, figure.Green, figure.Purple, figure.Orange, figure.Ink}

// gains draws, for each knob with an acceleration, what a click counts at which
// turning speed, and how this person turns it.
func (r *Report) gains() []*figure.Figure {
	var list []*figure.Figure
	for i, k := range r.Knobs {
		if f := k.gains(i); f != nil {
			list = append(list, f)
		}
	}
	return list
}

// flat says whether every click counts the same.
func (g *Gain) flat() bool {
	for _, p := range g.Points {
		if p.Gain != g.Points[0].Gain {
			return false
		}
	}
	return true
}

func (k *Knob) gains(number int) *figure.Figure {
	flat := true
	for _, g := range k.Gains {
		flat = flat && g.flat()
	}
	if flat {
		return nil
	}
	f := &figure.Figure{
		Name: named("gain", number, k.Knob), Title: "The " + short(k.Knob) + " knob: what a click counts",
		Caption: "Steps that one click makes, by turning speed. Behind the curves: how often this person turns so fast once the change is made; the first click after a rest, which the curve takes for a slow one, is left out.",
		X:       figure.Axis{Label: "turning speed (clicks/s)", Zero: true}, Y: figure.Axis{Label: "steps per click", Zero: true},
		Table: figure.Table{Header: []string{"clicks/s"}},
	}
	h := figure.Histogram{Name: "how this person turns", Tone: figure.Sky, Edges: []float64{0}}
	all := 0
	for _, x := range k.Rates[1:] {
		all += x.After.Detents
	}
	for i, x := range k.Rates {
		h.Edges = append(h.Edges, x.To)
		if i == 0 {
			x.After.Detents = 0
		}
		h.Share = append(h.Share, sample.Round(float64(x.After.Detents)/float64(max(1, all))))
	}
	f.Marks = append(f.Marks, h)
	n := 0
	var told []string
	for _, g := range k.Gains {
		if len(g.Points) == 0 {
			continue
		}
		l := figure.Line{Name: short(g.Name), Tone: beforeTone}
		if !g.Before {
			l.Tone = afterTones[n%len(afterTones)]
			n++
		}
		for _, p := range g.Points {
			l.At = append(l.At, figure.XY{X: p.PerS, Y: p.Gain})
		}
		f.Marks = append(f.Marks, l)
		f.Table.Header = append(f.Table.Header, short(g.Name))
		told = append(told, fmt.Sprintf("%s: %s at 5, %s at 12, %s at 25 clicks a second", short(g.Name), plain(g.Points[5].Gain, 1), plain(g.Points[12].Gain, 1), plain(g.Points[25].Gain, 1)))
	}
	f.Table.Header = append(f.Table.Header, "this person's clicks (%)")
	f.Alt = "Steps per click. " + strings.Join(told, "; ") + "."
	for i, x := range k.Rates {
		row := []string{plain(x.From, 1) + "–" + plain(x.To, 1)}
		for _, g := range k.Gains {
			if len(g.Points) > 0 {
				// Every second bin begins between two rates of the curve.
				lo, hi := g.Points[int(x.From)].Gain, g.Points[int(x.To)].Gain
				row = append(row, plain(lo, 1)+"–"+plain(hi, 1))
			}
		}
		f.Table.Rows = append(f.Table.Rows, append(row, plain(100*h.Share[i], 1)))
	}
	return f
}
