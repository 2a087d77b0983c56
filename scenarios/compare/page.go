package compare

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
)

// Page is the answer: what is worth choosing between, one ranking, and one matrix of
// tasks and candidates.
func (r *Result) Page() *columns.Page {
	var p columns.Page
	if len(r.Ranking) > 1 {
		p.Text(r.verdict())
		p.Text("")
	}
	r.rank(&p)
	p.Text("")
	legend := r.matrix(&p)
	p.Text(strings.Join(append(legend, fmt.Sprintf("%d trials a cell, seed %d; in brackets 95 %% intervals. --detail: overshoot, p95 and a sentence for each task.", r.Study.Trials, r.Study.Seed)), " "))
	r.partial(&p)
	return &p
}

// beats says whether a candidate leaves no reason to choose another.
func (r *Result) beats(a, b int) bool {
	x, y := r.Overall[a], r.Overall[b]
	less := y.Seconds.Value - x.Seconds.Value
	useful := paired.Useful(less, y.Seconds.Value)
	if less < 0 && useful || x.Overshoot > y.Overshoot {
		return false
	}
	return less > 0 && useful || x.Overshoot <= y.Overshoot-0.01
}

// beaten returns by the candidate what beats it, the best that does; −1 for nothing.
func (r *Result) beaten() []int {
	by := make([]int, len(r.Overall))
	for i := range by {
		by[i] = -1
	}
	for _, i := range r.Ranking {
		for _, j := range r.Ranking {
			if r.beats(j, i) && !slices.ContainsFunc(r.Ranking, func(k int) bool { return r.beats(k, j) }) {
				by[i] = j
				break
			}
		}
	}
	return by
}

// verdict says what is worth choosing between, and what beats the others.
func (r *Result) verdict() string {
	by := r.beaten()
	name := func(i int) string { return r.Study.Candidates[i].Name }
	var front, calm []int
	others := map[int][]string{}
	for _, i := range r.Ranking {
		if by[i] < 0 {
			front = append(front, i)
		} else {
			others[by[i]] = append(others[by[i]], name(i))
		}
		if math.Round(100*r.Overall[i].Overshoot) <= 100*scenarios.Calm {
			calm = append(calm, i)
		}
	}
	seconds := func(i int) string { return fmt.Sprintf("%.1f s", r.Overall[i].Seconds.Value) }
	overshoot := func(i int) string { return columns.Percent(r.Overall[i].Overshoot) + " % overshoot" }
	var said []string
	if len(front) == 1 {
		said = append(said, fmt.Sprintf("%s beats the rest: %s, %s.", name(front[0]), seconds(front[0]), overshoot(front[0])))
		delete(others, front[0])
	} else {
		var named []string
		for n, i := range front {
			switch n {
			case 0:
				named = append(named, fmt.Sprintf("%s (quickest: %s, %s)", name(i), seconds(i), overshoot(i)))
			case len(front) - 1:
				named = append(named, fmt.Sprintf("%s (calmest: %s, %s)", name(i), seconds(i), overshoot(i)))
			default:
				named = append(named, name(i))
			}
		}
		said = append(said, "Worth choosing between: "+strings.Join(named, ", ")+".")
	}
	for _, i := range front {
		switch list := others[i]; {
		case len(list) == 0:
		case len(others) == 1 && len(list) > 1:
			said = append(said, fmt.Sprintf("Each of the others is beaten by %s: no quicker, and no calmer.", name(i)))
		default:
			said = append(said, fmt.Sprintf("%s: beaten by %s.", strings.Join(list, ", "), name(i)))
		}
	}
	if r.profiles() {
		switch calmest := scenarios.Calm * 100; len(calm) {
		case 0:
			said = append(said, fmt.Sprintf("None keeps overshoot within %.0f %%; tune searches for settings that do.", calmest))
		case 1:
			said = append(said, fmt.Sprintf("Only %s keeps overshoot within %.0f %%; tune searches for quicker settings that do.", name(calm[0]), calmest))
		}
	}
	return strings.Join(said, " ")
}

// profiles says whether it is profiles that are compared, which tune can better.
func (r *Result) profiles() bool {
	return slices.ContainsFunc(r.Study.Candidates, func(c Candidate) bool { return c.Profile.Name != r.Study.Candidates[0].Profile.Name })
}

// rank shows the candidates, best first, those worth choosing between marked.
func (r *Result) rank(p *columns.Page) {
	by := r.beaten()
	head := []string{"", "mean time, s", "overshoot, %", "lost, %"}
	if len(r.Overall) > 1 {
		first := r.Study.Candidates[0].Name
		if len([]rune(first)) > 16 { // the column has to fit beside the others
			first = "the first"
		}
		head = append(head, "against "+first+", s")
	}
	var rows [][]string
	for _, i := range r.Ranking {
		o, mark := r.Overall[i], ""
		switch {
		case len(r.Ranking) == 1:
		case by[i] < 0:
			mark = "> "
		default:
			mark = "  "
		}
		row := []string{mark + r.Study.Candidates[i].Name, sample.Seconds(o.Seconds), columns.Percent(o.Overshoot), columns.Percent(o.Lost)}
		if len(r.Overall) > 1 {
			row = append(row, r.against(i))
		}
		rows = append(rows, row)
	}
	p.Table(head, rows)
}

// The marks of the matrix, with what they say of a cell against the first candidate.
const (
	same   = "~"
	slower = "!"
	mixed  = "?"
	unset  = "–"
)

var marks = []struct{ mark, says string }{
	{same, "no useful difference from %s found"}, {slower, "slower than %s"}, {mixed, "quicker in more trials than %s, slower on average, or the other way round"}, {unset, "cannot be set there"},
}

// mark says what is to be known of a cell at a glance.
func (r *Result) mark(i, j int) string {
	if r.Trials[i][j].Stays != nil {
		return unset
	}
	v := r.Against[i][j]
	if v == nil {
		return ""
	}
	switch v.Outcome() {
	case paired.NoDifference, paired.TooSmall:
		return same
	case paired.Slower:
		return slower
	case paired.Mixed:
		return mixed
	}
	return ""
}

// matrix shows the median time of every task with every candidate, the tasks that are
// done most first, and returns what its marks mean.
func (r *Result) matrix(p *columns.Page) (legend []string) {
	uses := make([]int, len(r.Uses))
	for j := range uses {
		uses[j] = j
	}
	slices.SortStableFunc(uses, func(a, b int) int { return cmp.Compare(r.Uses[b].PerHour, r.Uses[a].PerHour) })
	head, used := []string{"median, s"}, map[string]bool{}
	for _, i := range r.Ranking {
		head = append(head, r.Study.Candidates[i].Name)
	}
	var rows [][]string
	for _, j := range uses {
		row := []string{fmt.Sprintf("%s, %g/h", r.Uses[j].Name(), r.Uses[j].PerHour)}
		for _, i := range r.Ranking {
			t := r.Trials[i][j]
			mark := r.mark(i, j)
			used[mark] = true
			if mark == unset {
				row = append(row, unset)
				continue
			}
			row = append(row, sample.Until(t.Summary().Time.Value, t.Limit)+mark)
		}
		rows = append(rows, row)
	}
	p.Table(head, rows)
	first := r.Study.Candidates[0].Name
	for _, m := range marks {
		if used[m.mark] {
			legend = append(legend, m.mark+" "+strings.ReplaceAll(m.says, "%s", first)+".")
		}
	}
	return legend
}
