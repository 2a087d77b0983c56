package report

import (
	"fmt"
	"math"

	"dialwright/scenarios/figure"
)

// feltSeconds is the difference in seconds below which a figure of neighbours shows
// nothing.
const feltSeconds = 0.05

// around draws, for each knob where it matters, what the settings next to the
// choice would do.
func (r *Report) around() []*figure.Figure {
	var list []*figure.Figure
	for i, k := range r.Knobs {
		f := &figure.Figure{
			Name: named("around", i, k.Knob), Title: "The " + short(k.Knob) + " knob: one step aside",
			Caption: "What another value of one setting would add to a dialing of the choice, with 95 % intervals. Left of 0 it is quicker; the table says at what overshoot.",
			X:       figure.Axis{Label: "time per dialing against the choice (s)", Zero: true},
			Table:   figure.Table{Header: []string{"setting", "time (s)", "overshoot (%)", "lost (%)"}},
		}
		bars := figure.Bars{Tone: afterTone}
		most, what := 0.0, ""
		for _, n := range r.Search.Sensitivity {
			if n.Knob != k.Knob {
				continue
			}
			name := short(n.Key + " " + n.Value)
			bars.Bars = append(bars.Bars, figure.Bar{At: float64(len(f.Y.Categories)), Value: n.Gain.Value, Low: n.Gain.Low, High: n.Gain.High, Text: signed(n.Gain.Value, 2)})
			f.Y.Categories = append(f.Y.Categories, name)
			f.Table.Rows = append(f.Table.Rows, []string{name, signedInterval(n.Gain.Value, n.Gain.Low, n.Gain.High, 2), inPercent(n.Overshoot), inPercent(n.Lost)})
			if math.Abs(n.Gain.Value) > math.Abs(most) {
				most, what = n.Gain.Value, name
			}
		}
		if math.Abs(most) < feltSeconds {
			continue
		}
		f.Alt = fmt.Sprintf("The setting that matters most around the choice is %s, with %s s per dialing.", what, signed(most, 2))
		f.Marks = []figure.Mark{bars}
		list = append(list, f)
	}
	return list
}
