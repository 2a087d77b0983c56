package export

import (
	"context"
	"fmt"
	"html/template"
	"io"
	"strings"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/compare"
	"dialwright/scenarios/paired"
)

// Card is what is kept beside the panel: for each knob what to set where, and what
// to expect.
type Card struct {
	Panel, Profile, Operator string
	Seed                     uint64
	Trials                   int
	Inputs                   []string // names and digests of what it rests on
	Knobs                    []KnobCard
	Cautions                 []string
}

// KnobCard is one knob of a card.
type KnobCard struct {
	Name, Rig  string
	Stays      string   // why the knob stays plain, or ""
	Set        []string // what to set where
	Slow, Fast string   // gain of a slow and of a quick click
	Tasks      []TaskCard
}

// TaskCard is what to expect of one task, before (plain) and after.
type TaskCard struct {
	Name                  string
	Before, After         string // median time to target
	PastBefore, PastAfter string // share of dialings that overshoot
}

// NewCard measures a profile against the plain one on a panel and makes its card.
func NewCard(ctx context.Context, panel *scenarios.Panel, p *scenarios.Profile, o *scenarios.Operator, trials int, seed uint64, workers int) (*Card, error) {
	plain := scenarios.Profile{Name: "plain"}
	r, err := compare.Run(ctx, &compare.Study{
		Panel: panel, Trials: trials, Seed: seed, Workers: workers,
		Candidates: []compare.Candidate{{Name: "plain", Profile: &plain, Operator: o}, {Name: p.Name, Profile: p, Operator: o}},
	})
	if err != nil {
		return nil, err
	}
	c := &Card{Panel: panel.Name, Profile: p.Name, Operator: o.Name, Seed: seed, Trials: trials, Cautions: scenarios.Cautions}
	for j, u := range r.Uses {
		before, after := r.Cells[0][j], r.Cells[1][j]
		if len(c.Knobs) == 0 || c.Knobs[len(c.Knobs)-1].Name != u.Knob.Name {
			k := KnobCard{Name: u.Knob.Name, Rig: u.Knob.Inner.Name}
			if after.Stays != nil {
				k.Stays = after.Stays.Error()
			} else {
				k.Set = settings(p)
				k.Slow, k.Fast = gains(p)
			}
			c.Knobs = append(c.Knobs, k)
		}
		k := &c.Knobs[len(c.Knobs)-1]
		k.Tasks = append(k.Tasks, TaskCard{u.Task.Name, time(before.Time), time(after.Time), share(before.Overshoot), share(after.Overshoot)})
	}
	return c, nil
}

// settings says what to set where.
func settings(p *scenarios.Profile) []string {
	var list []string
	for _, s := range p.Settings {
		where := "in the firmware"
		switch group, _, _ := strings.Cut(s.Key, "."); group {
		case "program":
			where = "in the program"
		case "system":
			where = "in the operating system"
		case "usb":
			where = "on the bus"
		case "display":
			where = "at the display"
		case "knob":
			where = "at the part"
		}
		list = append(list, fmt.Sprintf("%s: %s %s", where, s.Key, s.Value))
	}
	if !p.Acceleration.Plain() {
		bare := *p
		bare.Settings, bare.PressCoarse = nil, 0
		list = append(list, "acceleration: "+bare.About())
	}
	if p.PressCoarse > 0 {
		list = append(list, fmt.Sprintf("a push makes a step count %d", p.PressCoarse))
	}
	if list == nil {
		list = []string{"nothing: one step a click"}
	}
	return list
}

// gains returns the steps of a slow and of a quick click.
func gains(p *scenarios.Profile) (slow, fast string) {
	g, err := p.Acceleration.Compile()
	if err != nil {
		return "?", "?"
	}
	return fmt.Sprintf("%.3g at 2 clicks a second", g.At(2)), fmt.Sprintf("%.3g at 25 clicks a second", g.At(25))
}

func time(e paired.Estimate) string {
	return fmt.Sprintf("%.1f s (%.1f–%.1f)", e.Value, e.Low, e.High)
}

func share(e paired.Estimate) string {
	return fmt.Sprintf("%.0f %% (%.0f–%.0f)", 100*e.Value, 100*e.Low, 100*e.High)
}

// footer says what the card rests on.
func (c *Card) footer() []string {
	lines := []string{fmt.Sprintf("Simulated: operator %s, %d trials a task, seed %d; times are medians, in brackets 95 %% intervals.", c.Operator, c.Trials, c.Seed)}
	for _, i := range c.Inputs {
		lines = append(lines, "rests on "+i)
	}
	return append(lines, c.Cautions...)
}

// Markdown writes the card as Markdown.
func (c *Card) Markdown(w io.Writer) error {
	p := columns.New(w, true)
	p.Heading("Panel " + c.Panel + ", profile " + c.Profile)
	for _, k := range c.Knobs {
		p.Heading("Knob " + k.Name + " (" + k.Rig + ")")
		if k.Stays != "" {
			p.Item("stays plain: " + k.Stays)
		}
		for _, s := range k.Set {
			p.Item("set " + s)
		}
		if k.Slow != "" {
			p.Item("a slow click is worth " + k.Slow + ", a quick one " + k.Fast)
		}
		p.Text("")
		rows := [][]string{}
		for _, t := range k.Tasks {
			rows = append(rows, []string{t.Name, t.Before, t.After, t.PastBefore, t.PastAfter})
		}
		p.Table([]string{"", "time before", "after", "overshoot before", "after"}, rows)
		p.Text("")
	}
	for _, l := range c.footer() {
		p.Item(l)
	}
	return p.Err()
}

// HTML writes the card as a page of its own that prints on one side.
func (c *Card) HTML(w io.Writer) error {
	return cardPage.Execute(w, struct {
		*Card
		Footer []string
	}{c, c.footer()})
}

var cardPage = template.Must(template.New("card").Parse(`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Panel {{.Panel}}, profile {{.Profile}}</title>
<style>
body { font: 11pt/1.4 Georgia, serif; color: #111; background: #fff; max-width: 46em; margin: 2em auto; padding: 0 1em; overflow-wrap: anywhere; }
h1 { font-size: 1.3em; } h2 { font-size: 1.1em; border-top: 1px solid #777; padding-top: .6em; }
table { border-collapse: collapse; width: 100%; } th, td { text-align: right; padding: .15em .5em; } th:first-child, td:first-child { text-align: left; }
footer { border-top: 1px solid #777; margin-top: 1em; font-size: .85em; }
@media print { body { margin: 0; } h2 { break-after: avoid; } }
</style>
</head>
<body>
<h1>Panel {{.Panel}}, profile {{.Profile}}</h1>
{{range .Knobs}}<section>
<h2>Knob {{.Name}} ({{.Rig}})</h2>
<ul>
{{if .Stays}}<li>stays plain: {{.Stays}}</li>
{{end}}{{range .Set}}<li>set {{.}}</li>
{{end}}{{if .Slow}}<li>a slow click is worth {{.Slow}}, a quick one {{.Fast}}</li>
{{end}}</ul>
<table>
<tr><th></th><th>time before</th><th>after</th><th>overshoot before</th><th>after</th></tr>
{{range .Tasks}}<tr><td>{{.Name}}</td><td>{{.Before}}</td><td>{{.After}}</td><td>{{.PastBefore}}</td><td>{{.PastAfter}}</td></tr>
{{end}}</table>
</section>
{{end}}<footer>
{{range .Footer}}<p>{{.}}</p>
{{end}}</footer>
</body>
</html>
`))
