package report

import (
	"fmt"
	"io"
	"strings"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/evidence"
	"dialwright/scenarios/figure"
)

// Text writes the report for a terminal of 80 columns, its figures as characters.
// Without unicode it is plain ASCII.
func (r *Result) Text(w io.Writer, o Origin, unicode bool) error {
	var p columns.Page
	x := r.Report()
	heading := func(s string) {
		p.Text("")
		p.Heading(s)
		p.Text(strings.Repeat("=", len([]rune(s))))
	}
	figures := func(list []*figure.Figure) {
		for _, f := range list {
			p.Text("")
			p.Drawing(func(columns int, _ bool) string { return f.Text(columns, unicode) })
			p.Text("")
		}
	}
	// Where nothing changes, the page has a figure and the terminal goes without.
	changed := func(list []*figure.Figure) []*figure.Figure {
		var kept []*figure.Figure
		for _, f := range list {
			if len(f.Marks) > 1 {
				kept = append(kept, f)
			}
		}
		return kept
	}

	p.Heading("Dialing on the panel " + short(x.Panel))
	p.Text(r.about(o))
	p.Text("")
	if r.Partial {
		p.Text("Partial: interrupted; what is missing is named in its place.")
	}
	for _, s := range r.Verdict() {
		p.Text(s)
	}
	heading("Before and after")
	var rows [][]string
	for _, f := range r.facts() {
		rows = append(rows, []string{f.Name, f.Before, f.After, f.Difference})
	}
	p.Table([]string{"", "before", "after", "difference"}, rows)
	p.Text("")
	for _, t := range x.Tasks {
		switch {
		case t.Verdict != "":
			p.Item(upper(t.Verdict) + ".")
		default:
			p.Item(short(t.Task) + " stays as it is: " + timeOr(t.Before.Time.Median, 1) + " s in the median.")
		}
	}
	if list := x.stories(); len(list) > 0 {
		figures(list[:1])
	}
	figures(changed(x.times()))
	figures(changed(x.sizes()))

	heading("Where the time goes")
	if r.Explain == nil {
		p.Text("Not looked at: the report was interrupted.")
	}
	figures(x.links())
	for _, s := range r.costs() {
		p.Item(s)
	}
	figures(x.lost())
	figures(x.turns())

	heading("What to set")
	for _, s := range r.sets() {
		p.Text(fmt.Sprintf("The %s knob, for %s:", s.Knob, s.Tasks))
		if s.Keep {
			p.Item("leave it as it is")
			continue
		}
		for _, item := range s.Items {
			p.Item(item)
		}
	}
	figures(x.gains())
	figures(x.fronts())
	figures(x.around())

	heading("How sure we are")
	p.Text(r.sure())
	rows = nil
	for _, v := range x.Tune.Robustness {
		rows = append(rows, []string{v.Name, plain(v.Before.WeightedS, 1), plain(v.After.WeightedS, 1), signedInterval(v.Gain.Value, v.Gain.Low, v.Gain.High, 1)})
	}
	if rows != nil {
		p.Text("")
		p.Table([]string{"mean time of a dialing, s", "before", "after", "difference"}, rows)
	}
	p.Text("")
	if len(r.Evidence) > 0 {
		p.Text(r.checks())
	}
	p.Text(evidence.NotValidated)
	p.Text("")
	for _, c := range scenarios.Cautions {
		p.Item(c)
	}
	heading("To repeat it")
	p.Text(o.Command)
	p.Text(fmt.Sprintf("dialwright %s, seed %d, %d trials a task.", o.Version, r.Study.Seed, x.Trials))
	for _, in := range o.Inputs {
		if in.SHA256 != "" {
			p.Item(short(in.Name) + ", SHA-256 " + in.SHA256)
		}
	}
	var out strings.Builder
	if err := p.Print(&out, columns.Width); err != nil {
		return err
	}
	text := out.String()
	if !unicode {
		text = ascii(text)
	}
	_, err := io.WriteString(w, text)
	return err
}

// letters is what stands for a sign that a plain terminal does not have.
var letters = map[rune]string{
	'–': "-", '—': "-", '−': "-", '…': "...", '×': "x", '·': ".", '°': " deg", 'µ': "u", 'μ': "u", '≥': ">=", '≤': "<=", '±': "+-", '“': `"`, '”': `"`, '’': "'", '‘': "'",
	'\u00a0': " ", '\u2009': " ", '→': "->", 'ß': "ss", 'ä': "ae", 'ö': "oe", 'ü': "ue", 'φ': "phi", 'τ': "tau", 'σ': "sigma", '²': "2", '½': "1/2", '¼': "1/4",
}

// ascii writes text without any sign beyond ASCII; what it has no word for is a
// question mark.
func ascii(s string) string {
	var out strings.Builder
	for _, r := range s {
		switch word, known := letters[r]; {
		case r < 0x80:
			out.WriteRune(r)
		case known:
			out.WriteString(word)
		default:
			out.WriteByte('?')
		}
	}
	return out.String()
}
