package recording

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"
	"testing/iotest"
)

// readsSafely reads everything that a format makes of a file, goes on after every
// fault, and holds the laws of all importers: the end is reached; a fault names its
// place; times do not go back (but where a further device begins); a Writer takes
// every event and a Reader gives it back; a byte of the file gives few events.
func readsSafely(t *testing.T, s source, size int, devices bool) {
	t.Helper()
	var out bytes.Buffer
	w := NewWriter(&out, Device{})
	var all []Event
	for calls := 0; ; calls++ {
		if calls > 8*size+16 {
			t.Fatalf("%d calls for %d bytes", calls, size)
		}
		e, err := s.next()
		if err == io.EOF {
			break
		}
		if f := (*Fault)(nil); errors.As(err, &f) {
			if f.File != "fuzz" || f.Line < 0 || f.Line == 0 && f.Column != 0 || f.Offset < 0 || f.Offset > int64(size) || f.Found == "" ||
				f.Want == "" || len(f.Error()) > 500 {
				t.Fatalf("fault %+v", f)
			}
			continue
		}
		if err != nil {
			t.Fatalf("an error that is no fault: %v", err)
		}
		if devices && len(all) > 0 && e.Time < all[len(all)-1].Time {
			e.Time = all[len(all)-1].Time
		}
		all = append(all, e)
		if err := w.Write(e); err != nil {
			t.Fatalf("%+v: %v", e, err)
		}
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	r, err := NewReader(&out, "again")
	if err != nil {
		t.Fatal(err)
	}
	if again, err := r.All(); err != nil || !slices.Equal(again, all) {
		t.Fatalf("%v read back as %v, %v", all, again, err)
	}
}

func textOf(b []byte) *lines {
	return &lines{file: "fuzz", r: bufio.NewReaderSize(bytes.NewReader(b), window)}
}

func FuzzNative(f *testing.F) {
	f.Add([]byte("# device: desk\ntime_s,control,event\n0,wheel,1\n0.5,btn288,press\n1e0,\"a,\"\"b\",release\n2,,dropped\n3,slow turn,mark\n"))
	f.Add([]byte("time_s;control;event\r\n0,5;a;high\r\n0,75;a;low\r\n1;\"x"))
	f.Fuzz(func(t *testing.T, b []byte) {
		readsSafely(t, &native{lines: textOf(b), device: &Device{}, partial: new(string), controls: controls{}}, len(b), false)
	})
}

func FuzzContacts(f *testing.F) {
	f.Add([]byte("time_us,a,b\n0,0,0\n1007,1,0\n"))
	f.Add([]byte("4294967000,0,0\n704,1,0\n954,0,1\n"))
	f.Add([]byte("Time [s];push;B;A\n-0,001;0;1;1\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		if form, ok := sniff(b); !ok || form != Contacts {
			return // columns are read from a line that was found to be one of a trace
		}
		readsSafely(t, newContacts(textOf(b), b), len(b), false)
	})
}

func FuzzEvemu(f *testing.F) {
	f.Add([]byte("# EVEMU 1.3\nN: desk\nI: 0003 1209\nE: 1.000001 0002 0008 -001\nE: 1.000002 0002 000b -120\nE: 1.000002 0000 0000 0\nE: 2.0 0000 0003 0\nE: 3.0 0001 0120 1"))
	f.Fuzz(func(t *testing.T, b []byte) {
		readsSafely(t, &evemu{lines: textOf(b), device: &Device{}}, len(b), false)
	})
}

func FuzzLibinput(f *testing.F) {
	f.Add([]byte("version: 1\ndevices:\n- node: /dev/input/event7\n  evdev:\n    name: \"desk\"\n  events:\n  - evdev:\n    - [  0, 10, 2, 8, 1] # x\n    - [0, 10, 0, 0, 0]\n- node: y\n  events:\n  - evdev:\n    - [0, 0, 3, 2, 9]\n    - [0, 0, 3, 2, 1]\n  - hid:\n    time: [0, 0]\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		readsSafely(t, &libinput{lines: textOf(b), device: &Device{}}, len(b), true)
	})
}

func FuzzInputEvents(f *testing.F) {
	one := func(size int) []byte {
		b := make([]byte, 2*size)
		b[0], b[size-8], b[size-6], b[size-4] = 1, evRel, relWheelHiRes, 200
		b[size] = 1
		return b
	}
	f.Add(one(24), true)
	f.Add(one(16), false)
	f.Fuzz(func(t *testing.T, b []byte, wide bool) {
		size := 16
		if wide {
			size = 24
		}
		readsSafely(t, &dump{file: "fuzz", r: bufio.NewReader(bytes.NewReader(b)), size: size}, len(b), false)
	})
}

func FuzzJoystick(f *testing.F) {
	f.Add([]byte{9, 0, 0, 0, 1, 0, 1, 3, 8, 1, 0, 0, 5, 0, 2, 1, 8, 2, 0, 0, 7, 0, 2, 1, 1})
	f.Fuzz(func(t *testing.T, b []byte) {
		readsSafely(t, &joystick{file: "fuzz", r: bufio.NewReader(bytes.NewReader(b))}, len(b), false)
	})
}

func FuzzJSONLines(f *testing.F) {
	f.Add([]byte(`{"t_ms":1.5,"buttons":[0,true,0.7],"pad":1,"x":{"y":[null,"\u00e4"]}}` + "\n" + `{"t_ms":2,"buttons":[1,0],"pad":1}` + "\n" + `{"t_ms":2,"buttons":[1],"pad":2}`))
	f.Add([]byte(`{"fields":[{"report":1,"at":8,"bits":8,"per_detent":4,"control":"dial"}]}` + "\n" + `{"t_ms":1,"report":1,"data":[0,255]}` + "\n" + `{"t_ms":1,"report":1,"data":"0a 04"}`))
	f.Add([]byte(`{"t_ms":1,"control":"F13","event":"press"}` + "\n" + `{"t_ms":1,"control":"w","units":-250}` + "\n" + `{"t_ms":1,"control":"w","event":-2}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		readsSafely(t, &jsonLines{lines: textOf(b), names: controls{}}, len(b), false)
	})
}

// What the scanner takes for JSON, encoding/json does too.
func FuzzJSONScanner(f *testing.F) {
	f.Add(`{"t_ms":1.5e+3,"data":"0A fF","x":[{"y":"\"z"},-0.5,null]}`)
	f.Fuzz(func(t *testing.T, s string) {
		if strings.ContainsAny(s, "\n\r") {
			return // not a line
		}
		var o object
		if _, want := o.scan([]byte(s)); want == "" && !json.Valid([]byte(s)) {
			t.Fatalf("%q is not JSON", s)
		}
	})
}

// Any file at all is refused or read, whatever it looks like.
func FuzzAnyFile(f *testing.F) {
	f.Add([]byte("time_s,control,event\n0,wheel,1\n"))
	f.Add([]byte("\xff\xfet\x00i\x00m\x00e\x00_\x00s\x00,\x00a\x00,\x00b\x00\n\x001\x00,\x000\x00,\x001\x00\n\x00"))
	f.Add([]byte("{\"t_ms\":1}\n"))
	f.Add([]byte("E: 1.0 0002 0008 1\n"))
	f.Add([]byte("libinput:\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		r, err := NewReader(bytes.NewReader(b), "fuzz")
		again, same := NewStream(bytes.NewReader(b), "fuzz")
		if (err == nil) != (same == nil) || err == nil && r.Format != again.Format {
			t.Fatalf("as a file %v, %v; as a stream %v, %v", r, err, again, same)
		}
		if slow, err := NewStream(iotest.OneByteReader(bytes.NewReader(b)), "fuzz"); err == nil {
			readsSafely(t, slow.source, 3*len(b), slow.Format == Libinput)
		}
		if err != nil {
			if fault := (*Fault)(nil); !errors.As(err, &fault) {
				t.Fatal(err)
			}
			return
		}
		readsSafely(t, r.source, 3*len(b), r.Format == Libinput) // UTF-16 grows by half
	})
}
