package report

import (
	"fmt"

	"dialwright/scenarios/figure"
)

// links draws what each link of the path costs.
func (r *Report) links() []*figure.Figure {
	if r.Explain == nil {
		return nil
	}
	x := r.Explain
	f := &figure.Figure{
		Name: "links", Title: "Where the time goes",
		Caption: fmt.Sprintf("What each link of the path costs per dialing with the settings of now, with 95 %% intervals. In the %d dialings a task of this study a dialing takes %s s; with every link ideal it would take %s s, and the costs add up to the difference.",
			min(r.Trials, explained), plain(x.Real.Time.Value, 1), plain(x.Ideal.Time.Value, 1)),
		X:     figure.Axis{Label: "time per dialing (s)", Zero: true},
		Table: figure.Table{Header: []string{"link", "time (s)", "overshoot (points)", "lost clicks (points)"}},
	}
	bars := figure.Bars{Tone: afterTone}
	worst := 0
	for i, l := range x.Links {
		f.Y.Categories = append(f.Y.Categories, l.Link)
		bars.Bars = append(bars.Bars, figure.Bar{At: float64(i), Value: l.Time.Value, Low: l.Time.Low, High: l.Time.High, Text: signed(l.Time.Value, 2)})
		f.Table.Rows = append(f.Table.Rows, []string{l.Link, signedInterval(l.Time.Value, l.Time.Low, l.Time.High, 2),
			signedInterval(hundred(l.Overshoot.Value), hundred(l.Overshoot.Low), hundred(l.Overshoot.High), 1), signedInterval(hundred(l.Lost.Value), hundred(l.Lost.Low), hundred(l.Lost.High), 1)})
		if l.Time.Value > x.Links[worst].Time.Value {
			worst = i
		}
	}
	t := x.Total
	f.Table.Rows = append(f.Table.Rows, []string{"all together", signedInterval(t.Time.Value, t.Time.Low, t.Time.High, 2),
		signedInterval(hundred(t.Overshoot.Value), hundred(t.Overshoot.Low), hundred(t.Overshoot.High), 1), signedInterval(hundred(t.Lost.Value), hundred(t.Lost.Low), hundred(t.Lost.High), 1)})
	f.Alt = fmt.Sprintf("Of the links of the path %s costs most: %s s of %s s.", x.Links[worst].Link, plain(x.Links[worst].Time.Value, 1), plain(x.Real.Time.Value, 1))
	f.Marks = []figure.Mark{bars}
	return []*figure.Figure{f}
}
