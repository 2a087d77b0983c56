package fit

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/columns"
)

// Page is what was found.
func (r *Result) Page() *columns.Page {
	p := &columns.Page{}
	for _, n := range r.Notes {
		p.Text(n)
	}
	if len(r.Notes) > 0 {
		p.Text("")
	}
	if r.Counts != nil {
		r.Counts.print(p)
	}
	section := func(title string, vs Values) {
		if len(vs) > 0 {
			p.Heading(title)
			vs.print(p)
			p.Text("")
		}
	}
	if r.Counts == nil || !r.Counts.Nothing || len(r.Study.Recordings) > 0 {
		section("The rig", r.Path)
	}
	if c := r.Contacts; c != nil {
		p.Heading("What would read these contacts")
		p.Item(c.sentence())
		p.Text("")
	}
	if r.Dialed != nil {
		p.Text("Dialings: " + r.Dialed.counted() + ".")
		p.Text("")
	}
	section("The hand", r.Hand)
	if r.Dialed != nil {
		r.Dialed.print(p)
	}
	r.losses(p)
	if r.Replay != nil {
		p.Heading("Does the fit replay?")
		p.Item(r.Replay.Verdict)
		p.Text("")
	}
	p.Text(r.foot())
	return p
}

// foot says how to read the rest.
func (r *Result) foot() string {
	s := ""
	if len(r.Study.Recordings) > 0 || r.Dialed != nil {
		s = "In brackets 95 % intervals. "
	}
	if r.Dialed != nil {
		s += fmt.Sprintf("Predicted is who has what was found and the rest of the %s operator; one of twenty is missed by chance. ", r.Study.start().Name)
	}
	if r.Counts != nil {
		s += fmt.Sprintf("Counts were laid beside %d random rigs, each turned %d times. ", r.Counts.Rigs, drawsACount)
	}
	s += fmt.Sprintf("Seed %d.", r.Study.Seed)
	if r.Partial {
		s += " Partial: interrupted before the fit was replayed and all counts were looked at."
	}
	return s
}

// print writes the known values, and then the unknown ones, those with one reason
// together.
func (vs Values) print(p *columns.Page) {
	for _, v := range vs {
		if v.Known {
			p.Item(v.text() + ": " + v.Why)
		}
	}
	var said []string
	for _, v := range vs {
		if v.Known || slices.Contains(said, v.Why) {
			continue
		}
		said = append(said, v.Why)
		var keys []string
		for _, x := range vs {
			if !x.Known && x.Why == v.Why {
				keys = append(keys, x.text())
			}
		}
		p.Item("unknown: " + strings.Join(keys, ", ") + ": " + v.Why)
	}
}

// text writes a value with its interval, of an unknown one what is left of it.
func (v Value) text() string {
	if v.Word != "" {
		return v.Key + " " + v.Word
	}
	times, unit := 1.0, v.Unit
	switch v.Unit {
	case "per_s":
		unit = "/s"
	case "deg_per_s":
		unit = "deg/s"
	case "detents":
		unit = " clicks"
	case "share":
		times, unit = 100, "%"
	}
	s, low, high := v.Key, number(times*v.Low), number(times*v.High)
	if v.Known {
		s += " " + number(times*v.Value) + unit
	}
	if v.Low != v.High && low != high {
		s += " (" + low + "–" + high + unit + ")"
	}
	return s
}

// number writes three digits, and no exponent.
func number(x float64) string {
	if x == 0 {
		return "0"
	}
	unit := math.Pow(10, math.Floor(math.Log10(math.Abs(x)))-2)
	s := strconv.FormatFloat(math.Round(x/unit)*unit, 'f', max(0, -int(math.Round(math.Log10(unit)))), 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

func (c *Contacts) sentence() string {
	s := fmt.Sprintf("%d quarter steps", c.Edges)
	if c.Glitches > 0 {
		s += fmt.Sprintf(", and %d times a contact opened and closed without one", c.Glitches)
	}
	switch {
	case c.Fastest == 0:
		return s + "; how fast they must be read does not show: turn fast without a stop"
	case c.Scan == 0:
		return s + fmt.Sprintf("; the shortest states last about %s, and no scan with up to 8 equal readings tells them from chatter: a better part or a filter would do", about(c.Fastest))
	}
	readings := "without a debounce"
	if c.Debounce > 1 {
		readings = fmt.Sprintf("with debounce %d", c.Debounce)
	}
	return s + fmt.Sprintf("; the shortest states last about %s: a scan of %s %s and a table decoder would lose none", about(c.Fastest), scenarios.Spoken(c.Scan), readings)
}

// about writes a time with three digits.
func about(d time.Duration) string {
	unit := math.Pow(10, math.Floor(math.Log10(float64(max(1, d))))-2)
	return scenarios.Spoken(time.Duration(math.Round(float64(d)/unit) * max(1, unit)))
}

// losses writes lost clicks against turning speed.
func (r *Result) losses(p *columns.Page) {
	if len(r.Lost) == 0 {
		return
	}
	p.Heading("Clicks lost before the recorder")
	if r.Lost[0].Assumed {
		p.Item(fmt.Sprintf("if every turn had the slow turn's %d clicks; --turned N with the clicks of all fast turns together makes sure", r.Lost[0].Turned))
	}
	rows, more := [][]string{}, false
	for _, l := range r.Lost {
		speed := "?"
		if l.PerS > 0 {
			speed = fmt.Sprintf("%.1f", l.PerS)
		}
		lost := fmt.Sprintf("%.0f (%.0f–%.0f)", 100*l.Share, 100*l.Low, 100*l.High)
		if l.Seen > l.Turned {
			lost = tooMany(l.Seen - l.Turned)
			more = true
		}
		rows = append(rows, []string{l.Turn, speed, fmt.Sprint(l.Turned), fmt.Sprint(l.Seen), lost})
	}
	p.Table([]string{"", "clicks/s", "turned", "seen", "lost, %"}, rows)
	if more {
		p.Item("more was seen than turned: " + whyMore + ", or the number turned is not right")
	}
	p.Text("")
}

// whyMore is what gives more than was turned.
const whyMore = "a key repeat or chatter adds steps, or a click is worth more than one"

func tooMany(n int) string { return fmt.Sprintf("%d too many", n) }

// print writes what the counts say.
func (t *CountTest) print(p *columns.Page) {
	p.Heading("What was counted")
	rows := [][]string{}
	for _, c := range t.Counts {
		missing := fmt.Sprintf("%.0f", 100*(1-float64(c.Shown)/float64(c.Turned)))
		if c.Shown > c.Turned {
			missing = tooMany(c.Shown - c.Turned)
		}
		rows = append(rows, []string{strings.TrimPrefix(c.String(), "turned "), fmt.Sprintf("%.1f", float64(c.Turned)/c.Over.Seconds()), missing})
	}
	p.Table([]string{"turned", "clicks/s", "missing, %"}, rows)
	p.Text("")
	if slices.ContainsFunc(t.Counts, func(c Count) bool { return float64(c.Shown-c.Turned) > 2*misread(c.Turned) }) {
		p.Text("More was shown than turned: " + whyMore + "; set one step a click, acceleration off.")
		p.Text("")
	}
	switch {
	case !t.Explains:
		p.Text("No rig tried shows these counts. Count again, with acceleration off and one step a click; a number that runs at its end or wraps counts wrong.")
		p.Text("")
		return
	case t.Nothing:
		p.Text("Nothing is missing. Turn faster, as fast as you do at work.")
		p.Text("")
	default:
		t.links(p)
	}
	t.next(p)
	if !t.Nothing {
		p.Text("--write-rig FILE writes the likeliest of these rigs; explain says what to set on it.")
		p.Text("")
	}
}

// links writes which link is to blame, and what would explain the counts.
func (t *CountTest) links(p *columns.Page) {
	p.Heading("Which link loses most clicks")
	rows := [][]string{}
	for _, b := range t.Links {
		rows = append(rows, []string{b.Link.String(), fmt.Sprintf("%.0f", 100*b.First), fmt.Sprintf("%.0f", 100*b.Share)})
	}
	p.Table([]string{"", "probability, %", "clicks lost there, %"}, rows)
	p.Text("")
	p.Heading("For example, these rigs show such counts")
	for _, x := range t.Paths {
		if !x.Loses {
			continue
		}
		shows := []string{}
		for _, s := range x.Shows {
			shows = append(shows, fmt.Sprintf("%.0f", s))
		}
		p.Item(fmt.Sprintf("%s: %s; shows %s", x.Link, x.about(), strings.Join(shows, ", ")))
	}
	p.Text("")
}

// about writes what matters of a rig on its way from the count to the program.
func (e *Explained) about() string {
	r := &e.Rig
	parts := []string{scenarios.Get(r, "firmware.output")}
	if e.Link == scenarios.ContactAndScan {
		parts = append(parts, fmt.Sprintf("scan %s, debounce %d, bounce %s", rounded(r.Firmware.Scan), r.Firmware.Debounce, rounded(r.Knob.Bounce)))
	}
	if r.Firmware.Output.Lines() {
		parts = append(parts, fmt.Sprintf("pulse %s, gap %s, queue %d", rounded(r.Firmware.Pulse), rounded(r.Firmware.Gap), r.Firmware.Queue))
	}
	parts = append(parts, "poll "+scenarios.Spoken(r.USB.Poll))
	sampling := scenarios.Get(r, "program.sampling")
	if r.Program.Sampling == encoder.Immediate {
		return strings.Join(append(parts, "program: "+sampling), ", ")
	}
	return strings.Join(append(parts, fmt.Sprintf("%.0f frames/s, sampling %s", float64(r.Program.Frames), sampling)), ", ")
}

// rounded writes a time to the tenth of a millisecond below 10 ms, else to the
// millisecond.
func rounded(d time.Duration) string {
	if d < 10*time.Millisecond {
		return scenarios.Spoken(max(100*time.Microsecond, d.Round(100*time.Microsecond)))
	}
	return scenarios.Spoken(d.Round(time.Millisecond))
}

// next writes what to count next.
func (t *CountTest) next(p *columns.Page) {
	n := t.Next
	if n == nil || len(n.Shows) < 2 {
		if !t.Nothing {
			p.Text("No further count would tell much more; a recording would.")
			p.Text("")
		}
		return
	}
	p.Heading("What to count next")
	var shows []string
	for _, s := range n.Shows {
		shows = append(shows, fmt.Sprintf("%.0f if %s loses most", s.Steps, s.Link))
	}
	p.Item(fmt.Sprintf("turn %d clicks in %s; it would show about %s", n.Turned, seconds(n.Over), strings.Join(shows, ", ")))
	p.Text("")
}
