package report

import (
	"fmt"
	"strings"

	"dialwright/scenarios/figure"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/tune"
)

// alikeShare is the share of the time of now within which a front shows nothing.
const alikeShare = 0.05

// fronts draws, knob by knob, which mean times can be had at which overshoot, and
// what was chosen.
func (r *Report) fronts() []*figure.Figure {
	var list []*figure.Figure
	for i, k := range r.Knobs {
		var tried []figure.Point
		table := figure.Table{Header: []string{"settings", "mean time (s)", "overshoot (%)", "lost (%)"}}
		for _, p := range r.Search.Front {
			if p.Knob == k.Knob {
				tried = append(tried, figure.Point{X: p.TimeS, Y: hundred(p.Overshoot)})
				table.Rows = append(table.Rows, []string{strings.Join(unique(p.About), " / "), plain(p.TimeS, 2), inPercent(p.Overshoot), inPercent(p.Lost)})
			}
		}
		now, choice, changed := r.point(k.Knob)
		if n := len(tried); n < 2 || tried[n-1].X-tried[0].X < alikeShare*now.X {
			continue
		}
		chosen, alt := &choice, fmt.Sprintf("The settings of now take %s s and overshoot in %s %% of the dialings, the choice %s s and %s %%.", plain(now.X, 1), plain(now.Y, 0), plain(choice.X, 1), plain(choice.Y, 0))
		if !changed {
			chosen, alt = nil, fmt.Sprintf("The settings of now take %s s and overshoot in %s %% of the dialings; they are kept.", plain(now.X, 1), plain(now.Y, 0))
		}
		f := tune.Front(tried, now, chosen)
		f.Name, f.Title, f.Alt, f.Table = named("front", i, k.Knob), "The "+short(k.Knob)+" knob: time against overshoot", alt, table
		f.Caption = "Each dot is a setting that nothing tried beats in both. Now and the choice were measured again, on other people."
		list = append(list, f)
	}
	return list
}

// point returns what a knob does now and with the choice: mean time, s, against
// overshoot, %.
func (r *Report) point(knob string) (now, choice figure.Point, changed bool) {
	hours := 0.0
	for _, t := range r.Tasks {
		if t.Knob != knob {
			continue
		}
		hours += t.PerHour
		now.X += t.PerHour * t.Before.Time.Mean
		now.Y += t.PerHour * t.Before.Overshoot.Share
		choice.X += t.PerHour * t.After.Time.Mean
		choice.Y += t.PerHour * t.After.Overshoot.Share
		changed = changed || t.Changed
	}
	for _, p := range []*figure.Point{&now, &choice} {
		p.X, p.Y = sample.Round(p.X/hours), hundred(p.Y/hours)
	}
	return now, choice, changed
}

func unique(list []string) []string {
	var out []string
	for _, s := range list {
		if len(out) == 0 || out[len(out)-1] != s {
			out = append(out, s)
		}
	}
	return out
}
