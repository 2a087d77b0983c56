package recording

import (
	"bytes"
	"io"
	"strings"
)

// evemu reads the plain text of evemu recordings: one record a line,
// "E: seconds.microseconds type code value" with type and code in hexadecimal;
// N: is the name of the device, other letters describe it, # begins a comment
// (evemu's README, "Device Description Format" and "Event Data Format").
type evemu struct {
	*lines
	evdev
	device *Device
}

func (v *evemu) next() (Event, error) {
	for {
		if e, ok := v.pop(); ok {
			return e, nil
		}
		err := v.lines.next()
		if err == io.EOF {
			v.flush()
			if e, ok := v.pop(); ok {
				return e, nil
			}
		}
		if err != nil {
			return Event{}, err
		}
		if f := v.line(); f != nil {
			return Event{}, f
		}
	}
}

func (v *evemu) line() *Fault {
	text := v.text
	switch {
	case len(text) > 1 && text[1] == ':' && text[0] == 'E':
	case len(text) > 1 && text[1] == ':' && strings.IndexByte("IPBALS", text[0]) >= 0:
		return nil
	case len(text) > 1 && text[1] == ':' && text[0] == 'N':
		if name := string(bytes.TrimSpace(text[2:])); printable(name) && v.device.Name == "" {
			v.device.Name = name
		}
		return nil
	case bytes.HasPrefix(text, []byte("# EVEMU ")) && !bytes.HasPrefix(text, []byte("# EVEMU 1.")):
		return v.at(8, &Fault{Field: "version", Found: quote(text[8:]), Want: "format 1 would do"})
	case text[0] == '#':
		return nil
	default:
		return v.at(0, &Fault{Found: quote(text), Want: "a line that begins with E:, N:, I:, P:, B:, A:, L:, S: or # would do"})
	}
	var f [4][]byte
	var at [4]int
	i := 2
	for k := range f {
		for i < len(text) && (text[i] == ' ' || text[i] == '\t') {
			i++
		}
		at[k] = i
		for i < len(text) && text[i] != ' ' && text[i] != '\t' && text[i] != '#' {
			i++
		}
		f[k] = text[at[k]:i]
	}
	t, ok := decimal(f[0], 9, false)
	if !ok || t < 0 {
		return v.at(at[0], &Fault{Field: "time", Found: quote(f[0]), Want: "seconds.microseconds would do"})
	}
	typ, ok1 := whole(f[1], 16)
	code, ok2 := whole(f[2], 16)
	if !ok1 || !ok2 || typ < 0 || code < 0 || typ > 0xffff || code > 0xffff {
		return v.at(at[1], &Fault{Field: "type and code", Found: quote(text[at[1]:at[3]]), Want: "two hexadecimal numbers such as 0002 0008 would do"})
	}
	value, ok := whole(f[3], 10)
	if !ok || value != int64(int32(value)) {
		return v.at(at[3], &Fault{Field: "value", Found: quote(f[3]), Want: "a whole number of 32 bits would do"})
	}
	if fault := v.take(inputEventRecord{t, uint16(typ), uint16(code), int32(value)}); fault != nil {
		return v.at(at[1], fault)
	}
	return nil
}
