package compare

import (
	"fmt"
	"slices"

	"dialwright/scenarios/columns"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
)

// described is the columns of a candidate on a task. The heads are short so that 80
// columns are enough.
var described = []columns.Column{
	{Head: "", Keys: []string{"profile"}},
	{Hidden: true, Keys: []string{"rig", "operator", "task", "trials", "timeouts"}},
	{Head: "time to target, s", Keys: []string{"median_s", "median_low_s", "median_high_s"}},
	{Head: "p95", Keys: []string{"p90_s", "p95_s", "mean_s"}},
	{Head: "overshoot, %", Keys: []string{"overshoot_share", "overshoot_low", "overshoot_high", "overshoot_p90_steps"}},
	{Head: "lost, %", Keys: []string{"lost_share"}},
	{Hidden: true, Keys: []string{"against_first_s", "against_first_low_s", "against_first_high_s", "stays_plain_because", "candidate"}},
}

// row is a candidate on a task.
func (r *Result) row(i, j int) []columns.Cell {
	c, t, d := r.Study.Candidates[i], r.Trials[i][j], paired.Estimate{}
	s, name, lost, stays := t.Summary(), c.Name, "–", ""
	if t.Stays != nil {
		name, stays = name+" *", t.Stays.Error()
	}
	if s.Fated {
		lost = sample.Percent(s.Lost)
	}
	if v := r.Against[i][j]; v != nil {
		d = v.Time.Median
	}
	return []columns.Cell{
		{Text: name, Values: []any{c.Profile.Name}},
		{Values: []any{t.Use.Knob.Inner.Name, c.Operator.Name, t.Use.Name(), s.Trials, s.Timeouts}},
		{Text: sample.Seconds(s.Time), Values: []any{s.Time.Value, s.Time.Low, s.Time.High}},
		{Text: sample.Until(s.P95, t.Limit), Values: []any{s.P90, s.P95, s.Mean}},
		{Text: sample.Percent(s.Overshoot), Values: []any{s.Overshoot.Value, s.Overshoot.Low, s.Overshoot.High, s.OvershootP90}},
		{Text: lost, Values: []any{s.Lost.Value}},
		{Values: []any{d.Value, d.Low, d.High, stays, c.Name}},
	}
}

// Rows is a line for each candidate and task.
func (r *Result) Rows() columns.Table {
	return columns.Table{Columns: described, Rows: func(yield func([]columns.Cell) bool) {
		for i := range r.Trials {
			for j := range r.Uses {
				if !yield(r.row(i, j)) {
					return
				}
			}
		}
	}}
}

// Detail is everything that the comparison says, task by task.
func (r *Result) Detail() *columns.Page {
	var p columns.Page
	for j, u := range r.Uses {
		p.Heading(fmt.Sprintf("%s; %g an hour on %s", u.Task.Heading(), u.PerHour, r.knob(j)))
		var rows [][]columns.Cell
		for i := range r.Trials {
			rows = append(rows, r.row(i, j))
		}
		p.Show(columns.Table{Columns: described, Rows: slices.Values(rows)})
		for i := range r.Trials {
			if v := r.Against[i][j]; v != nil && r.Trials[i][j].Stays == nil {
				p.Item(v.Sentence())
			}
		}
		for i, c := range r.Study.Candidates {
			if err := r.Trials[i][j].Stays; err != nil {
				p.Text(fmt.Sprintf("* %s cannot be set here, the knob stays plain: %v", c.Name, err))
			}
		}
		p.Text("")
	}
	p.Heading("All tasks, weighted by how often each is done")
	r.rank(&p)
	p.Text(fmt.Sprintf("%d trials a cell, seed %d. Time to target is the median, in brackets its 95 %% interval; p95 is the time that 1 dialing in 20 exceeds; overshoot is the share of dialings that went past the target, lost the share of detents without a step of their own.",
		r.Study.Trials, r.Study.Seed))
	r.partial(&p)
	return &p
}

func (r *Result) partial(p *columns.Page) {
	if r.Partial {
		p.Text(fmt.Sprintf("Partial: interrupted after %d of %d trials a cell.", r.Trials[0][0].Len(), r.Study.Trials))
	}
}

// knob names the knob of a use and the rig behind it.
func (r *Result) knob(j int) string {
	k := r.Uses[j].Knob
	if r.Study.Candidates[0].Rig != nil {
		return k.Called()
	}
	if k.Rings == 2 {
		return fmt.Sprintf("%s (two rings, %s)", k.Called(), k.Inner.Name)
	}
	return fmt.Sprintf("%s (%s)", k.Called(), k.Inner.Name)
}

func (r *Result) against(i int) string {
	switch {
	case i == 0:
		return "–"
	case r.Overall[i].Against.P >= 1-paired.Level:
		return "no difference found"
	case !paired.Useful(r.Overall[i].Against.Mean.Value, r.Overall[0].Seconds.Value):
		return "no useful difference"
	}
	return sample.Signed(r.Overall[i].Against.Mean, 1, 1)
}
