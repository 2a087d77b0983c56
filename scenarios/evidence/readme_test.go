package evidence

import (
	"fmt"
	"io"
	"strings"

	"dialwright/scenarios/columns"
)

// readme writes a few short paragraphs with the headline figures, as they stand in
// the README.
func readme(w io.Writer, checks []Check) error {
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
	var cited []string
	for i, p := range unread {
		switch {
		case len(p.figures) > 0:
		case i > 0 && p.what == unread[i-1].what:
			cited = append(cited, p.source)
		default:
			cited = append(cited, p.what+": "+p.source)
		}
	}
	paragraphs := []string{
		fmt.Sprintf("The simulated people were set on two published studies and then left alone. On a notched wheel (Hinckley et al., CHI 2002) real people needed %s with a constant gain and %s with an accelerated one; these need %s and %s. With 8.3, 25, 75 and 225 ms of lag (MacKenzie, Ware, INTERCHI '93) times rose as 1/1.03/1.16/1.64; here as %s.",
			publishedConstant, publishedAccelerated, first(computed("A1", 0)), first(computed("A1", 1)), computed("A2", 0)),
		fmt.Sprintf("What they were not set on: lag costs more on difficult targets, about as published (1.03 of the lag for each bit; here %s); the lag study's own times, %s, are here %s; a far number is turned to at %s (MTM-1: 12.0 detents a second on a knob of 24); with seconds of lag people move and wait (%s); the quickest gain lies between too little and too much and falls when the target gets narrower (%s); acceleration is quicker and overshoots more. A handbook gives a counter knob about 50 counts a turn (MIL-STD-1472E); for exact numbers 2 to 10 turns away, of the ladders tried on a knob of 24 detents %s, so its mean gain lies above 1. The path is checked against data sheets, standards and arithmetic. `dialwright evidence` prints it, `dialwright evidence --all` all of it. %s",
			strings.TrimPrefix(strings.Split(computed("A3", 0), ",")[0], "c = "), publishedSeconds(), first(computed("A19", 0)), first(computed("A14", 0)), first(computed("A15", 0)), computed("A4", 2), first(computed("A5", 0)), Verdict(checks)),
		notFound + " " + overshoot + " With acceleration it rests on rules of ours besides (scenarios/evidence/OPERATOR.md). " + notIncluded,
	}
	if cited != nil {
		paragraphs = append(paragraphs, "Published, not yet compared (only abstracts were read; whoever has the papers adds the figures in scenarios/evidence/unread.go): "+strings.Join(cited, "; ")+".")
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
