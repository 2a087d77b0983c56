package fit

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"dialwright/encoder/recording"
)

// Recording is what was read of one file, ready to be fitted: the events of one
// knob, or the levels of its contacts.
type Recording struct {
	Name    string
	Device  recording.Device
	Knob    recording.Knob // the zero Knob where contacts were recorded
	Dropped int            // times that the recorder lost events
	Others  []string       // controls that moved too and were left out
	About   string         // a sentence on where it comes from; may be empty

	events events // of the knob, or of the contacts; and marks
}

// mostEvents is how many events of a recording are used; a fit of so many takes some
// 100 MB. A knob makes that many in hours of turning.
const mostEvents = 1_000_000

// Read reads a recording. The knob's controls are those named (as for
// recording.NewKnob), or without names those that moved most. Faults in the file
// come back joined beside what could be read; the recording is nil where nothing
// could.
func Read(r *recording.Reader, name string, controls ...string) (*Recording, error) {
	var all keeper
	var faults []error
	for len(faults) < 20 && len(all.list) < mostEvents {
		e, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			faults = append(faults, err)
			if f := (*recording.Fault)(nil); !errors.As(err, &f) {
				break
			}
			continue
		}
		all.keep(e)
	}
	heard, err := recordingOf(name, r.Device, all.events, controls...)
	if err != nil {
		return nil, errors.Join(append(faults, err)...)
	}
	if len(all.list) == mostEvents {
		heard.About = fmt.Sprintf("its first %d events are used, and nothing behind them", mostEvents)
	}
	if r.Partial != "" && heard.About == "" {
		heard.About = fmt.Sprintf("ended early (%s); what came before is used", r.Partial)
	}
	return heard, errors.Join(faults...)
}

// newRecording is recordingOf of simulated events.
func newRecording(name string, d recording.Device, all []recording.Event, controls ...string) (*Recording, error) {
	return recordingOf(name, d, kept(slices.Values(all)), controls...)
}

// recordingOf sorts out whose events these are. They are its own from here on.
func recordingOf(name string, d recording.Device, all events, controls ...string) (*Recording, error) {
	r := &Recording{Name: name, Device: d}
	turns, others := movers(all)
	contacts := all.any(func(e recording.Event) bool { return e.Kind == recording.Level })
	var err error
	switch {
	case len(controls) > 0:
		if r.Knob, err = recording.NewKnob(controls...); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
	case contacts:
	case len(turns) == 0:
		return nil, fmt.Errorf("%s: nothing in it turns; a recording of a wheel or dial, of two buttons or keys, or of two contacts would do", name)
	default:
		r.Knob = theKnob(all, turns)
	}
	r.events = all.part(0, 0)
	own := all.list[:0]
	for i, e := range all.list {
		x := all.at(i)
		switch {
		case x.Kind == recording.Dropped:
			r.Dropped++
		case x.Kind == recording.Mark, contacts && len(controls) == 0 && x.Kind == recording.Level, r.Knob.Uses(x.Control):
			own = append(own, e)
		}
	}
	r.events.list = own
	for _, c := range others {
		if !contacts && !r.Knob.Uses(c) {
			r.Others = append(r.Others, c)
		}
	}
	return r, nil
}

// Contacts says whether the recording is a trace of contact levels.
func (r *Recording) Contacts() bool { return r.Knob == recording.Knob{} }

// pointing are the controls that move when a mouse or a stick is touched; they are
// the knob only where nothing else moved much.
func pointing(control string) bool {
	c := control[strings.LastIndexByte(control, '/')+1:]
	return strings.HasPrefix(c, "rel") || strings.HasPrefix(c, "abs") || strings.HasPrefix(c, "axis")
}

// fewMoves is how many movements a wheel or a button may make by accident.
const fewMoves = 6

// movers lists the turns that events may be, the most moved first, and all
// controls that moved.
func movers(all events) (turns []recording.Direction, controls []string) {
	moves := map[recording.Direction]int{}
	for e := range all.all() {
		t := recording.Direction{Control: e.Control}
		switch {
		case e.Kind == recording.Press:
		case e.Kind == recording.Count && e.N != 0:
			t.Sign = 1
		default:
			continue
		}
		if moves[t]++; moves[t] == 1 {
			turns = append(turns, t)
			controls = append(controls, e.Control)
		}
	}
	clear := slices.ContainsFunc(turns, func(t recording.Direction) bool { return !pointing(t.Control) && moves[t] >= fewMoves })
	slices.SortFunc(turns, func(a, b recording.Direction) int {
		if clear && pointing(a.Control) != pointing(b.Control) {
			if pointing(a.Control) {
				return 1
			}
			return -1
		}
		return cmp.Or(moves[b]-moves[a], strings.Compare(a.Control, b.Control))
	})
	slices.Sort(controls)
	return turns, slices.Compact(controls)
}

// theKnob takes what moved most for the knob: a control that counts, or the two
// buttons that were pressed most. Clockwise is the way of a session's slow turn,
// else the button that comes first in the alphabet.
func theKnob(all events, turns []recording.Direction) recording.Knob {
	first := turns[0]
	if first.Sign != 0 {
		return recording.Knob{Clockwise: first, Counter: recording.Direction{Control: first.Control, Sign: -1}}
	}
	k := recording.Knob{Clockwise: first}
	for _, t := range turns[1:] {
		if t.Sign == 0 {
			k.Counter = t
			break
		}
	}
	slow := false
	for e := range all.all() {
		if e.Kind == recording.Mark {
			slow = strings.HasPrefix(e.Control, "slow")
		} else if slow && e.Kind == recording.Press && (e.Control == k.Clockwise.Control || e.Control == k.Counter.Control) {
			if e.Control == k.Counter.Control {
				k.Clockwise, k.Counter = k.Counter, k.Clockwise
			}
			return k
		}
	}
	if k.Counter.Control != "" && k.Counter.Control < k.Clockwise.Control {
		k.Clockwise, k.Counter = k.Counter, k.Clockwise
	}
	return k
}

// kind is what a part of a recording was made for.
type kind uint8

const (
	free kind = iota // nobody said
	slowTurn
	fastTurn
	dialing
)

// span is a part of a recording: a step of a guided session, or all of a
// recording without marks.
type span struct {
	name   string
	kind   kind
	events events
}

// spans cuts a recording at its marks. Of a step that was done again the last
// time counts.
func (r *Recording) spans() []span {
	var all []span
	current, from := span{}, 0
	end := func(to int) {
		if current.events = r.events.part(from, to); from == to {
			return
		}
		if i := slices.IndexFunc(all, func(s span) bool { return s.name == current.name && s.name != "" }); i >= 0 {
			all = slices.Delete(all, i, i+1)
		}
		all = append(all, current)
	}
	for i := range r.events.list {
		e := r.events.at(i)
		if e.Kind != recording.Mark {
			continue
		}
		end(i)
		current, from = span{name: e.Control}, i+1
		switch {
		case strings.HasPrefix(e.Control, "slow turn"):
			current.kind = slowTurn
		case strings.HasPrefix(e.Control, "fast turn"):
			current.kind = fastTurn
		case strings.HasPrefix(e.Control, "dial and stop"):
			current.kind = dialing
		}
	}
	end(len(r.events.list))
	return all
}

// guided says whether a recording is of a guided session.
func guided(spans []span) bool {
	return slices.ContainsFunc(spans, func(s span) bool { return s.kind == slowTurn || s.kind == fastTurn })
}
