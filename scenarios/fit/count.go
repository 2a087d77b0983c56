package fit

import (
	"fmt"
	"regexp"
	"strconv"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
)

// Count is a count test: so many clicks were turned in such a time, and the number
// on the screen moved by so many steps.
type Count struct {
	Turned int
	Over   time.Duration
	Shown  int
}

// String writes a count as ParseCount reads it.
func (c Count) String() string {
	return fmt.Sprintf("turned %d in %s shown %d", c.Turned, seconds(c.Over), c.Shown)
}

// seconds writes a time as a person at the knob thinks of it.
func seconds(d time.Duration) string {
	if d >= time.Second && d%time.Millisecond == 0 {
		return strconv.FormatFloat(d.Seconds(), 'f', -1, 64) + "s"
	}
	return scenarios.TimeText(d)
}

var countForm = regexp.MustCompile(`(?i)^\s*turned\s+(\d{1,6})(?:\s+clicks)?\s+in\s+([0-9.]+)\s*([a-zµ]*),?\s+shown\s+(\d{1,7})\s*$`)

// Bounds of a count test; ours.
const (
	mostTurned  = 1000
	longestTurn = 10 * time.Minute
	fastestTurn = 400 // detents a second; nobody turns faster
)

// ParseCount reads "turned 48 in 1.6s shown 31"; "turned 48 clicks in 1.6 s, shown 31"
// is the same.
func ParseCount(text string) (Count, error) {
	m := countForm.FindStringSubmatch(text)
	if m == nil {
		return Count{}, fmt.Errorf("%s; 'turned 48 in 1.6s shown 31' would do", scenarios.Shown(text))
	}
	var c Count
	c.Turned, _ = strconv.Atoi(m[1]) // the form has digits only, few enough
	c.Shown, _ = strconv.Atoi(m[4])
	if c.Turned < 1 || c.Turned > mostTurned {
		return c, fmt.Errorf("turned %d; 1 to %d clicks would do", c.Turned, mostTurned)
	}
	if m[3] == "" {
		return c, fmt.Errorf("in %s: no unit; %ss would do", m[2], m[2])
	}
	var err error
	if c.Over, err = scenarios.ParseTime(m[2] + m[3]); err != nil {
		return c, fmt.Errorf("in %w", err)
	}
	if c.Over > longestTurn || c.Over < time.Duration(c.Turned)*time.Second/fastestTurn {
		return c, fmt.Errorf("turned %d in %s; at least %s and at most %s would do", c.Turned, seconds(c.Over),
			scenarios.TimeText(time.Duration(c.Turned)*time.Second/fastestTurn), scenarios.TimeText(longestTurn))
	}
	if c.Shown > 100*c.Turned {
		return c, fmt.Errorf("shown %d of %d clicks; turn with acceleration off, one step a click", c.Shown, c.Turned)
	}
	return c, nil
}

// tempo is how a count test is turned, whatever it shows.
type tempo struct {
	turned int
	over   time.Duration
}

func (c Count) tempo() tempo { return tempo{c.Turned, c.Over} }

// losing is the links that may lose clicks, in the order of the path.
var losing = []scenarios.Link{scenarios.ContactAndScan, scenarios.PulsesAndQueue, scenarios.USBPoll, scenarios.ProgramSampling}

// linkOf returns the link that a fate is lost at, or false for a step that was
// delivered or clipped.
func linkOf(f encoder.Fate) (scenarios.Link, bool) {
	switch f {
	case encoder.Illegal:
		return scenarios.ContactAndScan, true
	case encoder.QueueDropped, encoder.Cleared:
		return scenarios.PulsesAndQueue, true
	case encoder.PollMissed, encoder.MergedAtPoll:
		return scenarios.USBPoll, true
	case encoder.FrameMissed, encoder.MergedAtFrame:
		return scenarios.ProgramSampling, true
	}
	return 0, false
}

// turnsOf returns when each click of a count test comes. An unbroken spin is evenly
// spaced, and so is what is slower than five clicks a second. Otherwise strokes of 5
// to 14 clicks have minimum-jerk timing and regrips between them, for a fifth to two
// fifths of the time, if that leaves room for one. Nobody keeps the time or the pace
// exactly.
func (t tempo) turnsOf(noise draw.Stream, spin bool) []int64 {
	i := int64(0)
	unit := func() float64 { i++; return float64(noise.Unit(i)) / draw.Share }
	normal := func() float64 { i++; return float64(noise.Normal(i)) / draw.One }
	over := float64(t.over) * max(0.8, 1+0.05*normal())
	n := t.turned
	at := make([]int64, 0, n)
	begin := 1e9
	if spin || over/float64(n) > 200e6 {
		for k := range n {
			at = append(at, int64(begin+over*(float64(k)+0.3*(unit()-0.5))/float64(n)))
		}
		return rising(at)
	}
	stroke := 5 + int(unit()*10)
	parts := (n + stroke - 1) / stroke
	pause := 0.0
	if parts > 1 {
		if room := (0.2 + 0.2*unit()) * over / float64(parts-1); room > 100e6 {
			pause = min(room, 400e6)
		} else if parts = 1 + int((0.2+0.2*unit())*over/150e6); parts > 1 {
			pause = 150e6
		}
	}
	moving := over - pause*float64(parts-1)
	done := 0
	weights := make([]float64, parts)
	sum := 0.0
	for p := range weights {
		weights[p] = max(0.5, 1+0.12*normal())
		sum += weights[p]
	}
	for p := range parts {
		m := (n - done) / (parts - p)
		lasts := moving * weights[p] / sum
		for k := range m {
			x := (float64(k) + 0.5) / float64(m)
			if m <= 14 { // a longer one has no room for a regrip
				x = jerkTime(x)
			}
			at = append(at, int64(begin+lasts*x))
		}
		begin += lasts + pause
		done += m
	}
	return rising(at)
}

// rising makes times strictly increasing.
func rising(at []int64) []int64 {
	for k := 1; k < len(at); k++ {
		at[k] = max(at[k], at[k-1]+1e5)
	}
	return at
}

// outcome is what one count test comes to on one rig.
type outcome struct {
	shown int
	lost  [scenarios.Links]int
}

// tried turns a count test on a path.
func tried(path *encoder.Path, t tempo, source draw.Trial, spin bool) outcome {
	path.Start(source, 0)
	for _, at := range t.turnsOf(source.Stream(countNoise), spin) {
		path.Detent(at, +1)
	}
	return outcomeOf(path)
}

// outcomeOf ends a count test and counts.
func outcomeOf(path *encoder.Path) outcome {
	path.Finish()
	o := outcome{}
	if c := path.Changes(); len(c) > 0 {
		o.shown = int(max(c[len(c)-1].Value, -c[len(c)-1].Value))
	}
	for _, d := range path.Detents() {
		if l, lost := linkOf(d.Fate); lost {
			o.lost[l]++
		}
	}
	return o
}
