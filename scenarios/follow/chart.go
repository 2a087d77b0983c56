package follow

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
)

// rows is how many rows of the chart a turn should fit into.
const rows = 3

// Page is the turn under what is said of it, with what is to be warned of.
func (t *Turn) Page(said []string, warnings []scenarios.Warning) *columns.Page {
	p := &columns.Page{}
	for _, s := range said {
		p.Text(s)
	}
	t.page(p)
	p.Drawing(func(int, bool) string { return t.ends() })
	for _, x := range warnings {
		p.Text("")
		p.Text("warning: " + x.Link.String() + ": " + x.Text)
	}
	return p
}

// page adds the turn as lanes over time. Every click has a letter that appears in
// the lane of each stage that it reached.
func (t *Turn) page(p *columns.Page) {
	lanes := t.Lanes()
	end, names := 0.0, 0
	for _, l := range lanes {
		names = max(names, len(l.Name))
		for _, m := range l.Marks {
			end = max(end, m.To)
		}
	}
	p.Drawing(func(width int, unicode bool) string {
		instants := width - names - 2 // that one row shows
		per := 1
		for _, per = range []int{1, 2, 5, 10, 20, 50, 100, 200, 500, 1000} {
			if end <= float64(rows*instants*per) {
				break
			}
		}
		out := columns.Wrap(fmt.Sprintf("One column is %d ms. A click has a letter, shown in each lane it reached.", per), width) + "\n"
		for from := 0.0; from <= end; from += float64(instants * per) {
			f := Draw(during(lanes, from, from+float64(instants*per)))
			f.X.Label, f.X.Min, f.X.Max = "ms", from, from+float64((instants-1)*per)
			out += "\n" + f.Text(width, unicode)
		}
		return out
	})
	p.Text("")
}

// during returns what of lanes happened in a time, at whole columns.
func during(lanes []Lane, from, to float64) []Lane {
	some := make([]Lane, len(lanes))
	for i, l := range lanes {
		some[i].Name = l.Name
		for _, m := range l.Marks {
			if m.From >= to || m.To < from {
				continue
			}
			if m.From < from {
				m.From, m.Sign = from, "=" // it goes on
			}
			some[i].Marks = append(some[i].Marks, m)
		}
	}
	return some
}

// ends says where each click ended.
func (t *Turn) ends() string {
	out := &strings.Builder{}
	a := t.Account
	if t.Fates == nil {
		fmt.Fprintf(out, "The firmware holds its line, so clicks are not matched to steps:\n%d detents, %d presses, held for %v, %d steps applied.\n",
			a.Detents, a.Presses, time.Duration(a.Held).Round(time.Millisecond), a.Steps)
		return out.String()
	}
	byFate := map[string]string{}
	var order []string
	for i, f := range slices.Backward(t.Fates) {
		name := f.String()
		if byFate[name] == "" {
			order = append(order, name)
		}
		byFate[name] = Letter(i) + byFate[name]
	}
	slices.Sort(order)
	slices.SortStableFunc(order, func(a, b string) int { return len(byFate[b]) - len(byFate[a]) })
	for _, name := range order {
		letters := byFate[name]
		for i := 0; i < len(letters); i += 54 {
			head := fmt.Sprintf("%s %d", name, len(letters))
			if i > 0 {
				head = ""
			}
			fmt.Fprintf(out, "%-22s  %s\n", head, letters[i:min(i+54, len(letters))])
		}
	}
	extra := func(n int, what string) {
		if n > 0 {
			fmt.Fprintf(out, "%-22s  %s\n", fmt.Sprintf("extra steps %d", n), what)
		}
	}
	extra(a.Extra.Repeat, "by key repeat (*)")
	extra(a.Extra.Hold, "by the program's hold (#)")
	extra(a.Extra.Bounce, "by bounce or without a click of their own (?)")
	if n := a.IllegalTransitions; n > 0 {
		fmt.Fprintf(out, "%-22s  both contacts changed between two readings\n", fmt.Sprintf("illegal transitions %d", n))
	}
	return out.String()
}
