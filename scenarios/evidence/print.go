package evidence

import (
	"fmt"
	"io"
	"strings"

	"dialwright/scenarios/columns"
)

// answer is one word for whether a check holds.
func (c Check) answer() string {
	switch {
	case c.Holds == nil:
		return "open"
	case *c.Holds:
		return "holds"
	}
	return "DOES NOT HOLD"
}

// NotValidated is what no source was found for.
const NotValidated = "Not validated: nobody has published how long a heading, a frequency or an altitude takes on a panel knob, how often such a knob overshoots, or how long it takes to grip it anew. What this program says of those rests on the studies of wheels, lag and gain above, and on the path."

// Sum counts the checks: how many there are, hold, and could not be computed.
func Sum(checks []Check) (all, hold, open int) {
	for _, c := range checks {
		switch {
		case c.Holds == nil:
			open++
		case *c.Holds:
			hold++
		}
	}
	return len(checks), hold, open
}

func verdict(checks []Check) string {
	all, hold, open := Sum(checks)
	s := fmt.Sprintf("%d of %d checks hold", hold, all)
	if broken := all - hold - open; broken > 0 {
		s += fmt.Sprintf(", %d do not", broken)
	}
	if open > 0 {
		s += fmt.Sprintf(", %d could not be computed here", open)
	}
	return s + "."
}

// Text writes the checks for a terminal of 80 columns.
func Text(w io.Writer, checks []Check) error {
	var p columns.Page
	for _, c := range checks {
		p.Text(fmt.Sprintf("%s %s: %s", c.ID, c.answer(), c.What))
		p.Item("published: " + c.Published)
		if c.Holds == nil {
			p.Item("open: " + c.Reason)
		} else {
			p.Item("computed: " + c.Measured)
		}
		p.Item("must show: " + c.Band)
		p.Item("source: " + c.Source + " (" + string(c.Status) + ")")
		p.Text("")
	}
	p.Text(verdict(checks))
	p.Text("")
	p.Text(NotValidated)
	return p.Print(w, columns.Width)
}

// Markdown writes the checks as a table.
func Markdown(w io.Writer, checks []Check) error {
	var p columns.Page
	p.Heading("Published values beside what this build computes")
	var rows [][]string
	for _, c := range checks {
		measured := c.Measured
		if c.Holds == nil {
			measured = c.Reason
		}
		rows = append(rows, []string{c.ID, c.What, c.Source, string(c.Status), c.Published, measured, c.Band, c.answer()})
	}
	p.Table([]string{"id", "what", "source", "status", "published", "computed", "must show", ""}, rows)
	p.Text("")
	p.Text(verdict(checks))
	p.Text(NotValidated)
	return p.Markdown(w)
}

// Readme writes three short paragraphs with the headline figures, as they stand in
// the README.
func Readme(w io.Writer, checks []Check) error {
	// computed returns the computed value of the n-th check of an id.
	computed := func(id string, n int) string {
		for _, c := range checks {
			if c.ID == id {
				if n == 0 {
					return strings.TrimSpace(c.Measured)
				}
				n--
			}
		}
		return "(not computed)"
	}
	first := func(s string) string { return strings.Split(s, ";")[0] }
	all, hold, open := Sum(checks)
	paragraphs := []string{
		fmt.Sprintf("The simulated people were set on two published studies and then left alone. On a notched wheel (Hinckley et al., CHI 2002) real people needed %s with a constant gain and %s with an accelerated one; these need %s and %s. With 8.3, 25, 75 and 225 ms of lag (MacKenzie, Ware, INTERCHI '93) times rose as 1/1.03/1.16/1.64; here as %s.",
			publishedConstant, publishedAccelerated, first(computed("A1", 0)), first(computed("A1", 1)), computed("A2", 0)),
		fmt.Sprintf("Everything else is a check of what was set: lag costs more on difficult targets, about as published (1.03 of the lag for each bit; here %s), the quickest gain lies between too little and too much and falls when the target gets narrower (%s), acceleration is quicker and overshoots more. A handbook gives a counter knob about 50 counts a turn (MIL-STD-1472E); a knob of 24 detents, tuned for exact numbers 2 to 10 turns away, makes %s. The path is checked against data sheets, standards and arithmetic. `dialwright evidence` prints all of it: of %d checks %d hold, %d do not, %d are open.",
			strings.TrimPrefix(strings.Split(computed("A3", 0), ",")[0], "c = "), computed("A4", 2), computed("A5", 0), all, hold, all-hold-open, open),
		NotValidated,
	}
	for i, s := range paragraphs {
		if i > 0 {
			s = "\n" + columns.Wrap(s, columns.Width)
		} else {
			s = columns.Wrap(s, columns.Width)
		}
		if _, err := fmt.Fprintln(w, s); err != nil {
			return err
		}
	}
	return nil
}
