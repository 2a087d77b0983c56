// Package follow watches one turn of a knob on its way through the path, click
// by click: what the knob did, what the firmware counted and pulsed, what polls
// and frames made of it, and where each click ended.
package follow

import (
	"fmt"
	"slices"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
)

// Detent is one click of a turn.
type Detent struct {
	At  time.Duration // of its last edge
	Dir int8          // +1 clockwise, −1 counter-clockwise
}

// Even returns n detents equally spaced, the last at the end of a time; a
// negative n turns counter-clockwise.
func Even(n int, over time.Duration) []Detent {
	dir := int8(1)
	if n < 0 {
		n, dir = -n, -1
	}
	ds := make([]Detent, n)
	for i := range ds {
		ds[i] = Detent{time.Duration(int64(over) * int64(i+1) / int64(n)), dir}
	}
	return ds
}

// Step is one step that the program applied.
type Step struct {
	At    time.Duration // when the program applied it, before the display's latency
	Dir   int8
	Count int64 // task steps
	Value int64 // the number after it, an index of the task
	Cause encoder.Cause
}

// Turn is a turn and what became of it. Times begin with the turn: where the first
// detent comes so early that something happened while the knob was on its way to it,
// before 0, all times are later by as much as makes the first edge come at 0.
type Turn struct {
	Rig     *encoder.Rig
	Task    *scenarios.Task // whose numbers the values are; nil: plain steps
	Detents []Detent
	Fates   []encoder.Fate // nil under a firmware hold
	Steps   []Step
	Account encoder.Account
	Events  []encoder.Event
}

// Run sends a turn through a path that shows a number.
func Run(s encoder.Setup, trial draw.Trial, start int64, detents []Detent) (*Turn, error) {
	p, err := encoder.NewPath(s)
	if err != nil {
		return nil, err
	}
	t := &Turn{Rig: s.Rig, Detents: detents}
	p.Trace = t.record
	p.Start(trial, start)
	last := time.Duration(-1)
	for i, d := range detents {
		if d.At <= last {
			return nil, fmt.Errorf("detent %d comes at %v, not after the one before it", i+1, d.At)
		}
		last = d.At
		p.Detent(int64(d.At), d.Dir)
	}
	p.Finish()
	if err := p.Err(); err != nil {
		return nil, err
	}
	t.close(p)
	t.fromZero()
	return t, nil
}

// firstTravel is how long the knob is on its way to the first detent (model of the
// knob, encoder).
const firstTravel = 40 * time.Millisecond

// fromZero makes all times later where one is before 0.
func (t *Turn) fromZero() {
	if !slices.ContainsFunc(t.Events, func(e encoder.Event) bool { return e.At < 0 }) {
		return
	}
	late := firstTravel - t.Detents[0].At
	t.Detents = slices.Clone(t.Detents)
	for i := range t.Detents {
		t.Detents[i].At += late
	}
	for i := range t.Steps {
		t.Steps[i].At += late
	}
	for i := range t.Events {
		t.Events[i].At += int64(late)
	}
}

func (t *Turn) record(e encoder.Event) {
	t.Events = append(t.Events, e)
	if e.Kind == encoder.Stepped {
		t.Steps = append(t.Steps, Step{time.Duration(e.At), e.Dir, e.Count, e.Value, e.Cause})
	}
}

func (t *Turn) close(p *encoder.Path) {
	t.Account = p.Account()
	if t.Rig.Firmware.Hold > 0 {
		return
	}
	for _, d := range p.Detents() {
		t.Fates = append(t.Fates, d.Fate)
	}
}
