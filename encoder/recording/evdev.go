package recording

import (
	"fmt"
	"strconv"
	"strings"
)

// Event types and codes of a Linux event device that matter to a knob
// (linux/input-event-codes.h).
const (
	evSyn = 0x00
	evKey = 0x01
	evRel = 0x02
	evAbs = 0x03

	synReport  = 0
	synDropped = 3

	relHWheel      = 0x06
	relDial        = 0x07
	relWheel       = 0x08
	relWheelHiRes  = 0x0b
	relHWheelHiRes = 0x0c
	relMax         = 0x0f

	keyMax = 0x2ff
	absMT  = 0x2f // from here on codes describe touches
	absMax = 0x3f
)

// evTypes has a bit for each event type there is: 0 to 5 and 0x11, 0x12, 0x14 to 0x17.
const evTypes = 0x3f | 1<<0x11 | 1<<0x12 | 0xf<<0x14

// unitsPerDetent is what a high-resolution wheel reports for one detent.
const unitsPerDetent = 120

// hiRes collects the units of a high-resolution wheel and keeps what does not
// make a detent.
type hiRes int64

// add returns the whole detents, towards zero.
func (h *hiRes) add(units, perDetent int64) int64 {
	*h += hiRes(units)
	detents := int64(*h) / perDetent
	*h -= hiRes(detents * perDetent)
	return detents
}

// inputEventRecord is a struct input_event without its padding.
type inputEventRecord struct {
	time  int64 // ns
	typ   uint16
	code  uint16
	value int32
}

// check refuses what no device sends.
func (r inputEventRecord) check() *Fault {
	most := uint16(keyMax)
	switch r.typ {
	case evSyn:
		most = 0x0f
	case evKey:
		if r.value < 0 || r.value > 2 {
			return &Fault{Field: "value", Found: strconv.Itoa(int(r.value)) + " for a key", Want: "0 (up), 1 (down) or 2 (repeat) would do"}
		}
	case evRel:
		most = relMax
	case evAbs:
		most = absMax
	}
	if r.typ >= 32 || 1<<r.typ&evTypes == 0 {
		return &Fault{Field: "type", Found: strconv.Itoa(int(r.typ)), Want: "a type that event devices have, 1 to 5 most often, would do"}
	}
	if r.code > most {
		return &Fault{Field: "code", Found: fmt.Sprintf("%d of type %d", r.code, r.typ), Want: fmt.Sprintf("a code up to %d would do", most)}
	}
	return nil
}

// controlName names what an event type and code stand for; see the package
// comment. Only keys, relative and absolute axes have names.
func controlName(typ, code uint16) string {
	n := strconv.Itoa(int(code))
	switch {
	case typ == evRel && (code == relWheel || code == relWheelHiRes):
		return "wheel"
	case typ == evRel && (code == relHWheel || code == relHWheelHiRes):
		return "hwheel"
	case typ == evRel && code == relDial:
		return "dial"
	case typ == evRel:
		return "rel" + n
	case typ == evAbs:
		return "abs" + n
	case typ == evKey && (code >= 0x100 && code < 0x160 || code >= 0x2c0):
		return "btn" + n
	}
	return "key" + n
}

// relative says whether a control moves by counts in both directions.
func relative(control string) bool {
	return control == "wheel" || control == "hwheel" || control == "dial" || numberedAxis(control)
}

// numberedAxis says whether a control is rel0, abs3, axis2 or the like: what a
// pointer is made of, but also some knobs.
func numberedAxis(control string) bool {
	for _, p := range []string{"rel", "abs", "axis"} {
		if n, ok := strings.CutPrefix(control, p); ok {
			_, err := strconv.Atoi(n)
			return err == nil
		}
	}
	return false
}

// maxReport is how many records of one report wait for its end. A dump without
// reports is cut into pieces of this size.
const maxReport = 256

// evdev makes events of the records of one event device. A report's events are
// given when SYN_REPORT ends it, because only then is it known whether a wheel
// has high-resolution units in it.
type evdev struct {
	prefix   string // of the names of controls
	started  bool
	origin   int64 // time of the first record
	last     int64
	skipping bool // after SYN_DROPPED, up to the next SYN_REPORT
	report   []inputEventRecord
	events   []Event // ready
	i        int     // the next of them
	names    map[uint32]string
	position [absMT]int32
	placed   [absMT]bool
	units    [2]hiRes // of wheel and hwheel
	fine     [2]bool  // the wheel has sent units: its low-resolution counts say the same again
}

// pop returns the next event that is ready.
func (d *evdev) pop() (Event, bool) {
	if d.i == len(d.events) {
		return Event{}, false
	}
	d.i++
	return d.events[d.i-1], true
}

// take takes one record.
func (d *evdev) take(r inputEventRecord) *Fault {
	if f := r.check(); f != nil {
		return f
	}
	if !d.started {
		d.started, d.origin, d.last = true, r.time, r.time
	}
	if r.time < d.last {
		return &Fault{Field: "time", Found: fmt.Sprintf("a step back by %s s", seconds(d.last-r.time)),
			Want: "a recording by the monotonic clock, without steps of the clock, would do"}
	}
	d.last = r.time
	switch {
	case r.typ == evSyn && r.code == synDropped:
		d.flush()
		d.skipping = true
		d.units = [2]hiRes{}
		d.placed = [absMT]bool{}
		d.give(Event{Time: r.time - d.origin, Kind: Dropped})
	case r.typ == evSyn && r.code == synReport && d.skipping:
		d.skipping = false
	case r.typ == evSyn && r.code == synReport:
		d.flush()
	case d.skipping || r.typ != evKey && r.typ != evRel && r.typ != evAbs:
	default:
		if d.report = append(d.report, r); len(d.report) >= maxReport {
			d.flush()
		}
	}
	return nil
}

func (d *evdev) give(e Event) {
	if d.i == len(d.events) {
		d.events, d.i = d.events[:0], 0
	}
	d.events = append(d.events, e)
}

// flush gives the events of the report.
func (d *evdev) flush() {
	for _, r := range d.report {
		if r.typ == evRel && r.code == relWheelHiRes {
			d.fine[0] = true
		} else if r.typ == evRel && r.code == relHWheelHiRes {
			d.fine[1] = true
		}
	}
	for _, r := range d.report {
		e := Event{Time: r.time - d.origin, N: int64(r.value)}
		switch r.typ {
		case evKey:
			e.Kind, e.N = [...]Kind{Release, Press, Repeat}[r.value], 0
		case evRel:
			e.N = d.counts(r)
		case evAbs:
			if r.code >= absMT {
				continue
			}
			e.N -= int64(d.position[r.code])
			if !d.placed[r.code] {
				e.N, d.placed[r.code] = 0, true
			}
			d.position[r.code] = r.value
		}
		if e.Kind == Count && e.N == 0 {
			continue
		}
		e.Control = d.name(r.typ, r.code)
		d.give(e)
	}
	d.report = d.report[:0]
}

// counts returns the counts of a relative axis, 0 for what another record of the
// report says better.
func (d *evdev) counts(r inputEventRecord) int64 {
	switch r.code {
	case relWheelHiRes:
		return d.units[0].add(int64(r.value), unitsPerDetent)
	case relHWheelHiRes:
		return d.units[1].add(int64(r.value), unitsPerDetent)
	case relWheel:
		if d.fine[0] {
			return 0
		}
	case relHWheel:
		if d.fine[1] {
			return 0
		}
	}
	return int64(r.value)
}

func (d *evdev) name(typ, code uint16) string {
	key := uint32(typ)<<16 | uint32(code)
	s, ok := d.names[key]
	if !ok {
		if d.names == nil {
			d.names = map[uint32]string{}
		}
		s = d.prefix + controlName(typ, code)
		d.names[key] = s
	}
	return s
}
