package report

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
)

// Text writes what the page does not fold for a terminal of 80 columns, its figures
// as characters. Without unicode it is plain ASCII.
func (r *Result) Text(w io.Writer, o Origin, unicode bool) error {
	var p columns.Page
	x := r.Report()
	fold := func(s string) string {
		if !unicode {
			return columns.ASCII(s) // before lines are broken: an arrow gets longer
		}
		return s
	}
	p.Heading(fold(x.finding()))
	about := x.about()
	if o.Date != "" {
		about += " " + o.Date + "."
	}
	p.Text(fold(about))
	if r.Partial {
		p.Text(fold("Partial: interrupted; what is missing is named in its place."))
	}
	for _, s := range x.lead() {
		p.Text(fold(s))
	}
	p.Text("")
	var rows [][]string
	for _, s := range x.sets() {
		rows = append(rows, []string{fold(s.Knob), fold(s.Tasks), fold(s.Time), fold(s.Overshoot)})
	}
	p.Table([]string{"knob", "for", "time, s", "overshoot, %"}, rows)
	for _, s := range x.sets() {
		var what []string
		for _, i := range s.Items {
			what = append(what, strings.TrimSpace(i.What+" "+i.How))
		}
		if s.Keep {
			what = []string{"leave it as it is"}
		}
		p.Item(fold(s.Knob + ": " + strings.Join(what, "; ")))
	}
	p.Text("")
	if list := x.caps(); list != nil {
		p.Text(fold(strings.Join(list, " ")))
	}
	for _, f := range slices.Concat(x.pairs(), x.links()) {
		p.Text("")
		p.Drawing(func(columns int, _ bool) string { return f.Text(columns, unicode) })
	}
	if r.Explain == nil && r.Partial {
		p.Text(fold("Where the time goes was not looked at: the report was interrupted."))
	}
	p.Text("")
	p.Text(fold(r.sure()))
	for _, c := range scenarios.Cautions {
		p.Item(fold(c))
	}
	p.Text("")
	p.Text(fold(o.Command))
	p.Text(fold(fmt.Sprintf("dialwright %s, seed %d, %d trials a task.", o.Version, r.Study.Seed, x.Trials)))
	for _, in := range o.Inputs {
		if in.SHA256 != "" {
			p.Item(fold(short(in.Name) + ", SHA-256 " + in.SHA256))
		}
	}
	var out strings.Builder
	if err := p.Print(&out, columns.Width); err != nil {
		return err
	}
	text := out.String()
	if !unicode {
		text = columns.ASCII(text)
	}
	_, err := io.WriteString(w, text)
	return err
}
