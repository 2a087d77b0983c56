package fit

import (
	"iter"

	"dialwright/encoder/recording"
)

// events are those of a recording, kept small: there may be a million of them.
type events struct {
	names *[]string // of the controls
	list  []event
}

// event is a recording.Event in 16 bytes: in what, from the lowest bit, the kind in 3,
// the place of the control's name in 20, and the count in 41, which is more than a
// recording has of each.
type event struct{ at, what int64 }

const (
	kindBits, controlBits = 3, 20
	mostN                 = 1<<40 - 1
)

func pack(e recording.Event, control int) event {
	n := min(max(e.N, -mostN), mostN)
	return event{e.Time, n<<(kindBits+controlBits) | int64(control)<<kindBits | int64(e.Kind)}
}

// keeper keeps events as they come.
type keeper struct {
	events
	places map[string]int
}

func (k *keeper) keep(e recording.Event) {
	if k.places == nil {
		k.names, k.places = new([]string), map[string]int{}
	}
	place, met := k.places[e.Control]
	if !met {
		place = min(len(*k.names), 1<<controlBits-1)
		k.places[e.Control], *k.names = place, append(*k.names, e.Control)
	}
	k.list = append(k.list, pack(e, place))
}

// kept keeps all of them.
func kept(all iter.Seq[recording.Event]) events {
	var k keeper
	for e := range all {
		k.keep(e)
	}
	return k.events
}

func (s events) at(i int) recording.Event {
	e := s.list[i]
	control := e.what >> kindBits & (1<<controlBits - 1)
	return recording.Event{Time: e.at, Control: (*s.names)[control], Kind: recording.Kind(e.what & (1<<kindBits - 1)), N: e.what >> (kindBits + controlBits)}
}

// all gives them in order.
func (s events) all() iter.Seq[recording.Event] {
	return func(yield func(recording.Event) bool) {
		for i := range s.list {
			if !yield(s.at(i)) {
				return
			}
		}
	}
}

// only gives those for which something holds.
func (s events) only(holds func(recording.Event) bool) iter.Seq[recording.Event] {
	return func(yield func(recording.Event) bool) {
		for e := range s.all() {
			if holds(e) && !yield(e) {
				return
			}
		}
	}
}

// any says whether something holds for one of them.
func (s events) any(holds func(recording.Event) bool) bool {
	for range s.only(holds) {
		return true
	}
	return false
}

// part returns those from the i-th to before the j-th.
func (s events) part(i, j int) events { return events{s.names, s.list[i:j:j]} }
