package main

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"dialwright/encoder/recording"
	"dialwright/scenarios/columns"
)

// screen is what a terminal of some columns shows of a text with carriage returns.
func screen(text string) []string {
	var lines []string
	for line := range strings.SplitSeq(text, "\n") {
		var row []byte
		at := 0
		for _, c := range []byte(line) {
			if c == '\r' {
				at = 0
				continue
			}
			for at >= len(row) {
				row = append(row, ' ')
			}
			row[at] = c
			at++
		}
		lines = append(lines, strings.TrimRight(string(row), " "))
	}
	return lines
}

// What the person at the knob reads, from the first request to the sum.
func TestTheCoachAsksStepByStep(t *testing.T) {
	var b bytes.Buffer
	c := &coach{ticker: ticker{w: &b}, guided: true}
	knob, err := recording.NewKnob("btn288", "btn289")
	if err != nil {
		t.Fatal(err)
	}
	steps := recording.Steps()
	slow := recording.Turned{Step: steps[0], Start: 1e9, End: 12.5e9, Counts: 24, Travel: 24}
	tell := func(n recording.Notice) {
		c.drawn = c.drawn.AddDate(-1, 0, 0) // long ago
		c.tell(n)
		c.tell(n) // and again, which changes nothing
	}
	tell(recording.Notice{})
	tell(recording.Notice{Again: true})
	tell(recording.Notice{Lesson: recording.TurnCounter})
	tell(recording.Notice{Lesson: recording.Learned, Knob: knob, Step: steps[0]})
	tell(recording.Notice{Lesson: recording.Learned, Knob: knob, Step: steps[0], Counts: 2, Travel: 2, Rate: 2, Length: 1.5e9})
	tell(recording.Notice{Lesson: recording.Learned, Knob: knob, Step: steps[0], Again: true})
	last := recording.Notice{Lesson: recording.Learned, Knob: knob, Step: steps[1], Done: []recording.Turned{slow}, Counts: 24, Travel: 26, Rate: 21, Length: 13e9, Events: 53, Dropped: 2}
	tell(last)
	if got := screen(b.String()); got[len(got)-1] != "   13.0 s      24 counts    21 a second  events lost 2 times" {
		t.Errorf("the line that changes is %q", got[len(got)-1])
	}
	c.end(last)
	c.next("knob.csv")
	var want []string
	for _, sentence := range []string{
		"Turn the knob now, clockwise, some ten detents, then let go.",
		"That was not clear. Once more, and touch nothing else: Turn the knob now, clockwise, some ten detents, then let go.",
		"Turn it back now, counter-clockwise, some ten detents, then let go.",
		"This knob: btn288 clockwise, btn289 counter-clockwise. Nothing else is recorded.",
		"1 of 17: " + steps[0].Ask,
		"1 of 17: That was too little or the wrong way. Once more: " + steps[0].Ask,
		"2 of 17: " + steps[1].Ask,
	} {
		want = append(want, strings.Split(columns.Wrap(sentence, columns.Width), "\n")...)
	}
	got := screen(b.String())
	if len(got) < len(want) || !slices.Equal(got[:len(want)], want) {
		t.Errorf("asked\n%s", strings.Join(got, "\n"))
	}
	rest := strings.Join(got[min(len(want), len(got)):], "\n")
	for _, w := range []string{"slow turn", "24", "11.50", "2.0", "53 events in 13.0 s, 26 counts in both directions, events lost 2 times.", "next: dialwright fit knob.csv"} {
		if !strings.Contains(rest, w) {
			t.Errorf("%q is not in the sum\n%s", w, rest)
		}
	}
	for _, line := range got {
		if len(line) > 80 {
			t.Errorf("%d columns: %s", len(line), line)
		}
	}
}

// Where the recording itself is on the screen, no line is written over it.
func TestTheCoachLeavesTheRecordingAlone(t *testing.T) {
	var b bytes.Buffer
	c := &coach{ticker: ticker{w: &b}, still: true}
	for range 3 {
		c.tell(recording.Notice{Lesson: recording.Learned, Counts: 1})
		c.drawn = c.drawn.AddDate(-1, 0, 0)
	}
	if got := b.String(); strings.Contains(got, "a second") || strings.Count(got, "Recording.") != 1 {
		t.Errorf("%q", got)
	}
}

func TestTheCoachIsSilentInAPipeAndWhenQuiet(t *testing.T) {
	c := newCoach(&output{streams: streams{err: &bytes.Buffer{}}})
	c.tell(recording.Notice{})
	c.end(recording.Notice{Events: 1})
	c.next("knob.csv")
	if c.w != nil {
		t.Error("it would speak")
	}
}
