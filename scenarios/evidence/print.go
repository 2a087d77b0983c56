package evidence

import (
	"fmt"
	"io"
	"strings"

	"dialwright/scenarios/columns"
)

// Answer is a word or two for whether a check holds.
func (c Check) Answer() string {
	switch {
	case c.Holds != nil && !*c.Holds:
		return "DOES NOT HOLD"
	case c.Status == Shown:
		return "shown"
	case c.Status == Uncompared:
		return "not compared"
	case c.Holds == nil:
		return "open"
	case c.Set:
		return "set"
	}
	return "holds"
}

// What no figure here rests on, and what is not in one.
const (
	notFound    = "Looked for and not found: a figure that can be read for how often a heading or frequency knob with detents overshoots."
	overshoot   = "A figure of overshoot is therefore worth less than a time: which of two settings overshoots more follows from the model; how often people at such a knob do was compared with nothing."
	notIncluded = "A time begins with the target in sight and the hand on the knob: reaching for the knob and reading the clearance are not in it."

	// NotValidated is what no source was found for, and what that means.
	NotValidated = notFound + " " + overshoot + " " + notIncluded
)

// Tally counts checks.
type Tally struct {
	Set        int `json:"set"`      // figures that the people were set on
	SetHold    int `json:"set_hold"` // those within their band
	Checked    int `json:"checked"`  // checks
	Hold       int `json:"hold"`
	Broken     int `json:"do_not_hold"` // of the checks, and what is shown and does not show it
	Open       int `json:"open"`        // checks that could not be computed
	Shown      int `json:"shown"`       // hold by construction
	Uncompared int `json:"not_compared"`
}

// Sum counts checks: those of all kinds, or of one. What the people were set on
// and what is only shown does not count among the checks.
func Sum(checks []Check, kinds ...Kind) (t Tally) {
	for _, c := range checks {
		if len(kinds) > 0 && c.Kind != kinds[0] {
			continue
		}
		broken := c.Holds != nil && !*c.Holds
		switch {
		case c.Status == Uncompared:
			t.Uncompared++
		case c.Status == Shown:
			t.Shown++
			if broken {
				t.Broken++
			}
		case c.Set:
			t.Set++
			if !broken {
				t.SetHold++
			}
		default:
			t.Checked++
			switch {
			case c.Holds == nil:
				t.Open++
			case broken:
				t.Broken++
			default:
				t.Hold++
			}
		}
	}
	return t
}

// ByKind counts the checks of each kind.
func ByKind(checks []Check) map[Kind]Tally {
	m := map[Kind]Tally{}
	for _, k := range Kinds {
		m[k] = Sum(checks, k)
	}
	return m
}

// Verdict says in a sentence or two how the checks stand.
func Verdict(checks []Check) string {
	t := Sum(checks)
	is := func(n int) string {
		if n == 1 {
			return "1 is"
		}
		return fmt.Sprint(n, " are")
	}
	s := fmt.Sprintf("%d of %d checks hold", t.Hold, t.Checked)
	if t.Broken == 1 {
		s += ", 1 does not"
	} else {
		s += fmt.Sprintf(", %d do not", t.Broken)
	}
	if t.Open > 0 {
		s += ", " + is(t.Open) + " open"
	}
	s += "."
	if t.Set > 0 {
		s += fmt.Sprintf(" The people were set on %d more figures; %d of them come out within their bands.", t.Set, t.SetHold)
	}
	var more []string
	if t.Shown > 0 {
		more = append(more, is(t.Shown)+" shown, not checked")
	}
	if t.Uncompared > 0 {
		more = append(more, is(t.Uncompared)+" published, not yet compared")
	}
	if more != nil {
		s += " " + strings.Join(more, "; ") + "."
	}
	return s
}

// Summary writes what a reader wants first, in at most 30 lines of 80 columns: the
// verdict, what does not hold, the kinds, and the figures that say most.
func Summary(w io.Writer, width int, checks []Check) error {
	const lines = 30
	var head, foot strings.Builder
	var p columns.Page
	p.Text(Verdict(checks))
	const most = 5
	listed := 0
	for _, c := range checks {
		word := map[string]string{"DOES NOT HOLD": "no", "open": "open"}[c.Answer()]
		if word == "" {
			continue
		}
		if listed++; listed <= most {
			why := c.Measured
			if c.Holds == nil {
				why = c.Reason
			}
			p.Text(cut(fmt.Sprintf(" %-5s%-4s %s: %s", word, c.ID, c.What, why), width))
		}
	}
	if listed > most {
		p.Text(fmt.Sprintf(" and %d more: --all", listed-most))
	}
	p.Table([]string{"", "set", "checked", "hold", "do not", "open", "shown", "not compared"}, byKind(checks))
	if err := p.Print(&head, width); err != nil {
		return err
	}
	p = columns.Page{}
	p.Text(notFound)
	p.Text("evidence A4: one check in full, with its source. --all: every check, and what a figure of overshoot is worth.")
	if err := p.Print(&foot, width); err != nil {
		return err
	}
	room := lines - strings.Count(head.String()+foot.String(), "\n") - 1
	var figures [][]string
	for _, c := range checks {
		if c.brief[0] != "" && len(figures) < room {
			figures = append(figures, []string{c.ID + " " + c.brief[0], c.brief[1], c.brief[2]})
		}
	}
	if _, err := io.WriteString(w, head.String()); err != nil {
		return err
	}
	if figures != nil {
		p = columns.Page{}
		p.Table([]string{"", "published", "here"}, figures)
		if err := p.Print(w, width); err != nil {
			return err
		}
	}
	_, err := io.WriteString(w, foot.String())
	return err
}

// cut shortens a line to the width of a terminal.
func cut(s string, width int) string {
	if r := []rune(s); len(r) > width {
		return string(r[:width-1]) + "…"
	}
	return s
}

// byKind are the rows of a table of kinds.
func byKind(checks []Check) (rows [][]string) {
	for i, k := range Kinds {
		t := Sum(checks, k)
		rows = append(rows, []string{string(rune('A'+i)) + " " + string(k)})
		for _, n := range []int{t.Set, t.Checked, t.Hold, t.Broken, t.Open, t.Shown, t.Uncompared} {
			rows[i] = append(rows[i], fmt.Sprint(n))
		}
	}
	return rows
}

// Text writes checks in full for a terminal of so many columns.
func Text(w io.Writer, width int, checks []Check) error {
	var p columns.Page
	for i, c := range checks {
		if i > 0 {
			p.Text("")
		}
		p.Text(fmt.Sprintf("%s %s: %s", c.ID, c.Answer(), c.What))
		p.Item("published: " + c.Published)
		if c.Measured != "" {
			p.Item("computed: " + c.Measured)
		}
		if c.Reason != "" {
			p.Item(c.Answer() + ": " + c.Reason)
		}
		if c.Band != "" {
			p.Item("must show: " + c.Band)
		}
		p.Item("source: " + c.Source + " (" + string(c.Status) + ")")
	}
	return p.Print(w, width)
}

// All writes every check in full, and how they stand.
func All(w io.Writer, width int, checks []Check) error {
	if err := Text(w, width, checks); err != nil {
		return err
	}
	var p columns.Page
	p.Text("")
	p.Text(Verdict(checks))
	p.Table([]string{"", "set", "checked", "hold", "do not", "open", "shown", "not compared"}, byKind(checks))
	p.Text("")
	p.Text(NotValidated)
	return p.Print(w, width)
}

// Markdown writes the checks as a table.
func Markdown(w io.Writer, checks []Check) error {
	var p columns.Page
	p.Heading("Published values beside what this build computes")
	var rows [][]string
	for _, c := range checks {
		measured := c.Measured
		if measured == "" {
			measured = c.Reason
		}
		rows = append(rows, []string{c.ID, c.What, c.Source, string(c.Status), c.Published, measured, c.Band, c.Answer()})
	}
	p.Table([]string{"id", "what", "source", "status", "published", "computed", "must show", ""}, rows)
	p.Text("")
	p.Text(Verdict(checks))
	p.Text(NotValidated)
	return p.Markdown(w)
}
