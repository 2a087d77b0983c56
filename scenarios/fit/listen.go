package fit

import (
	"cmp"
	"math"
	"slices"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/encoder/recording"
)

// listener hears what a path's event device would report: what the USB polls
// carried, and the system's key repeats.
type listener struct {
	rig   *encoder.Rig
	heard []encoder.Event
}

// hear is a path's Trace.
func (l *listener) hear(e encoder.Event) {
	switch e.Kind {
	case encoder.Counted, encoder.Pressed, encoder.Released, encoder.Polled:
		l.heard = append(l.heard, e)
	}
}

// rank is the order of the stages at one instant. Presses and releases keep the
// order in which the firmware made them.
func rank(k encoder.Kind) int {
	switch k {
	case encoder.Counted:
		return 0
	case encoder.Polled:
		return 2
	}
	return 1
}

// The controls of a simulated recording, clockwise first.
var simulatedControls = map[encoder.Output][2]string{
	encoder.Buttons:    {"btn288", "btn289"},
	encoder.Keys:       {"key30", "key48"},
	encoder.Relative:   {"dial", "dial"},
	encoder.AxisOutput: {"abs8", "abs8"},
}

// recorded returns the events of a recording. Time stamps come late by a normal
// time of this SD (its size, so never early), and have whole microseconds, as
// those of an event device.
func (l *listener) recorded(source draw.Trial, stampSD int64) []recording.Event {
	slices.SortStableFunc(l.heard, func(a, b encoder.Event) int {
		return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(rank(a.Kind), rank(b.Kind)))
	})
	t := transcript{controls: simulatedControls[l.rig.Firmware.Output], late: source.Stream(stampNoise), sd: stampSD}
	if l.rig.Firmware.Output == encoder.Keys && l.rig.System.Repeat.Rate > 0 {
		t.delay, t.period = int64(l.rig.System.Repeat.Delay), int64(l.rig.System.Repeat.Rate.Period())
	}
	perCount := int64(max(1, l.rig.Firmware.CountsPerDetent))
	if l.rig.Firmware.Output == encoder.AxisOutput {
		perCount = int64(l.rig.Firmware.Axis.CountsPerDetent)
	}
	relative := !l.rig.Firmware.Output.Lines()
	var unsent int64
	level := -1 // the line that the firmware has pressed
	var queued []encoder.Event
	for _, e := range l.heard {
		switch {
		case e.Kind == encoder.Counted:
			unsent += int64(e.Dir) * perCount
		case e.Kind == encoder.Pressed || e.Kind == encoder.Released:
			if level = -1; e.Kind == encoder.Pressed {
				level = e.Line
			}
			queued = append(queued, e)
		case relative:
			if unsent != 0 {
				t.write(e.At, recording.Event{Control: t.controls[0], Kind: recording.Count, N: unsent})
			}
			unsent = 0
		case l.rig.USB.Reports == encoder.QueuedReports:
			if len(queued) > 0 {
				level := queued[0].Line
				if queued[0].Kind == encoder.Released {
					level = -1
				}
				t.carry(e.At, level)
				queued = queued[1:]
			}
		default:
			t.carry(e.At, level)
			queued = queued[:0]
		}
	}
	t.repeat(math.MaxInt64)
	return t.events
}

// The streams that simulated recordings draw from.
const (
	stampNoise = draw.Recording + iota
	strokeNoise
	sessionPlan
	countNoise
	familyDraw
)

// transcript turns what polls carry into events.
type transcript struct {
	controls      [2]string
	delay, period int64 // key repeat; period 0 is none
	late          draw.Stream
	sd            int64

	events   []recording.Event
	stamped  int64
	down     int   // the line that is down, with 1 added; 0 is none
	repeatAt int64 // of the key that is down
}

// carry takes the level of a poll: the line that is down, or −1.
func (t *transcript) carry(at int64, line int) {
	if line+1 == t.down {
		return
	}
	t.repeat(at)
	if t.down > 0 {
		t.write(at, recording.Event{Control: t.controls[(t.down-1)&1], Kind: recording.Release})
	}
	if t.down = line + 1; line >= 0 {
		t.write(at, recording.Event{Control: t.controls[line&1], Kind: recording.Press})
		t.repeatAt = at + t.delay
	}
}

// repeat writes the key repeats before an instant.
func (t *transcript) repeat(before int64) {
	if t.down == 0 || t.period == 0 || before == math.MaxInt64 {
		return
	}
	for ; t.repeatAt < before; t.repeatAt += t.period {
		t.write(t.repeatAt, recording.Event{Control: t.controls[(t.down-1)&1], Kind: recording.Repeat})
	}
}

// write stamps an event. Events of one report have one stamp.
func (t *transcript) write(at int64, e recording.Event) {
	if n := len(t.events); n == 0 || at != t.stamped {
		late := t.late.Normal(int64(n)) * t.sd >> 20
		e.Time = (at + max(late, -late)) / 1000 * 1000
		if n > 0 {
			e.Time = max(e.Time, t.events[n-1].Time)
		}
	} else {
		e.Time = t.events[n-1].Time
	}
	t.stamped = at
	t.events = append(t.events, e)
}
