package recording

import (
	"bytes"
	"io"
	"strconv"
	"strings"
)

// libinput reads the YAML of libinput's recorder, in the layout of its manual
// page (libinput-record(1), "FILE FORMAT"), line by line: a list of devices, each
// with a node, a name and a list of events; of these, "evdev:" is a list of
// [seconds, microseconds, type, code, value], all decimal. Everything else is
// skipped, as the manual asks of a parser.
type libinput struct {
	*lines
	evdev
	device  *Device
	devices int
	within  bool // below events:
	inEvdev bool // below evdev: there
}

func (l *libinput) next() (Event, error) {
	for {
		if e, ok := l.pop(); ok {
			return e, nil
		}
		err := l.lines.next()
		if err == io.EOF {
			l.flush()
			if e, ok := l.pop(); ok {
				return e, nil
			}
		}
		if err != nil {
			return Event{}, err
		}
		if f := l.line(); f != nil {
			return Event{}, f
		}
	}
}

func (l *libinput) line() *Fault {
	text := bytes.TrimLeft(l.text, " \t")
	indent := len(l.text) - len(text)
	if text[0] == '#' {
		return nil
	}
	if l.inEvdev && text[0] == '-' {
		if item := bytes.TrimLeft(text[1:], " "); len(item) > 0 && item[0] == '[' {
			return l.record(item[1:], len(l.text)-len(item)+1)
		}
	}
	item := bytes.TrimPrefix(text, []byte("- "))
	key, value, _ := bytes.Cut(item, []byte(":"))
	value = bytes.TrimSpace(value)
	switch string(key) {
	case "version":
		if indent == 0 && string(value) != "1" {
			return l.at(len("version:"), &Fault{Field: "version", Found: quote(value), Want: "version 1 would do"})
		}
	case "node":
		l.begin(string(value))
	case "name":
		if l.devices == 1 && !l.within && l.device.Name == "" {
			if name := strings.Trim(string(value), `"'`); printable(name) {
				l.device.Name = name
			}
		}
	case "events":
		l.within, l.inEvdev = true, false
	case "evdev":
		l.inEvdev = l.within
		if l.within && len(value) > 0 && value[0] != '#' {
			return l.at(indent, &Fault{Field: "evdev", Found: quote(value),
				Want: "one [seconds, microseconds, type, code, value] a line, as the recorder writes it, would do"})
		}
	default:
		if l.inEvdev && text[0] == '-' && !bytes.Contains(text, []byte(":")) {
			return l.at(indent, &Fault{Field: "evdev", Found: quote(text),
				Want: "- [seconds, microseconds, type, code, value] would do"})
		}
		if text[0] == '-' {
			l.inEvdev = false
		}
	}
	return nil
}

// begin begins the next device, whose times go back to its own first event.
func (l *libinput) begin(node string) {
	if l.devices++; l.devices == 1 {
		return
	}
	l.flush()
	l.within, l.inEvdev = false, false
	l.evdev = evdev{events: l.events[l.i:]}
	if i := strings.LastIndexByte(node, '/'); i >= 0 {
		node = node[i+1:]
	}
	if node = strings.Trim(node, `"'`); node == "" || len(node) > 40 || !printable(node) {
		node = "device" + strconv.Itoa(l.devices)
	}
	l.prefix = node + "/"
}

// record reads the five numbers of a record behind its bracket, at is the byte of
// the line where they begin.
func (l *libinput) record(b []byte, at int) *Fault {
	var v [5]int64
	for i := range v {
		for len(b) > 0 && b[0] == ' ' {
			b, at = b[1:], at+1
		}
		end := 0
		for end < len(b) && (b[end] >= '0' && b[end] <= '9' || b[end] == '-') {
			end++
		}
		n, ok := whole(b[:end], 10)
		rest := bytes.TrimLeft(b[end:], " ")
		stop := byte(',')
		if i == len(v)-1 {
			stop = ']'
		}
		if !ok || len(rest) == 0 || rest[0] != stop {
			return l.at(at, &Fault{Field: "evdev", Found: quote(b), Want: "[seconds, microseconds, type, code, value] would do"})
		}
		at += len(b) - len(rest) + 1
		v[i], b = n, rest[1:]
	}
	if v[0] < 0 || v[0] >= 1<<33 || v[1] < 0 || v[1] >= 1e6 || v[2] < 0 || v[2] > 0xffff || v[3] < 0 || v[3] > 0xffff || v[4] != int64(int32(v[4])) {
		return l.at(-1, &Fault{Field: "evdev", Found: quote(l.text), Want: "numbers as an event device sends them would do"})
	}
	r := inputEventRecord{v[0]*1e9 + v[1]*1e3, uint16(v[2]), uint16(v[3]), int32(v[4])}
	if !l.started { // the recorder's times are from the first event of any of its devices already
		l.started, l.last = true, r.time
	}
	if f := l.take(r); f != nil {
		return l.at(-1, f)
	}
	return nil
}
