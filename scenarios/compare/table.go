package compare

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"dialwright/scenarios/columns"
	"dialwright/scenarios/paired"
)

// header of the tables, short so that 80 columns are enough.
var header = []string{"", "time to target, s", "p95", "overshoot, %", "lost, %"}

// Table writes the comparison for a terminal, at most 80 columns wide.
func (r *Result) Table(w io.Writer) error { return r.text(w, false) }

// Markdown writes the comparison for a document.
func (r *Result) Markdown(w io.Writer) error { return r.text(w, true) }

func (r *Result) text(w io.Writer, markdown bool) error {
	p := columns.New(w, markdown)
	for j, u := range r.Uses {
		p.Heading(fmt.Sprintf("%s; %g an hour on %s", u.Task.Heading(), u.PerHour, r.knob(j)))
		rows := [][]string{}
		for i, c := range r.Study.Candidates {
			rows = append(rows, r.row(c.Name, r.Cells[i][j]))
		}
		p.Table(header, rows)
		for i := range r.Cells {
			if v := r.Cells[i][j].AgainstFirst; v != nil && r.Cells[i][j].Stays == nil {
				p.Item(v.Sentence())
			}
		}
		for _, note := range r.stays(j) {
			p.Text(note)
		}
		p.Text("")
	}
	p.Heading("All tasks, weighted by how often each is done")
	rows := [][]string{}
	for place, i := range r.Ranking {
		o := r.Overall[i]
		rows = append(rows, []string{
			fmt.Sprintf("%d. %s", place+1, r.Study.Candidates[i].Name),
			interval(o.Seconds, 1), columns.Percent(o.Overshoot), columns.Percent(o.Lost), r.against(i),
		})
	}
	p.Table([]string{"", "mean time, s", "overshoot, %", "lost, %", "against " + r.Study.Candidates[0].Name + ", s"}, rows)
	p.Text(r.footnote())
	if r.Partial {
		p.Text(fmt.Sprintf("Partial: interrupted after %d of %d trials a cell.", r.Cells[0][0].Trials, r.Study.Trials))
	}
	return p.Err()
}

// knob names the knob of a use and the rig behind it.
func (r *Result) knob(j int) string {
	k := r.Uses[j].Knob
	name := k.Inner.Name
	if r.Study.Candidates[0].Rig != nil {
		return fmt.Sprintf("the %s knob", k.Name)
	}
	if k.Rings == 2 {
		return fmt.Sprintf("the %s knob (two rings, %s)", k.Name, name)
	}
	return fmt.Sprintf("the %s knob (%s)", k.Name, name)
}

func (r *Result) row(name string, c *Cell) []string {
	if c.Stays != nil {
		name += " *"
	}
	lost := "–"
	if c.Detents > 0 {
		lost = interval100(c.LostShare)
	}
	return []string{name, interval(c.Time, 1), beyond(c.P95, c.Limit), interval100(c.Overshoot), lost}
}

func (r *Result) against(i int) string {
	m := r.Overall[i].Against.Mean
	switch {
	case i == 0:
		return "–"
	case r.Overall[i].Against.P >= 1-paired.Level:
		return "no difference found"
	}
	return fmt.Sprintf("%+.1f (%+.1f to %+.1f)", m.Value, m.Low, m.High)
}

// stays lists why profiles could not be set on the knob of a use.
func (r *Result) stays(j int) []string {
	var notes []string
	for i := range r.Cells {
		if err := r.Cells[i][j].Stays; err != nil {
			notes = append(notes, fmt.Sprintf("* %s cannot be set here, the knob stays plain: %v", r.Study.Candidates[i].Name, err))
		}
	}
	return notes
}

func (r *Result) footnote() string {
	return fmt.Sprintf("%d trials a cell, seed %d. Time to target is the median, in brackets its 95 %% interval; p95 is the time that 1 dialing in 20 exceeds; overshoot is the share of dialings that went past the target, lost the share of detents without a step of their own.",
		r.Study.Trials, r.Study.Seed)
}

// CSV writes a line for each cell.
func (r *Result) CSV(w io.Writer) error {
	out := csv.NewWriter(w)
	out.Write([]string{"profile", "rig", "operator", "task", "trials", "timeouts", "median_s", "median_low_s", "median_high_s", "p90_s", "p95_s", "mean_s", "overshoot_share", "overshoot_low", "overshoot_high", "overshoot_p90_steps", "lost_share", "against_first_s", "against_first_low_s", "against_first_high_s"})
	number := func(x float64) string {
		if math.IsInf(x, 0) || math.IsNaN(x) {
			return ""
		}
		return strconv.FormatFloat(x, 'g', 6, 64)
	}
	for i, c := range r.Study.Candidates {
		for j, u := range r.Uses {
			x := r.Cells[i][j]
			row := []string{safe(c.Profile.Name), safe(r.rig(i, j)), safe(c.Operator.Name), safe(u.Task.Name), strconv.Itoa(x.Trials), strconv.Itoa(x.Timeouts)}
			for _, f := range []float64{x.Time.Value, x.Time.Low, x.Time.High, x.P90, x.P95, x.Mean, x.Overshoot.Value, x.Overshoot.Low, x.Overshoot.High, x.OvershootP90, x.LostShare.Value} {
				row = append(row, number(f))
			}
			d := paired.Estimate{}
			if x.AgainstFirst != nil {
				d = x.AgainstFirst.Time.Median
			}
			out.Write(append(row, number(d.Value), number(d.Low), number(d.High)))
		}
	}
	out.Flush()
	return out.Error()
}

// safe keeps a name from being taken for a formula by a spreadsheet.
func safe(name string) string {
	if name != "" && strings.ContainsRune("=+-@\t\r", rune(name[0])) {
		return "'" + name
	}
	return name
}

// rig names the rig of a cell.
func (r *Result) rig(i, j int) string {
	if c := r.Study.Candidates[i]; c.Rig != nil {
		return c.Rig.Name
	}
	return r.Uses[j].Knob.Inner.Name
}

func interval(e paired.Estimate, decimals int) string {
	if math.IsInf(e.Value, 1) {
		return "> limit"
	}
	high := fmt.Sprintf("%.*f", decimals, e.High)
	if math.IsInf(e.High, 1) {
		high = "> limit"
	}
	return fmt.Sprintf("%.*f (%.*f–%s)", decimals, e.Value, decimals, e.Low, high)
}

func interval100(e paired.Estimate) string {
	return fmt.Sprintf("%.0f (%.0f–%.0f)", 100*e.Value, 100*e.Low, 100*e.High)
}

func beyond(x, limit float64) string {
	if math.IsInf(x, 1) {
		return fmt.Sprintf("> %.0f", limit)
	}
	return fmt.Sprintf("%.1f", x)
}
