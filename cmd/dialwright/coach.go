package main

import (
	"fmt"
	"os"

	"golang.org/x/term"

	"dialwright/encoder/recording"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/workbench"
)

// isTerminal says whether somebody sits at the other end of a stream.
func isTerminal(stream any) bool {
	f, ok := stream.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// coach tells the person at the knob what to do and how it goes, on a terminal and
// nowhere else: sentences that stay, and below them one line that changes.
type coach struct {
	ticker // without a writer it says nothing
	guided bool
	still  bool // the recording itself goes to the terminal: no line that changes
	asked  string
	known  bool // the knob was named
}

// newCoach returns the coach of a capture; with --quiet it says nothing.
func newCoach(o *output) *coach {
	if o.quiet || !isTerminal(o.err) {
		return &coach{}
	}
	return &coach{ticker: ticker{w: o.err}, still: (o.path == "" || o.path == "-") && isTerminal(o.out)}
}

// tell takes how the capture stands.
func (c *coach) tell(n recording.Notice) {
	if c.w == nil {
		return
	}
	if n.Lesson == recording.Learned && !c.known {
		c.known = true
		c.say("This knob: " + knobText(n.Knob) + ". Nothing else is recorded.")
	}
	if ask := c.ask(n); ask != c.asked {
		c.asked = ask
		c.say(ask)
	}
	if n.Lesson == recording.Learned && !c.still && c.due() {
		c.draw(fmt.Sprintf("%7.1f s  %6d counts  %4d a second", float64(n.Length)/1e9, n.Counts, n.Rate) + lostText("  ", n.Dropped))
	}
}

// lostText says that the device lost events, behind a separator.
func lostText(sep string, n int) string {
	switch n {
	case 0:
		return ""
	case 1:
		return sep + "events lost once"
	}
	return fmt.Sprintf("%sevents lost %d times", sep, n)
}

// ask is the sentence that the person is to act upon.
func (c *coach) ask(n recording.Notice) string {
	again := ""
	switch {
	case n.Lesson != recording.Learned && n.Again:
		again = "That was not clear. Once more, and touch nothing else: "
	case n.Again:
		again = "That was too little or the wrong way. Once more: "
	}
	switch {
	case n.Lesson == recording.TurnClockwise:
		return again + "Turn the knob now, clockwise, some ten detents, then let go."
	case n.Lesson == recording.TurnCounter:
		return again + "Turn it back now, counter-clockwise, some ten detents, then let go."
	case n.Step.Name != "":
		return fmt.Sprintf("%d of %d: %s%s", len(n.Done)+1, len(recording.Steps()), again, n.Step.Ask)
	case c.guided:
		return "That was all."
	}
	return "Recording. Turn the knob as you do at work; Ctrl-C ends."
}

// say writes a sentence that stays, within the width of a terminal.
func (c *coach) say(s string) { c.ticker.say(columns.Wrap(s, widthOf(c.w))) }

// end sums up.
func (c *coach) end(n recording.Notice) {
	if c.w == nil {
		return
	}
	c.clear()
	var rows [][]string
	for _, d := range n.Done {
		took := float64(d.End-d.Start) / 1e9
		speed := "-"
		if took > 0 {
			speed = fmt.Sprintf("%.1f", float64(d.Travel-1)/took)
		}
		rows = append(rows, []string{d.Name, fmt.Sprint(d.Counts), fmt.Sprintf("%.2f", took), speed})
	}
	var p columns.Page
	if rows != nil {
		p.Table([]string{"step", "counts", "time [s]", "a second"}, rows)
		p.Text("")
	}
	if n.Events > 0 {
		p.Text(fmt.Sprintf("%d events in %.1f s, %d counts in both directions%s.", n.Events, float64(n.Length)/1e9, n.Travel, lostText(", ", n.Dropped)))
	}
	_ = p.Print(c.w, widthOf(c.w)) // what is said meanwhile may be lost
}

// next says what the recording is good for.
func (c *coach) next(path string) {
	if c.w != nil && path != "" && path != "-" {
		fmt.Fprintf(c.w, "next: dialwright fit %s\n", columns.Line(workbench.Quoted(path)))
	}
}
