package export

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"

	"dialwright/accel"
	"dialwright/scenarios"
)

// brief says in a few words what a profile sets: the last word of each key, and where
// the acceleration is.
func brief(p *scenarios.Profile) []string {
	var list []string
	for _, s := range p.Settings {
		_, key, _ := strings.Cut(s.Key, ".")
		list = append(list, strings.ReplaceAll(key, ".", " ")+" "+spaced(s.Value))
	}
	if !p.Acceleration.Plain() {
		list = append(list, accel.KindOf(p.Acceleration.Curve).Word+" curve in the "+p.Home.String())
	}
	if p.PressCoarse > 0 {
		list = append(list, fmt.Sprintf("push for %d", p.PressCoarse))
	}
	return list
}

// spaced parts a number from its unit.
func spaced(value string) string {
	i := strings.IndexFunc(value, func(r rune) bool { return !unicode.IsDigit(r) && r != '.' && r != '-' })
	if i <= 0 {
		return value
	}
	return value[:i] + " " + value[i:]
}

// tightLetters is from how many letters on a row has no room to say the unit twice.
const tightLetters = 16

// mostRows is how many rows a card has room for.
const mostRows = 4

// Row is a line of a printed card.
type Row struct{ Name, Slow, Quick, Takes string }

// Leaf is one printed card of a knob; a knob with many tasks has several.
type Leaf struct {
	*KnobCard
	Part string // "1 of 2", or ""
	Rows []Row
	Rate string // of the quick clicks
}

// Leaves are the printed cards of a knob.
func (k *KnobCard) Leaves() []Leaf {
	var rows []Row
	low, high := 0, 0
	for _, t := range k.Tasks {
		if len(t.Dials) == 0 {
			rows = append(rows, Row{t.Name, "–", "–", t.Takes})
		}
		for i, d := range t.Dials {
			r := Row{Name: t.Name, Slow: d.Slow, Quick: d.Quick, Takes: t.Takes}
			if i > 0 {
				r.Takes = ""
			}
			if d.Ring != "" {
				r.Name = d.Ring + " ring"
				if len(k.Tasks) > 1 {
					r.Name = t.Name + ", " + d.Ring
				}
			}
			rows = append(rows, r)
			if low == 0 || d.Rate < low {
				low = d.Rate
			}
			high = max(high, d.Rate)
		}
	}
	// Where a row has no room to say the unit twice, no row does.
	if slices.ContainsFunc(rows, func(r Row) bool { return len(r.Slow)+len(r.Quick) > tightLetters }) {
		for i, r := range rows {
			if at := strings.LastIndex(r.Quick, " "); at > 0 && strings.HasSuffix(r.Slow, r.Quick[at:]) {
				rows[i].Quick = r.Quick[:at]
			}
		}
	}
	rate := fmt.Sprintf("slow %d, quick %d clicks/s", slowRate, high)
	switch {
	case high == 0:
		rate = ""
	case low != high:
		rate = fmt.Sprintf("slow %d, quick %d to %d clicks/s", slowRate, low, high)
	}
	var list []Leaf
	parts := (len(rows) + mostRows - 1) / mostRows
	for i := range parts {
		l := Leaf{KnobCard: k, Rows: rows[i*mostRows : min(len(rows), (i+1)*mostRows)], Rate: rate}
		if parts > 1 {
			l.Part = fmt.Sprintf("%d of %d", i+1, parts)
		}
		list = append(list, l)
	}
	return list
}

// Habit is the one thing worth getting used to on a knob: what costs most first.
func (k *KnobCard) Habit() string {
	past, lost, times, rate, name := 0.0, 0.0, 1.0, speeds[0], ""
	for _, t := range k.Tasks {
		if t.Overshoot > past {
			past, name = t.Overshoot, t.Name
		}
		lost = max(lost, t.Lost)
		for _, d := range t.Dials {
			times, rate = max(times, d.Times), min(rate, d.Rate)
		}
	}
	in100 := func(share float64) int { return int(math.Round(100 * share)) }
	switch {
	case in100(lost) >= 5:
		return fmt.Sprintf("%d in 100 clicks are lost: go by the number, not by the clicks.", in100(lost))
	case rate < speeds[2]:
		return fmt.Sprintf("Turn no faster than %d clicks a second: quicker ones are lost or come late.", rate)
	case in100(past) >= 10:
		return fmt.Sprintf("%d in 100 turns to %s run past: slow down before the end.", in100(past), name)
	case times >= 3:
		return "Flick for the way, click by click for the end."
	}
	return "Turn in long strokes: no click is lost here."
}

// Short is the beginning of the digest.
func (c *Card) Short() string { return c.Digest[:min(8, len(c.Digest))] }

// title begins a name with a capital letter.
func title(name string) string {
	letters := []rune(name)
	if len(letters) > 0 {
		letters[0] = unicode.ToUpper(letters[0])
	}
	return string(letters)
}
