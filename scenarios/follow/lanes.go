package follow

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"dialwright/encoder"
	"dialwright/scenarios/figure"
)

// Lane is what happened at one stage of the path.
type Lane struct {
	Name  string `json:"lane"`
	Marks []Mark `json:"marks"`
}

// Mark is one thing that happened at a stage: a moment, or a stretch of time.
type Mark struct {
	From  float64 `json:"from_ms"`
	To    float64 `json:"to_ms"`
	Click int     `json:"click"`           // counted from 0; −1: none's
	Sign  string  `json:"sign,omitempty"`  // instead of the click's letter: see [Letter]
	Steps int64   `json:"steps,omitempty"` // of the value: by how much it changed
}

// Letter returns what stands for a click in the lanes. Beside letters there are * for
// a step by key repeat, # for one by the program's own repeat, ? for what belongs to
// no click, and + and − where a firmware holds its line.
func Letter(click int) string {
	if click < 0 {
		return "?"
	}
	const names = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
	return names[click%len(names):][:1]
}

// The stages, in the order of the path.
const (
	knob = iota
	count
	waits
	pulse
	poll
	frame
	value
	lost
	stages
)

var stageNames = [stages]string{"knob", "count", "waits", "pulse", "poll", "frame", "value", "lost"}

// Lanes sorts the events of the turn by stage. Stages in which nothing happened are
// left out.
func (t *Turn) Lanes() []Lane {
	lanes := make([]Lane, stages)
	for i, n := range stageNames {
		lanes[i].Name = n
	}
	held := t.Fates == nil
	put := func(stage int, e encoder.Event, sign string) {
		at := ms(time.Duration(e.At))
		lanes[stage].Marks = append(lanes[stage].Marks, Mark{From: at, To: at, Click: e.Detent, Sign: sign})
	}
	waiting := map[int][]int{}
	down := map[int]int{}
	for _, e := range t.Events {
		at := ms(time.Duration(e.At))
		switch e.Kind {
		case encoder.Turned:
			put(knob, e, "")
		case encoder.Counted:
			put(count, e, "")
		case encoder.Waits:
			waiting[e.Detent] = append(waiting[e.Detent], len(lanes[waits].Marks))
			put(waits, e, "")
		case encoder.Pressed:
			if w := waiting[e.Detent]; len(w) > 0 {
				lanes[waits].Marks[w[0]].To = at
				waiting[e.Detent] = w[1:]
			}
			down[e.Line] = len(lanes[pulse].Marks)
			sign := ""
			if held {
				sign = "+-"[e.Line&1:][:1]
			}
			put(pulse, e, sign)
		case encoder.Released:
			if i, ok := down[e.Line]; ok {
				lanes[pulse].Marks[i].To = at
			}
		case encoder.Polled:
			put(poll, e, "|")
		case encoder.Framed:
			put(frame, e, "|")
		case encoder.Stepped:
			sign := ""
			switch {
			case e.Cause == encoder.ByRepeat:
				sign = "*"
			case e.Cause == encoder.ByHold:
				sign = "#"
			case held:
				sign = "+"
			}
			put(value, e, sign)
			marks := lanes[value].Marks
			marks[len(marks)-1].Steps = int64(e.Dir) * e.Count
		case encoder.Lost:
			put(lost, e, "")
		}
	}
	return slices.DeleteFunc(lanes, func(l Lane) bool { return len(l.Marks) == 0 })
}

// tones set apart what the hand, the firmware, the computer and the losses are.
var tones = [stages]figure.Tone{figure.Ink, figure.Ink, figure.Orange, figure.Blue, figure.Quiet, figure.Quiet, figure.Green, figure.Vermilion}

// Figure draws the turn, stage by stage.
func (t *Turn) Figure() *figure.Figure {
	f := Draw(t.Lanes())
	f.Name, f.Title = "turn", fmt.Sprintf("%d clicks, stage by stage", len(t.Detents))
	f.Caption = "Every click has a letter, shown at each stage that it reached, and beside the value the steps that it made."
	return f
}

// Draw draws lanes against time.
func Draw(lanes []Lane) *figure.Figure {
	f := &figure.Figure{X: figure.Axis{Label: "time (ms)", Zero: true}}
	for i, l := range lanes {
		f.Y.Categories = append(f.Y.Categories, l.Name)
		s := figure.Spans{Tone: tones[slices.Index(stageNames[:], l.Name)]}
		for _, m := range l.Marks {
			x := figure.Span{Lane: i, From: m.From, To: m.To, Letter: m.Sign}
			switch {
			case m.Sign == "|":
				x.Letter = "" // a stroke
			case m.Sign == "":
				x.Letter = Letter(m.Click)
			}
			if m.Steps != 0 {
				x.Letter += strings.Replace(fmt.Sprintf(" %+d", m.Steps), "-", "−", 1)
			}
			s.Spans = append(s.Spans, x)
		}
		f.Marks = append(f.Marks, s)
	}
	return f
}
