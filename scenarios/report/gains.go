package report

import (
	"fmt"
	"strconv"
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

// firstGain is the curve of the main task's knob, or of the first knob that has one.
func (r *Report) firstGain() []*figure.Figure {
	list := r.gains()
	if t := r.mainTask(); t != nil {
		for i, k := range r.Knobs {
			if f := k.gains(i); f != nil && k.Knob == t.Knob {
				return []*figure.Figure{f}
			}
		}
	}
	return first(list)
}

func (r *Report) otherGains() []*figure.Figure {
	var list []*figure.Figure
	shown := r.firstGain()
	for _, f := range r.gains() {
		if f.Name != shown[0].Name {
			list = append(list, f)
		}
	}
	return list
}

// slowRate and quickly are the turning speeds at which a sentence tells what a click
// counts, clicks a second.
const (
	slowRate  = 2
	quickRate = 25
)

// at is the gain at a turning speed, or at the quickest that gets through.
func (g *Gain) at(rate int) float64 { return g.Points[min(rate, len(g.Points)-1)].Gain }

// clicks is the gain at a turning speed, in a few digits.
func (g *Gain) clicks(rate int) string { return bare(g.at(rate), 1) }

// counts says what a click counts at the turning speeds that get through.
func (g *Gain) counts() string {
	if g.flat() {
		return "a click counts " + g.clicks(0)
	}
	var steps, rates []string
	last := g.Points[len(g.Points)-1].PerS
	for _, rate := range []int{5, 12, quickRate} {
		if float64(rate) > last {
			steps, rates = append(steps, g.clicks(rate)), append(rates, bare(last, 1))
			return fmt.Sprintf("a click counts %s at %s clicks/s, and no more get through", strings.Join(steps, ", "), strings.Join(rates, ", "))
		}
		steps, rates = append(steps, g.clicks(rate)), append(rates, strconv.Itoa(rate))
	}
	return fmt.Sprintf("a click counts %s at %s clicks/s", strings.Join(steps, ", "), strings.Join(rates, ", "))
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

// aClickIn is one click in so many.
const aClickIn = 100

func (k *Knob) gains(number int) *figure.Figure {
	flat := true
	for _, g := range k.Gains {
		flat = flat && g.flat()
	}
	if flat {
		return nil
	}
	f := &figure.Figure{
		Name: named("gain", number, k.Knob), Title: "The " + short(k.Knob) + " knob: what a click counts, by how fast it is turned",
		Caption: "Steps that one click makes, by turning speed, as far as it gets through the path. Behind the curves: how often this person turns so fast once the change is made; the first click after a rest, which the curve takes for a slow one, is left out.",
		X:       figure.Axis{Label: "turning speed (clicks/s)", Zero: true}, Y: figure.Axis{Label: "steps per click", Zero: true},
		Table: figure.Table{Header: []string{"clicks/s"}},
	}
	h := figure.Histogram{Name: "how this person turns", Tone: figure.Sky, Edges: []float64{0}}
	all, last := 0, quickRate/RateStep
	for i, x := range k.Rates {
		if i > 0 {
			all += x.After.Detents
		}
	}
	// The curve ends where this person hardly ever turns.
	for i, x := range k.Rates {
		if i > 0 && x.After.Detents*aClickIn > all {
			last = max(last, float64(i+1))
		}
	}
	rates := k.Rates[:int(last)]
	for i, x := range rates {
		h.Edges = append(h.Edges, x.To)
		if i == 0 {
			x.After.Detents = 0
		}
		h.Share = append(h.Share, sample.Round(float64(x.After.Detents)/float64(max(1, all))))
	}
	end := rates[len(rates)-1].To
	f.X.Max = end
	f.Marks = append(f.Marks, h)
	n, quick := 0, ""
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
			if p.PerS > end {
				break
			}
			l.At = append(l.At, figure.XY{X: p.PerS, Y: p.Gain})
		}
		f.Marks = append(f.Marks, l)
		f.Table.Header = append(f.Table.Header, short(g.Name))
		told = append(told, short(g.Name)+": "+g.counts())
		if !g.Before && !g.flat() && quick == "" {
			quick = fmt.Sprintf("On the %s a quick click counts %s steps, a slow one %s", short(k.Knob), g.clicks(quickRate), g.clicks(slowRate))
			if g.Name != "after" {
				quick += " (" + strings.TrimPrefix(short(g.Name), "after, for ") + ")"
			}
		}
	}
	f.Table.Header = append(f.Table.Header, "this person's clicks (%)")
	if quick != "" {
		f.Title = quick
	}
	f.Alt = "Steps per click. " + strings.Join(told, "; ") + "."
	for i, x := range rates {
		row := []string{plain(x.From, 1) + "–" + plain(x.To, 1)}
		for _, g := range k.Gains {
			if len(g.Points) > 0 {
				// Every second bin begins between two rates of the curve.
				cell := "–"
				if x.From <= g.Points[len(g.Points)-1].PerS {
					cell = plain(g.at(int(x.From)), 1) + "–" + plain(g.at(int(x.To)), 1)
				}
				row = append(row, cell)
			}
		}
		f.Table.Rows = append(f.Table.Rows, append(row, plain(100*h.Share[i], 1)))
	}
	return f
}
