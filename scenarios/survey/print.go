package survey

import (
	"fmt"
	"strings"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
)

// mostRanges is how many losing ranges the answer names.
const mostRanges = 3

// Page is the answer.
func (r *Result) Page() *columns.Page { return r.page(false) }

// Detail is every table.
func (r *Result) Detail() *columns.Page { return r.page(true) }

func (r *Result) page(detail bool) *columns.Page {
	var p columns.Page
	p.Heading(r.Sentence())
	p.Text("")
	shown := r.Ranking
	if most := 10; !detail && len(shown) > most {
		shown = shown[:most]
	}
	p.Show(r.Table(shown))
	if more := len(r.Ranking) - len(shown); more > 0 {
		p.Text(fmt.Sprintf("%d slower ones; --detail has them too.", more))
	}
	p.Text("")
	r.losses(&p)
	if detail {
		r.tables(&p)
	}
	p.Text("")
	h := &r.Part.Header
	p.Text(fmt.Sprintf("%d members of %s, %d trials each with every candidate, seed %d. Mean: of the members' mean times, in brackets its 95 %% interval with members as clusters; worst: mean of the slowest tenth of members; in caps: members on whose rig at most %s %% of dialings overshoot and %s %% of clicks are lost; best: members for which none is quicker; regret: how much slower than the best candidate for the member, in brackets what one member in twenty loses or more.",
		r.Members, h.Population, h.Trials, h.Seed, columns.Percent(h.Caps.Overshoot), columns.Percent(h.Caps.Lost)))
	if r.Dead > 0 {
		p.Text(fmt.Sprintf("%d more members have rigs on which no number can be dialed; they count nowhere.", r.Dead))
	}
	for _, c := range r.Ranking {
		if x := &r.Candidates[c]; x.Stays > 0 && detail {
			p.Text(fmt.Sprintf("%s cannot be set on %s of the rigs, which stay plain.", x.Name, r.of(x.Stays)))
		}
	}
	if r.Part.Partial {
		p.Text(fmt.Sprintf("Partial: interrupted after %d of %d members.", r.Members+r.Dead, len(r.Part.members)))
	}
	return &p
}

// Table is a line for each of some candidates.
func (r *Result) Table(shown []int) columns.Table {
	return columns.Table{Columns: described, Rows: func(yield func([]columns.Cell) bool) {
		for _, c := range shown {
			if !yield(r.row(c)) {
				return
			}
		}
	}}
}

// of writes a share of the members.
func (r *Result) of(n int) string { return fmt.Sprintf("%.0f %%", 100*float64(n)/float64(r.Members)) }

// Sentence is the answer.
func (r *Result) Sentence() string {
	w := &r.Candidates[r.Ranking[0]]
	s := fmt.Sprintf("%s is the quickest default for %s: %.1f s a dialing", w.Name, r.Part.Population, w.Mean.Value)
	if len(r.Ranking) == 1 {
		return s + "."
	}
	second := &r.Candidates[r.Ranking[1]]
	d := second.AgainstBest
	if d.Found() {
		s += fmt.Sprintf(", %s less than %s", shortly(d.Estimate), second.Name)
	} else {
		s += fmt.Sprintf("; no difference to %s was found", second.Name)
	}
	return s + fmt.Sprintf(". It is within the caps for %.0f %% of members and loses %.1f s to the best candidate for the member.", 100*w.Within.Value, w.Regret.Value)
}

// shortly writes a positive difference with its interval.
func shortly(e paired.Estimate) string {
	return fmt.Sprintf("%.1f s (%.1f to %.1f)", e.Value, e.Low, e.High)
}

// losses says where the winner fails.
func (r *Result) losses(p *columns.Page) {
	if len(r.Candidates) == 1 {
		return
	}
	if len(r.Losses) == 0 {
		p.Text(fmt.Sprintf("Where it fails: in no range of any key was another candidate found to be quicker than %s.", r.Candidates[r.Judged].Name))
		return
	}
	p.Heading("Where it fails, what costs the population most first")
	for _, s := range r.Fails(mostRanges) {
		p.Item(s)
	}
}

// Fails says where the judged candidate loses to another one, at most so many times.
func (r *Result) Fails(most int) (list []string) {
	for _, l := range r.Losses[:min(most, len(r.Losses))] {
		list = append(list, r.lost(l))
	}
	return list
}

// lost says one loss in words.
func (r *Result) lost(l Loss) string {
	g := l.Range
	return fmt.Sprintf("where %s is %s (%s of members) %s loses to %s by %s", l.Key, g.Name, r.of(g.Members), r.Candidates[r.Judged].Name, r.Candidates[g.Quicker].Name, shortly(g.Gap.Estimate))
}

// described is the columns of a candidate.
var described = []columns.Column{
	{Head: "", Keys: []string{"profile"}},
	{Head: "mean, s", Keys: []string{"mean_s", "mean_low_s", "mean_high_s"}},
	{Head: "median", Keys: []string{"median_s", "median_low_s", "median_high_s"}},
	{Head: "worst", Keys: []string{"worst_tenth_s"}},
	{Head: "in caps, %", Keys: []string{"within_caps_share", "within_caps_low", "within_caps_high"}},
	{Head: "best, %", Keys: []string{"best_share"}},
	{Head: "regret, s", Keys: []string{"regret_s", "regret_low_s", "regret_high_s", "regret_p95_s"}},
}

func (r *Result) row(c int) []columns.Cell {
	x := &r.Candidates[c]
	of := func(text string, values ...any) columns.Cell { return columns.Cell{Text: text, Values: values} }
	one := func(v float64) string { return fmt.Sprintf("%.1f", v) }
	return []columns.Cell{
		of(x.Name, x.Name),
		of(sample.Seconds(x.Mean), x.Mean.Value, x.Mean.Low, x.Mean.High),
		of(one(x.Median.Value), x.Median.Value, x.Median.Low, x.Median.High),
		of(one(x.WorstTenth), x.WorstTenth),
		of(columns.Percent(x.Within.Value), x.Within.Value, x.Within.Low, x.Within.High),
		of(columns.Percent(x.Best), x.Best),
		of(fmt.Sprintf("%.1f (%.1f)", x.Regret.Value, x.Regret95), x.Regret.Value, x.Regret.Low, x.Regret.High, x.Regret95),
	}
}

// tables adds every table.
func (r *Result) tables(p *columns.Page) {
	w := &r.Candidates[r.Judged]
	p.Text("")
	p.Heading("Mean differences to " + w.Name + " over members, and all trials")
	var rows [][]string
	for _, c := range r.Ranking {
		x := &r.Candidates[c]
		against := "–"
		if c != r.Judged {
			against = "no difference found"
			if x.AgainstBest.Found() {
				against = sample.Signed(x.AgainstBest.Estimate, 1, 1)
			}
		}
		t := x.Trial
		rows = append(rows, []string{x.Name, against, sample.Until(t.Median, 0), sample.Until(t.P95, 0), columns.Percent(x.Overshoot.Value), columns.Percent(x.Lost.Value), fmt.Sprint(x.Timeouts)})
	}
	p.Table([]string{"", "against " + w.Name + ", s", "median trial, s", "p95", "overshoot, %", "lost, %", "timeouts"}, rows)
	for i := range r.Keys {
		k := &r.Keys[i]
		p.Text("")
		p.Heading("Mean regret by " + k.Key + ", s")
		header := []string{"", "members"}
		for _, c := range r.Ranking {
			header = append(header, r.Candidates[c].Name)
		}
		rows := [][]string{}
		for _, g := range k.Ranges {
			row := []string{g.Name, fmt.Sprint(g.Members)}
			for _, c := range r.Ranking {
				row = append(row, fmt.Sprintf("%.1f", g.Regret[c].Value))
			}
			rows = append(rows, row)
		}
		p.Table(header, rows)
	}
	for _, l := range r.Losses[min(mostRanges, len(r.Losses)):] {
		p.Item(r.lost(l))
	}
}

// Rows is a line for each member.
func (r *Result) Rows() columns.Table {
	first := r.firstMembers()
	t := columns.Table{Columns: []columns.Column{{Keys: []string{"member", "dead"}}}}
	for i := range r.Part.Keys {
		t.Columns = append(t.Columns, columns.Column{Keys: []string{r.Part.Keys[i].Key}})
	}
	for _, name := range r.Part.Candidates {
		name = strings.Join(strings.Fields(name), " ")
		t.Columns = append(t.Columns, columns.Column{Keys: []string{name + ".mean_s", name + ".overshoot_share", name + ".lost_share", name + ".timeouts", name + ".stays_plain"}})
	}
	t.Rows = func(yield func([]columns.Cell) bool) {
		for i := range r.Part.members {
			m := &r.Part.members[i]
			if !m.done {
				continue
			}
			cells := []columns.Cell{columns.Of(first+i, m.dead)}
			for k := range r.Part.Keys {
				cells = append(cells, columns.Of(r.Part.at(k, m)))
			}
			for c, o := range m.of {
				n := float64(r.Part.Trials)
				cell := columns.Cell{Values: []any{nil, nil, nil, nil, nil}}
				if !m.dead {
					cell.Values = []any{sample.Round(o.time.Float() / (1e9 * n)), sample.Round(float64(o.overshot) / n), nil, o.timeouts, m.stays>>c&1 == 1}
					if o.detents > 0 {
						cell.Values[2] = sample.Round(float64(o.lost) / float64(o.detents))
					}
				}
				cells = append(cells, cell)
			}
			if !yield(cells) {
				return
			}
		}
	}
	return t
}

// firstMembers returns the number of the first member.
func (r *Result) firstMembers() int {
	first, _ := Shard{r.Part.Shards[0][0], r.Part.Of}.members(r.Part.Members)
	return first
}

// at writes where a member stands on a key.
func (p *Part) at(k int, m *member) any {
	if m.at[k] == scenarios.NotUsed {
		return nil
	}
	return p.Keys[k].Written(m.at[k])
}
