package report

import (
	"fmt"

	"dialwright/scenarios/explain"
	"dialwright/scenarios/figure"
	"dialwright/scenarios/sample"
)

func (r *Report) links() []*figure.Figure {
	if r.Explain == nil {
		return nil
	}
	return []*figure.Figure{Links(r.Explain)}
}

// Links draws what each link of the path costs.
func Links(x *explain.Report) *figure.Figure {
	hand, all := x.Ideal.Time.Value, x.Real.Time.Value
	f := &figure.Figure{
		Name:    "links",
		Caption: fmt.Sprintf("A number takes %s s with your settings. Hand and eye: what it takes with every link of the path ideal. Each link: what it adds, with a 95 %% interval, so that all bars together make the %s s.", inSeconds(all), inSeconds(all)),
		X:       figure.Axis{Label: "time per number (s)", Zero: true},
		Table:   figure.Table{Header: []string{"part", "time (s)", "overshoot (points)", "lost clicks (points)"}},
	}
	bars := figure.Bars{Tone: afterTone}
	row := func(name string, e sample.Interval, cells ...string) {
		bars.Bars = append(bars.Bars, figure.Bar{At: float64(len(f.Y.Categories)), Value: e.Value, Low: e.Low, High: e.High, Text: inSeconds(e.Value)})
		f.Y.Categories = append(f.Y.Categories, name)
		f.Table.Rows = append(f.Table.Rows, append([]string{name}, cells...))
	}
	of := func(e sample.Interval) string {
		return signedInterval(hundred(e.Value), hundred(e.Low), hundred(e.High), 1)
	}
	row("hand and eye", x.Ideal.Time, fmt.Sprintf("%s (%s to %s)", inSeconds(hand), inSeconds(x.Ideal.Time.Low), inSeconds(x.Ideal.Time.High)), "", "")
	worst := -1
	for i, l := range x.Links {
		row(l.Link, l.Time, signedInterval(l.Time.Value, l.Time.Low, l.Time.High, 1), of(l.Overshoot), of(l.Lost))
		if worst < 0 || l.Time.Value > x.Links[worst].Time.Value {
			worst = i
		}
	}
	t := x.Total
	f.Table.Rows = append(f.Table.Rows, []string{"all links", signedInterval(t.Time.Value, t.Time.Low, t.Time.High, 1), of(t.Overshoot), of(t.Lost)})
	f.Title = fmt.Sprintf("Where the time goes: hand and eye take %s of %s s", inSeconds(hand), inSeconds(all))
	if worst >= 0 && tenths(x.Links[worst].Time.Value) > 0 {
		f.Title += fmt.Sprintf(", %s s go into %s", inSeconds(x.Links[worst].Time.Value), x.Links[worst].Link)
	}
	f.Alt = f.Title + "."
	f.Marks = []figure.Mark{bars}
	return f
}
