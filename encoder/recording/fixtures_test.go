package recording_test

import (
	"encoding/binary"
	"fmt"
	"io"
	"strings"
	"testing"

	"dialwright/encoder/recording"

	"pgregory.net/rapid"
)

// rec is one struct input_event of a fixture.
type rec struct {
	us        int64 // µs
	typ, code uint16
	value     int32
}

func evemuText(recs []rec) string {
	var b strings.Builder
	b.WriteString("# EVEMU 1.3\nN: Quillmoor desk knob\nI: 0003 1209 0001 0111\nP: 00 00 00 00 00 00 00 00\n")
	for _, r := range recs {
		fmt.Fprintf(&b, "E: %d.%06d %04x %04x %04d\t# said in words\n", r.us/1e6, r.us%1e6, r.typ, r.code, r.value)
	}
	return b.String()
}

func libinputDevice(node string, recs []rec) string {
	var b strings.Builder
	fmt.Fprintf(&b, `- node: %s
  evdev:
    # Name: Quillmoor desk knob
    # ID: bus 0x3 vendor 0x1209 product 0x1 version 0x111
    name: "Quillmoor desk knob"
    id: [3, 4617, 1, 273]
    codes:
      0: [0, 1, 2, 3] # EV_SYN
      2: [8, 11] # EV_REL
    properties: []
  hid: [
    5, 1, 9, 2
  ]
  udev:
    properties:
    - ID_INPUT=1
  quirks:
  events:
`, node)
	frame := true
	for _, r := range recs {
		if frame {
			b.WriteString("  - hid:\n      time: [ 0, 0]\n      hidraw0: [1, 2, 3, 4]\n  - evdev:\n")
		}
		fmt.Fprintf(&b, "    - [%3d, %6d, %3d, %3d, %5d] # said in words\n", r.us/1e6, r.us%1e6, r.typ, r.code, r.value)
		frame = r.typ == 0 && r.code == 0
	}
	return b.String()
}

const libinputHead = `# libinput record
version: 1
ndevices: 1
libinput:
  version: "1.25.0"
system:
  os: "quill:1"
  kernel: "6.1.0"
devices:
`

func dump(recs []rec, size int) string {
	var b []byte
	for _, r := range recs {
		if size == 24 {
			b = binary.LittleEndian.AppendUint64(b, uint64(r.us/1e6))
			b = binary.LittleEndian.AppendUint64(b, uint64(r.us%1e6))
		} else {
			b = binary.LittleEndian.AppendUint32(b, uint32(r.us/1e6))
			b = binary.LittleEndian.AppendUint32(b, uint32(r.us%1e6))
		}
		b = binary.LittleEndian.AppendUint16(b, r.typ)
		b = binary.LittleEndian.AppendUint16(b, r.code)
		b = binary.LittleEndian.AppendUint32(b, uint32(r.value))
	}
	return string(b)
}

// jsDump makes struct js_event records of (ms, value, type, number).
func jsDump(recs ...[4]int64) string {
	var b []byte
	for _, r := range recs {
		b = binary.LittleEndian.AppendUint32(b, uint32(r[0]))
		b = binary.LittleEndian.AppendUint16(b, uint16(r[1]))
		b = append(b, byte(r[2]), byte(r[3]))
	}
	return string(b)
}

// utf16 spells ASCII in UTF-16.
func utf16(text string, order binary.AppendByteOrder, mark bool) string {
	var b []byte
	if mark {
		b = order.AppendUint16(b, 0xfeff)
	}
	for _, c := range text {
		b = order.AppendUint16(b, uint16(c))
	}
	return string(b)
}

// anyRecords draws the records of a knob: wheels with and without units, a dial,
// buttons, an axis, scan codes, lost events, reports of any length.
func anyRecords(t *rapid.T) []rec {
	us := rapid.Int64Range(1, 2e9*1e6).Draw(t, "start")
	recs := []rec{{us, 4, 4, 589825}, {us, 0, 0, 0}}
	for range rapid.IntRange(0, 20).Draw(t, "reports") {
		us += rapid.Int64Range(0, 2e6).Draw(t, "later")
		for range rapid.IntRange(0, 4).Draw(t, "records") {
			r := rec{us: us}
			switch rapid.IntRange(0, 7).Draw(t, "what") {
			case 0:
				r.typ, r.code, r.value = 2, 8, rapid.Int32Range(-3, 3).Draw(t, "notches")
			case 1:
				r.typ, r.code, r.value = 2, 11, rapid.Int32Range(-400, 400).Draw(t, "units")
			case 2:
				r.typ, r.code, r.value = 2, 7, rapid.Int32().Draw(t, "counts")
			case 3:
				r.typ, r.code, r.value = 1, rapid.Uint16Range(1, 0x2ff).Draw(t, "key"), rapid.Int32Range(0, 2).Draw(t, "state")
			case 4:
				r.typ, r.code, r.value = 3, rapid.Uint16Range(0, 0x3f).Draw(t, "axis"), rapid.Int32().Draw(t, "position")
			case 5:
				r.typ, r.code, r.value = 4, 4, rapid.Int32().Draw(t, "scan")
			case 6:
				r.typ, r.code = 0, 3
			case 7:
				r.typ, r.code, r.value = 2, 12, rapid.Int32Range(-400, 400).Draw(t, "units across")
			}
			recs = append(recs, r)
			us += rapid.Int64Range(0, 2).Draw(t, "same report")
		}
		recs = append(recs, rec{us, 0, 0, 0})
	}
	return recs
}

// read reads a whole recording and demands that it has no fault.
func read(t testing.TB, content string) ([]recording.Event, *recording.Reader) {
	t.Helper()
	r, err := recording.NewReader(strings.NewReader(content), "fixture")
	if err != nil {
		t.Fatal(err)
	}
	all, err := r.All()
	if err != nil {
		t.Fatal(err)
	}
	return all, r
}

// faulty reads a recording that has faults.
func faulty(t testing.TB, r io.Reader) ([]recording.Event, error) {
	t.Helper()
	rec, err := recording.NewReader(r, "knob.rec")
	if err != nil {
		return nil, err
	}
	return rec.All()
}
