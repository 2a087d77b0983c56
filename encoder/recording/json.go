package recording

import (
	"encoding/json"
	"fmt"
	"strconv"
)

// Limits of what one line of JSON may describe.
const (
	maxButtons = 512
	maxBytes   = 1024
	maxFields  = 64
)

// jsonLines reads the JSON lines that [Format] describes.
type jsonLines struct {
	*lines
	names   controls
	started bool
	origin  int64
	last    int64
	object  object // the line
	pads    map[int64][]bool
	first   int64 // the pad whose buttons carry no prefix
	reports map[int64][]byte
	fields  []signedField
	bits    map[bit]string
	units   map[string]*hiRes
	events  []Event
	i       int
}

// bit is one bit of a HID report.
type bit struct{ report, at int64 }

// signedField says which bits of a report are a signed number of counts.
type signedField struct {
	Report    int64  `json:"report"`
	At        int64  `json:"at"`
	Bits      int64  `json:"bits"`
	PerDetent int64  `json:"per_detent"`
	Control   string `json:"control"`
	rest      hiRes
}

func (j *jsonLines) next() (Event, error) {
	for j.i == len(j.events) {
		j.events, j.i = j.events[:0], 0
		if err := j.lines.next(); err != nil {
			return Event{}, err
		}
		if j.text[0] == '#' {
			continue
		}
		if f := j.line(); f != nil {
			j.events = j.events[:0]
			return Event{}, f
		}
	}
	j.i++
	return j.events[j.i-1], nil
}

func (j *jsonLines) line() *Fault {
	o := &j.object
	if at, want := o.scan(j.text); want != "" {
		return j.at(at, &Fault{Found: quote(j.text[min(at, len(j.text)):]), Want: want})
	}
	if o.has&hasFields != 0 {
		return j.declare()
	}
	if o.has&hasTime == 0 {
		return j.at(-1, &Fault{Field: "t_ms", Found: "a line without it", Want: "a number of milliseconds would do"})
	}
	t, ok := decimal(o.time.text, 6, false)
	if !ok || t > 1<<61 || t < -1<<61 {
		return j.at(o.time.at, &Fault{Field: "t_ms", Found: quote(o.time.text), Want: "a number of milliseconds would do"})
	}
	if !j.started {
		j.started, j.origin, j.last = true, t, t
	}
	if t < j.last {
		return j.at(o.time.at, &Fault{Field: "t_ms", Found: quote(o.time.text) + ", which is earlier than the line before",
			Want: "lines in the order of time would do"})
	}
	j.last = t
	t -= j.origin
	switch {
	case o.has&hasButtons != 0:
		return j.sample(t)
	case o.has&hasData != 0:
		return j.report(t)
	case o.has&hasControl != 0 && o.has&(hasEvent|hasUnits) != 0:
		return j.plain(t)
	}
	return j.at(-1, &Fault{Found: quote(j.text), Want: "buttons, data, or control with event or units would do beside t_ms"})
}

// sample compares the buttons of a pad with the sample before.
func (j *jsonLines) sample(t int64) *Fault {
	o := &j.object
	before, known := j.pads[o.pad]
	if !known {
		if len(j.pads) >= 16 {
			return j.at(-1, &Fault{Field: "pad", Found: "more than 16 pads", Want: "fewer would do"})
		}
		if j.pads == nil {
			j.pads, j.first = map[int64][]bool{}, o.pad
		}
		j.pads[o.pad] = append([]bool(nil), o.buttons...)
		return nil
	}
	for n := len(before); n < len(o.buttons); n++ {
		before = append(before, false)
	}
	prefix := ""
	if o.pad != j.first {
		prefix = "pad" + strconv.FormatInt(o.pad, 10) + "/"
	}
	for _, kind := range []Kind{Release, Press} { // as a report carries them
		for n, down := range o.buttons {
			if down != before[n] && down == (kind == Press) {
				name, f := j.names.name([]byte(prefix + "button" + strconv.Itoa(n)))
				if f != nil {
					return j.at(-1, f)
				}
				j.events = append(j.events, Event{Time: t, Control: name, Kind: kind})
			}
		}
	}
	copy(before, o.buttons)
	j.pads[o.pad] = before
	return nil
}

// report compares the bits of a HID report with the report before.
func (j *jsonLines) report(t int64) *Fault {
	o := &j.object
	if j.reports == nil {
		j.reports, j.bits = map[int64][]byte{}, map[bit]string{}
	}
	before := j.reports[o.report]
	for len(before) < len(o.data) {
		before = append(before, 0)
	}
	for i := range j.fields {
		f := &j.fields[i]
		if f.Report != o.report || f.At+f.Bits > int64(len(o.data))*8 {
			continue
		}
		v := int64(0)
		for b := range f.Bits {
			at := f.At + b
			v |= int64(o.data[at/8]>>(at%8)&1) << b
			o.data[at/8] &^= 1 << (at % 8) // not a button
		}
		v = v << (64 - f.Bits) >> (64 - f.Bits)
		if n := f.rest.add(v, f.PerDetent); n != 0 {
			j.events = append(j.events, Event{Time: t, Control: f.Control, N: n})
		}
	}
	for _, kind := range []Kind{Release, Press} {
		for i, now := range o.data {
			changed := now ^ before[i]
			if kind == Release {
				changed &^= now
			} else {
				changed &= now
			}
			for b := 0; changed != 0; b, changed = b+1, changed>>1 {
				if changed&1 == 0 {
					continue
				}
				name, f := j.bitName(bit{o.report, int64(i*8 + b)})
				if f != nil {
					return j.at(-1, f)
				}
				j.events = append(j.events, Event{Time: t, Control: name, Kind: kind})
			}
		}
	}
	copy(before, o.data)
	j.reports[o.report] = before
	return nil
}

func (j *jsonLines) bitName(b bit) (string, *Fault) {
	if s, ok := j.bits[b]; ok {
		return s, nil
	}
	s, f := j.names.name(fmt.Appendf(nil, "report%d.bit%d", b.report, b.at))
	if f == nil {
		j.bits[b] = s
	}
	return s, f
}

// plain reads a control with an event or with units.
func (j *jsonLines) plain(t int64) *Fault {
	o := &j.object
	name, f := j.names.name(o.control.text)
	if f != nil {
		return j.at(o.control.at, f)
	}
	if o.has&hasUnits != 0 {
		n, ok := decimal(o.units.text, 0, false)
		if !ok || n <= -maxCount || n >= maxCount {
			return j.at(o.units.at, &Fault{Field: "units", Found: quote(o.units.text), Want: "a whole number, 120 a detent, would do"})
		}
		if j.units == nil {
			j.units = map[string]*hiRes{}
		}
		if j.units[name] == nil {
			j.units[name] = new(hiRes)
		}
		if n = j.units[name].add(n, unitsPerDetent); n != 0 {
			j.events = append(j.events, Event{Time: t, Control: name, N: n})
		}
		return nil
	}
	kind, n, ok := event(o.event.text)
	if !ok {
		return j.at(o.event.at, &Fault{Field: "event", Found: quote(o.event.text), Want: "press, release or a signed whole number would do"})
	}
	j.events = append(j.events, Event{Time: t, Control: name, Kind: kind, N: n})
	return nil
}

// declare takes a line that says which bits are signed numbers.
func (j *jsonLines) declare() *Fault {
	var said struct {
		Fields []signedField `json:"fields"`
	}
	if err := json.Unmarshal(j.text, &said); err != nil {
		return j.at(-1, &Fault{Field: "fields", Found: err.Error(), Want: `[{"report":1,"at":8,"bits":8,"control":"dial"}] would do`})
	}
	if len(j.fields)+len(said.Fields) > maxFields {
		return j.at(-1, &Fault{Field: "fields", Found: fmt.Sprintf("%d of them", len(j.fields)+len(said.Fields)), Want: fmt.Sprintf("at most %d would do", maxFields)})
	}
	for i := range said.Fields {
		f := &said.Fields[i]
		if f.PerDetent == 0 {
			f.PerDetent = 1
		}
		if f.At < 0 || f.At > maxBytes*8 || f.Bits < 2 || f.Bits > 32 || f.PerDetent < 1 || f.PerDetent > 1<<20 || f.Report < 0 || f.Report > 255 {
			return j.at(-1, &Fault{Field: "fields", Found: fmt.Sprintf("report %d, at %d, bits %d, per_detent %d", f.Report, f.At, f.Bits, f.PerDetent),
				Want: "a report from 0 to 255, at from 0 bits on, 2 to 32 bits and per_detent from 1 would do"})
		}
		var fault *Fault
		if f.Control, fault = j.names.name([]byte(f.Control)); fault != nil {
			return j.at(-1, fault)
		}
	}
	j.fields = append(j.fields, said.Fields...)
	return nil
}
