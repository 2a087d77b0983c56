package report

import (
	"fmt"

	"dialwright/scenarios/figure"
	"dialwright/scenarios/paired"
)

// leastClicks is how many clicks a turning rate needs to have its losses drawn.
const leastClicks = 40

// lost draws, for each knob that loses clicks, how many it loses at which turning
// speed.
func (r *Report) lost() []*figure.Figure {
	var list []*figure.Figure
	for i, k := range r.Knobs {
		before, after := k.losses()
		if k.Held || before.Lost*200 < before.Detents && after.Lost*200 < after.Detents {
			continue
		}
		f := &figure.Figure{
			Name: named("lost", i, k.Knob), Title: "The " + short(k.Knob) + " knob: clicks lost by speed",
			Caption: fmt.Sprintf("Clicks without a step of their own, by the time since the click before, with 95 %% intervals. All in all %s %% before, %s %% after.", inPercent(before.share()), inPercent(after.share())),
			Alt:     fmt.Sprintf("The %s knob loses %s %% of its clicks before and %s %% after the change.", short(k.Knob), inPercent(before.share()), inPercent(after.share())),
			X:       figure.Axis{Label: "turning speed (clicks/s)", Zero: true}, Y: figure.Axis{Label: "clicks lost (%)", Zero: true},
			Table: figure.Table{Header: []string{"clicks/s", "before: clicks", "lost (%)", "after: clicks", "lost (%)"}},
		}
		lines := []struct {
			figure.Line
			dots figure.Points
			of   func(Rate) Count
		}{
			{Line: figure.Line{Name: "before", Tone: beforeTone}, of: func(x Rate) Count { return x.Before }},
			{Line: figure.Line{Name: "after", Tone: afterTone}, of: func(x Rate) Count { return x.After }},
		}
		if !k.Changed {
			lines = lines[1:]
			lines[0].Name, lines[0].Tone = "now", sameTone
		}
		for n := range lines {
			l := &lines[n]
			l.dots = figure.Points{Name: l.Name, Tone: l.Tone}
			for _, x := range k.Rates {
				if c := l.of(x); c.Detents >= leastClicks {
					e := paired.ShareInterval(c.Lost, c.Detents)
					at := (x.From + x.To) / 2
					l.At = append(l.At, figure.XY{X: at, Y: hundred(e.Value)})
					l.dots.At = append(l.dots.At, figure.Point{X: at, Y: hundred(e.Value), Low: hundred(e.Low), High: hundred(e.High)})
				}
			}
			f.Marks = append(f.Marks, l.Line, l.dots)
		}
		if !k.Changed {
			f.Caption = fmt.Sprintf("Clicks without a step of their own, by the time since the click before, with 95 %% intervals. All in all %s %%.", inPercent(before.share()))
			f.Alt = fmt.Sprintf("The %s knob loses %s %% of its clicks.", short(k.Knob), inPercent(before.share()))
			f.Table.Header = []string{"clicks/s", "clicks", "lost (%)"}
		}
		for n, x := range k.Rates {
			if x.Before.Detents+x.After.Detents == 0 {
				continue
			}
			speed := plain(x.From, 1) + "–" + plain(x.To, 1)
			if n == len(k.Rates)-1 {
				speed = plain(x.From, 1) + " and more"
			}
			row := []string{speed, fmt.Sprint(x.Before.Detents), x.Before.text(), fmt.Sprint(x.After.Detents), x.After.text()}
			f.Table.Rows = append(f.Table.Rows, row[:len(f.Table.Header)])
		}
		list = append(list, f)
	}
	return list
}

// losses adds up all turning rates.
func (k *Knob) losses() (before, after Count) {
	for _, x := range k.Rates {
		before = Count{before.Detents + x.Before.Detents, before.Lost + x.Before.Lost}
		after = Count{after.Detents + x.After.Detents, after.Lost + x.After.Lost}
	}
	return before, after
}

func (c Count) share() float64 { return float64(c.Lost) / float64(max(1, c.Detents)) }

func (c Count) text() string {
	if c.Detents == 0 {
		return "–"
	}
	return inPercent(c.share())
}
