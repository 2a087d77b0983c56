package recording

import (
	"bytes"
	"encoding/json"
)

// has tells which keys a line had.
type has uint8

const (
	hasTime has = 1 << iota
	hasButtons
	hasData
	hasControl
	hasEvent
	hasUnits
	hasFields
)

// object is one line of JSON, as far as its keys matter. It is scanned by hand
// because a million lines a second are more than encoding/json reads.
type object struct {
	has         has
	time        field // digits of a number
	control     field
	event       field
	units       field
	buttons     []bool
	data        []byte
	pad, report int64

	b []byte
	i int
}

// scan reads a line. Of one that is not JSON, or has a wrong value for a key that
// matters, it says where and what would do.
func (o *object) scan(b []byte) (at int, want string) {
	*o = object{buttons: o.buttons[:0], data: o.data[:0], b: b}
	if !o.take('{') {
		return o.i, "one JSON object in one line would do"
	}
	for first := true; !o.take('}'); first = false {
		if !first && !o.take(',') {
			return o.i, "a comma or } would do"
		}
		key, ok := o.text()
		if !ok || !o.take(':') {
			return o.i, `a key such as "t_ms": would do`
		}
		o.blank()
		at := o.i
		if want := o.value(string(key)); want != "" {
			return at, want
		}
	}
	if o.blank(); o.i < len(o.b) {
		return o.i, "nothing behind the object would do"
	}
	return 0, ""
}

// value reads the value of a key.
func (o *object) value(key string) (want string) {
	at, ok := o.i, true
	switch key {
	case "t_ms":
		o.has |= hasTime
		o.time, ok = o.number()
		want = "a number would do"
	case "units":
		o.has |= hasUnits
		o.units, ok = o.number()
		want = "a number would do"
	case "pad", "report":
		var f field
		var n int64
		if f, ok = o.number(); ok {
			n, ok = whole(f.text, 10)
		}
		if key == "pad" {
			o.pad = n
		} else {
			o.report = n
		}
		ok = ok && n >= 0 && n <= 255
		want = "a whole number from 0 to 255 would do"
	case "control":
		o.has |= hasControl
		o.control.at = at
		o.control.text, ok = o.text()
		want = "a name in quotes would do"
	case "event":
		o.has |= hasEvent
		if o.event.at = at; at < len(o.b) && o.b[at] == '"' {
			o.event.text, ok = o.text()
		} else {
			o.event, ok = o.number()
		}
		want = `"press", "release" or a signed whole number would do`
	case "buttons":
		o.has |= hasButtons
		o.buttons = o.buttons[:0]
		ok = o.array(func() bool {
			down, ok := o.down()
			o.buttons = append(o.buttons, down)
			return ok && len(o.buttons) <= maxButtons
		})
		want = "an array of up to 512 numbers from 0 to 1, or false and true, would do"
	case "data":
		o.has |= hasData
		o.data = o.data[:0]
		if at < len(o.b) && o.b[at] == '"' {
			ok = o.hexadecimal()
		} else {
			ok = o.array(func() bool {
				f, ok := o.number()
				n, is := whole(f.text, 10)
				o.data = append(o.data, byte(n))
				return ok && is && n >= 0 && n <= 255 && len(o.data) <= maxBytes
			})
		}
		want = "up to 1024 bytes, as an array of numbers from 0 to 255 or as hexadecimal digits in quotes, would do"
	case "fields":
		o.has |= hasFields
		ok = o.skip(0)
		want = "an array would do"
	default:
		ok = o.skip(0)
		want = "a JSON value would do"
	}
	if ok {
		return ""
	}
	return want
}

func (o *object) blank() {
	for o.i < len(o.b) && (o.b[o.i] == ' ' || o.b[o.i] == '\t') {
		o.i++
	}
}

// take steps over c if it comes next.
func (o *object) take(c byte) bool {
	o.blank()
	if o.i >= len(o.b) || o.b[o.i] != c {
		return false
	}
	o.i++
	return true
}

// text reads a string.
func (o *object) text() ([]byte, bool) {
	if !o.take('"') {
		return nil, false
	}
	start := o.i
	escaped := false
	for ; o.i < len(o.b); o.i++ {
		switch c := o.b[o.i]; {
		case c == '"':
			o.i++
			raw := o.b[start : o.i-1]
			if !escaped {
				return raw, true
			}
			var s string
			err := json.Unmarshal(o.b[start-1:o.i], &s)
			return []byte(s), err == nil
		case c == '\\':
			escaped = true
			o.i++
		case c < ' ':
			return nil, false
		}
	}
	return nil, false
}

// number reads the digits of a number.
func (o *object) number() (field, bool) {
	o.blank()
	start := o.i
	digits := func() bool {
		from := o.i
		for o.i < len(o.b) && o.b[o.i] >= '0' && o.b[o.i] <= '9' {
			o.i++
		}
		return o.i > from
	}
	at := func(c byte) bool { return o.i < len(o.b) && o.b[o.i] == c }
	if at('-') {
		o.i++
	}
	zero := at('0')
	if from := o.i; !digits() || zero && o.i > from+1 {
		return field{}, false
	}
	if at('.') {
		if o.i++; !digits() {
			return field{}, false
		}
	}
	if at('e') || at('E') {
		if o.i++; at('+') || at('-') {
			o.i++
		}
		if !digits() {
			return field{}, false
		}
	}
	return field{o.b[start:o.i], start}, true
}

// literal steps over a word if it comes next.
func (o *object) literal(word string) bool {
	if !bytes.HasPrefix(o.b[o.i:], []byte(word)) {
		return false
	}
	o.i += len(word)
	return true
}

// down reads how far a button is pressed: false, true, or a number from 0 to 1.
func (o *object) down() (pressed, ok bool) {
	o.blank()
	if o.literal("false") {
		return false, true
	}
	if o.literal("true") {
		return true, true
	}
	f, ok := o.number()
	if !ok {
		return false, false
	}
	n, ok := decimal(f.text, 3, false)
	return n >= 500, ok && n >= 0 && n <= 1000
}

// array reads an array whose elements are read by element.
func (o *object) array(element func() bool) bool {
	if !o.take('[') {
		return false
	}
	for first := true; !o.take(']'); first = false {
		if !first && !o.take(',') || !element() {
			return false
		}
	}
	return true
}

// hexadecimal reads bytes as pairs of digits, with or without blanks between.
func (o *object) hexadecimal() bool {
	s, ok := o.text()
	for len(s) > 0 && ok {
		if s[0] == ' ' {
			s = s[1:]
			continue
		}
		if len(s) < 2 || s[0] == '+' || s[0] == '-' {
			return false
		}
		var n int64
		n, ok = whole(s[:2], 16)
		o.data = append(o.data, byte(n))
		s = s[2:]
	}
	return ok && len(o.data) <= maxBytes
}

// skip reads any value without keeping it.
func (o *object) skip(depth int) bool {
	o.blank()
	if o.i >= len(o.b) || depth > 20 {
		return false
	}
	switch o.b[o.i] {
	case '"':
		_, ok := o.text()
		return ok
	case '[':
		return o.array(func() bool { return o.skip(depth + 1) })
	case '{':
		o.i++
		for first := true; !o.take('}'); first = false {
			if !first && !o.take(',') {
				return false
			}
			if _, ok := o.text(); !ok || !o.take(':') || !o.skip(depth+1) {
				return false
			}
		}
		return true
	}
	if o.literal("null") || o.literal("true") || o.literal("false") {
		return true
	}
	_, ok := o.number()
	return ok
}
