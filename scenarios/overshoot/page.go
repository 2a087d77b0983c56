package overshoot

import (
	"fmt"
	"slices"
	"strings"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/sample"
)

// Page is the answer: how often and how far, why, what helps, and how that differs
// between people.
func (r *Result) Page() *columns.Page {
	p := &columns.Page{}
	one := r.middle()
	for _, s := range r.verdict(one) {
		p.Text(s)
	}
	p.Text("")
	r.matrix(p, one)
	if r.Study.Replay != nil {
		var worst *Answer
		for _, a := range r.of(one) {
			if len(a.Worst) > 0 && (worst == nil || a.Worst[0].Steps > worst.Worst[0].Steps) {
				worst = a
			}
		}
		if worst != nil {
			p.Text("")
			p.Text(fmt.Sprintf("Worst: %s (%s past)", r.again(worst), counted(worst.Worst[0].Steps)))
		}
	}
	for _, a := range r.of(one) {
		if a.Stays != nil {
			p.Text(fmt.Sprintf("%s cannot be set for %s, whose knob stays plain: %v", r.Study.Profile.Name, a.Use.Name(), a.Stays))
		}
	}
	p.Text(fmt.Sprintf("%d trials a cell, seed %d; in brackets 95 %% intervals. --detail: sizes, distances and speeds for each operator and ring.", r.Study.Trials, r.Study.Seed))
	if r.Partial {
		p.Text(r.partial())
	}
	return p
}

// middle is the operator of whom the answer speaks: practised where it is one of
// several, else the first.
func (r *Result) middle() string {
	for _, a := range r.Answers {
		if a.Operator == scenarios.Practised().Name {
			return a.Operator
		}
	}
	return r.Answers[0].Operator
}

// of lists the answers about an operator, one for each task.
func (r *Result) of(operator string) (list []*Answer) {
	for _, a := range r.Answers {
		if a.Operator == operator {
			list = append(list, a)
		}
	}
	return list
}

// mostTasks is of how many tasks the sentences speak; the table has all.
const mostTasks = 3

// verdict says in sentences what the table has no room for.
func (r *Result) verdict(operator string) (said []string) {
	list := slices.Clone(r.of(operator))
	slices.SortStableFunc(list, func(a, b *Answer) int {
		return int(1e6 * (b.Summary().Overshoot.Value - a.Summary().Overshoot.Value))
	})
	over := slices.DeleteFunc(slices.Clone(list), func(a *Answer) bool { return a.Summary().Overshoot.Value == 0 })
	who := fmt.Sprintf("With %s the %s operator", r.Study.Profile.Name, operator)
	if len(over) == 0 {
		return []string{who + " never runs past the target."}
	}
	over = over[:min(len(over), mostTasks)]
	each := func(what func(a *Answer) string) string {
		var parts []string
		for _, a := range over {
			parts = append(parts, what(a))
		}
		return listed(parts)
	}
	s := who + " runs past " + each(func(a *Answer) string {
		share := columns.Percent(a.Summary().Overshoot.Value)
		if share == "0" {
			share = "less than 1"
		}
		return fmt.Sprintf("%s %% of %s", share, a.Use.Name())
	}) + " numbers, " + spread(over)
	if over[0].Extra.High > 0 {
		s += "; each time costs " + each(func(a *Answer) string { return fmt.Sprintf("%.1f", a.Extra.Value) }) + " s"
	}
	said = append(said, s+".")
	why, first := "", -1
	shares := each(func(a *Answer) string {
		c, share := a.cause()
		why += fmt.Sprintf("; on %s %s (%.0f %% of the cases)", a.Use.Name(), c, 100*share)
		switch {
		case first < 0:
			first = int(c)
		case first != int(c):
			first = int(causes)
		}
		return fmt.Sprintf("%.0f", 100*share)
	})
	if first < int(causes) {
		why = fmt.Sprintf("; %s (%s %% of the cases)", Cause(first), shares)
	}
	said = append(said, "Why: "+why[2:]+".")
	for _, a := range over {
		if s := a.slower(); s != "" {
			return append(said, "What helps: "+s)
		}
	}
	return said
}

// spread says how far most of the overshoots go.
func spread(list []*Answer) string {
	sizes, all := map[int64]int{}, 0
	for _, a := range list {
		for _, ring := range a.Rings {
			for steps, n := range ring.Sizes {
				sizes[steps] += n
				all += n
			}
		}
	}
	sum := 0
	for _, steps := range sortedSizes(sizes) {
		if sum += sizes[steps]; 2*sum > all {
			if steps == 1 {
				return "mostly by 1 step"
			}
			return fmt.Sprintf("half of the times by 1 to %s", counted(steps))
		}
	}
	return "" // there are none: is not asked then
}

// cause is the most frequent cause of an answer's overshoots with its share.
func (a *Answer) cause() (most Cause, share float64) {
	all := 0
	for c, n := range a.Causes {
		all += n
		if n > a.Causes[most] {
			most = Cause(c)
		}
	}
	return most, float64(a.Causes[most]) / float64(max(1, all))
}

// slower says what reaching the number more slowly would do, where that is clear: the
// slow quarters overshoot less often than the quickest, also at the ends of their
// intervals.
func (a *Answer) slower() string {
	last := len(a.Speed) - 1
	if last < 1 {
		return ""
	}
	best := 0
	for i := range last {
		if a.Speed[i].Share.Value < a.Speed[best].Share.Value {
			best = i
		}
	}
	if a.Speed[best].Share.High >= a.Speed[last].Share.Low {
		return ""
	}
	return fmt.Sprintf("reach the number of %s at %.2g clicks a second or less: %s %% overshoot; in the quickest quarter, beyond %.2g, %s %%.",
		a.Use.Name(), a.Speed[best].To, columns.Percent(slowest(a.Speed[:best+1])), a.Speed[last-1].To, columns.Percent(a.Speed[last].Share.Value))
}

// slowest is the share of overshoots up to a speed.
func slowest(list []Quarter) float64 {
	hits, trials := 0.0, 0
	for _, q := range list {
		hits += q.Share.Value * float64(q.Trials)
		trials += q.Trials
	}
	return hits / float64(max(1, trials))
}

// matrix shows the tasks beside the operators.
func (r *Result) matrix(p *columns.Page, one string) {
	var operators, tasks []string
	cell := map[string]map[string]*Answer{}
	for _, a := range r.Answers {
		if !slices.Contains(operators, a.Operator) {
			operators = append(operators, a.Operator)
		}
		if cell[a.Use.Name()] == nil {
			cell[a.Use.Name()] = map[string]*Answer{}
			tasks = append(tasks, a.Use.Name())
		}
		cell[a.Use.Name()][a.Operator] = a
	}
	head := append([]string{"overshoot, %"}, operators...)
	var rows [][]string
	for _, task := range tasks {
		row := []string{task}
		for _, o := range operators {
			if a := cell[task][o]; a != nil {
				row = append(row, sample.Percent(a.Summary().Overshoot))
			} else {
				row = append(row, "–")
			}
		}
		extra := "–"
		if a := cell[task][one]; a != nil {
			extra = seconds(a.Extra)
		}
		rows = append(rows, append(row, extra))
	}
	p.Table(append(head, "extra, s"), rows)
}

// listed joins parts as a sentence does.
func listed(parts []string) string {
	if n := len(parts); n > 1 {
		return strings.Join(parts[:n-1], ", ") + " and " + parts[n-1]
	}
	return parts[0]
}
