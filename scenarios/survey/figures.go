package survey

import (
	"bytes"
	"errors"
	"fmt"
	"strings"

	"dialwright/scenarios/figure"
)

// Figures draws the survey: the candidates' times, and for each key of the population
// the regret of the winner and of the candidate after it.
func (r *Result) Figures() []*figure.Figure {
	list := []*figure.Figure{r.times()}
	for i := range r.Keys {
		list = append(list, r.over(&r.Keys[i]))
	}
	return list
}

// Picture is a figure as a file.
type Picture struct {
	Name string
	Text []byte
}

// Files returns every figure as SVG and as PNG.
func (r *Result) Files() ([]Picture, error) {
	const width = 720 // CSS pixels, as in a report
	var list []Picture
	for _, f := range r.Figures() {
		var svg, png bytes.Buffer
		if err := errors.Join(f.SVG(&svg, width), f.PNG(&png, width)); err != nil {
			return nil, err
		}
		list = append(list, Picture{f.Name + ".svg", svg.Bytes()}, Picture{f.Name + ".png", png.Bytes()})
	}
	return list, nil
}

func (r *Result) times() *figure.Figure {
	f := &figure.Figure{
		Name: "survey-times", Title: "How long a dialing takes over the members of " + r.Part.Population,
		Caption: fmt.Sprintf("Bars: mean of %d members' mean times with its 95 %% interval; outlined: mean of the slowest tenth of members.", r.Members),
		Alt:     r.Sentence(),
		X:       figure.Axis{Label: "time a dialing [s]", Zero: true},
		Table:   figure.Table{Header: []string{"profile", "mean, s", "worst tenth, s"}},
	}
	mean, worst := figure.Bars{Name: "mean", Tone: figure.Blue}, figure.Bars{Name: "worst tenth", Tone: figure.Quiet}
	for row, c := range r.Ranking {
		x := &r.Candidates[c]
		f.Y.Categories = append(f.Y.Categories, x.Name)
		a, b := fmt.Sprintf("%.1f", x.Mean.Value), fmt.Sprintf("%.1f", x.WorstTenth)
		mean.Bars = append(mean.Bars, figure.Bar{At: float64(row), Value: x.Mean.Value, Low: x.Mean.Low, High: x.Mean.High, Text: a})
		worst.Bars = append(worst.Bars, figure.Bar{At: float64(row), Value: x.WorstTenth, Text: b})
		f.Table.Rows = append(f.Table.Rows, []string{x.Name, a, b})
	}
	f.Marks = []figure.Mark{mean, worst}
	return f
}

// over draws the regret over a key.
func (r *Result) over(k *Spread) *figure.Figure {
	shown := r.Ranking[:min(2, len(r.Ranking))]
	tones := []figure.Tone{figure.Blue, figure.Vermilion}
	f := &figure.Figure{
		Name: "survey-regret-" + strings.NewReplacer(".", "-", "_", "-").Replace(k.Key), Title: "Regret by " + k.Key,
		Caption: "Mean of how much slower a dialing is than with the best candidate for the member, with its 95 % interval.",
		X:       figure.Axis{Label: "regret [s]", Zero: true},
		Table:   figure.Table{Header: []string{k.Key, "members"}},
	}
	var said []string
	for _, g := range k.Ranges {
		f.Y.Categories = append(f.Y.Categories, g.Name)
		row := []string{g.Name, fmt.Sprint(g.Members)}
		for _, c := range shown {
			row = append(row, fmt.Sprintf("%.1f", g.Regret[c].Value))
		}
		f.Table.Rows = append(f.Table.Rows, row)
		said = append(said, fmt.Sprintf("%s %.1f s", g.Name, g.Regret[shown[0]].Value))
	}
	for i, c := range shown {
		b := figure.Bars{Name: r.Candidates[c].Name, Tone: tones[i]}
		for row, g := range k.Ranges {
			e := g.Regret[c]
			b.Bars = append(b.Bars, figure.Bar{At: float64(row), Value: e.Value, Low: e.Low, High: e.High, Text: fmt.Sprintf("%.1f", e.Value)})
		}
		f.Marks = append(f.Marks, b)
		f.Table.Header = append(f.Table.Header, r.Candidates[c].Name+", s")
	}
	f.Alt = r.Candidates[shown[0]].Name + ": " + strings.Join(said, ", ")
	return f
}
