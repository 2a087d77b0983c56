package recording

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"strconv"
)

// inputEvent reads a struct input_event of 24 or 16 bytes, little-endian: seconds
// and microseconds in 8 or 4 bytes each, type and code in 2, value in 4.
func inputEvent(b []byte) (inputEventRecord, *Fault) {
	var sec, usec uint64
	switch len(b) {
	case 24:
		sec, usec = binary.LittleEndian.Uint64(b), binary.LittleEndian.Uint64(b[8:])
	default:
		sec, usec = uint64(binary.LittleEndian.Uint32(b)), uint64(binary.LittleEndian.Uint32(b[4:]))
	}
	b = b[len(b)-8:]
	if sec >= 1<<33 {
		return inputEventRecord{}, &Fault{Field: "time", Found: fmt.Sprintf("%d s", sec), Want: "seconds below 2^33 would do"}
	}
	if usec >= 1e6 {
		return inputEventRecord{}, &Fault{Field: "time", Found: fmt.Sprintf("%d µs", usec), Want: "microseconds below a million would do"}
	}
	r := inputEventRecord{
		time:  int64(sec)*1e9 + int64(usec)*1e3,
		typ:   binary.LittleEndian.Uint16(b),
		code:  binary.LittleEndian.Uint16(b[2:]),
		value: int32(binary.LittleEndian.Uint32(b[4:])),
	}
	return r, r.check()
}

// record returns the next record of a dump and moves the offset behind it.
func record(r *bufio.Reader, file string, offset *int64, size int) ([]byte, error) {
	b, err := r.Peek(size)
	if len(b) == size {
		r.Discard(size) // b stays valid until the next read
		*offset += int64(size)
		return b, nil
	}
	if err != io.EOF {
		return nil, fmt.Errorf("%s: byte %d: reading: %w", file, *offset, err)
	}
	if len(b) == 0 {
		return nil, io.EOF
	}
	f := &Fault{File: file, Offset: *offset, Found: fmt.Sprintf("%d bytes", len(b)),
		Want: fmt.Sprintf("records of %d bytes would do", size), Err: io.ErrUnexpectedEOF}
	r.Discard(len(b))
	return nil, f
}

// dump reads records of struct input_event.
type dump struct {
	evdev
	file   string
	r      *bufio.Reader
	size   int
	offset int64
}

func (d *dump) next() (Event, error) {
	for {
		if e, ok := d.pop(); ok {
			return e, nil
		}
		b, err := record(d.r, d.file, &d.offset, d.size)
		if err == io.EOF {
			d.flush()
			if e, ok := d.pop(); ok {
				return e, nil
			}
		}
		if err != nil {
			return Event{}, err
		}
		r, f := inputEvent(b)
		if f == nil {
			f = d.take(r)
		}
		if f != nil {
			f.File, f.Offset = d.file, d.offset-int64(d.size)
			return Event{}, f
		}
	}
}

// jsRecord is a struct js_event.
type jsRecord struct {
	ms     uint32
	value  int16
	axis   bool
	first  bool // tells how things stood when the device was opened
	number uint8
}

// jsEvent reads a struct js_event: time in ms in 4 bytes, value in 2, type (1
// button, 2 axis, with 0x80 the state at the start) and number in 1 each.
func jsEvent(b []byte) (jsRecord, *Fault) {
	r := jsRecord{
		ms:     binary.LittleEndian.Uint32(b),
		value:  int16(binary.LittleEndian.Uint16(b[4:])),
		axis:   b[6]&0x7f == 2,
		first:  b[6]&0x80 != 0,
		number: b[7],
	}
	if !r.axis && b[6]&0x7f != 1 {
		return r, &Fault{Field: "type", Found: strconv.Itoa(int(b[6])), Want: "1 (button) or 2 (axis) would do"}
	}
	if !r.axis && r.value != 0 && r.value != 1 {
		return r, &Fault{Field: "value", Found: strconv.Itoa(int(r.value)) + " for a button", Want: "0 or 1 would do"}
	}
	return r, nil
}

// joystick reads records of struct js_event.
type joystick struct {
	file    string
	r       *bufio.Reader
	offset  int64
	started bool
	lastMs  uint32
	now     int64 // ns from the first record
	axis    [256]int16
	placed  [256]bool
	names   [2][256]string
}

func (j *joystick) next() (Event, error) {
	for {
		b, err := record(j.r, j.file, &j.offset, 8)
		if err != nil {
			return Event{}, err
		}
		r, f := jsEvent(b)
		if !j.started && f == nil {
			j.started, j.lastMs = true, r.ms
		}
		passed := r.ms - j.lastMs // wraps around with the clock
		if f == nil && passed > 1<<31 {
			f = &Fault{Field: "time", Found: fmt.Sprintf("%d ms after %d ms", r.ms, j.lastMs), Want: "records in the order of time would do"}
		}
		if f != nil {
			f.File, f.Offset = j.file, j.offset-8
			return Event{}, f
		}
		j.lastMs = r.ms
		j.now += int64(passed) * 1e6
		if e, ok := j.event(r); ok {
			return e, nil
		}
	}
}

func (j *joystick) event(r jsRecord) (Event, bool) {
	if !r.axis {
		kind := Release
		if r.value == 1 {
			kind = Press
		}
		return Event{Time: j.now, Control: j.name(0, "button", r.number), Kind: kind}, !r.first
	}
	moved := int64(r.value) - int64(j.axis[r.number])
	known := j.placed[r.number]
	j.axis[r.number], j.placed[r.number] = r.value, true
	return Event{Time: j.now, Control: j.name(1, "axis", r.number), N: moved}, known && !r.first && moved != 0
}

func (j *joystick) name(kind int, word string, n uint8) string {
	if j.names[kind][n] == "" {
		j.names[kind][n] = word + strconv.Itoa(int(n))
	}
	return j.names[kind][n]
}
