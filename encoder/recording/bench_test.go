package recording_test

import (
	"fmt"
	"io"
	"runtime"
	"strings"
	"testing"

	"dialwright/encoder/recording"
)

// many makes a recording of n events without holding it: head once, then a line
// or record for each event.
type many struct {
	head  string
	event func(b []byte, i int) []byte
	n, i  int
	rest  []byte
	buf   []byte
}

func (m *many) Read(p []byte) (int, error) {
	if m.i == 0 && m.head != "" {
		m.rest, m.head = []byte(m.head), ""
	}
	for len(m.rest) == 0 {
		if m.i == m.n {
			return 0, io.EOF
		}
		m.buf = m.buf[:0]
		for range min(500, m.n-m.i) {
			m.buf = m.event(m.buf, m.i)
			m.i++
		}
		m.rest = m.buf
	}
	n := copy(p, m.rest)
	m.rest = m.rest[n:]
	return n, nil
}

// bulk has each format with one event a line, report, or level, 8 ms apart.
func bulk(n int) map[string]*many {
	two := func(i int, size int) string {
		us := int64(i) * 8000
		return dump([]rec{{us, 1, 288, int32(1 - i%2)}, {us, 0, 0, 0}}, size)
	}
	return map[string]*many{
		"native": {n: n, head: "time_s,control,event\n", event: func(b []byte, i int) []byte {
			return fmt.Appendf(b, "%d.%03d,btn288,%s\n", i/125, i%125*8, [...]string{"press", "release"}[i%2])
		}},
		"contacts": {n: n, head: "time_us,a,b\n", event: func(b []byte, i int) []byte {
			return fmt.Appendf(b, "%d,%d,%d\n", i*8000, (i+1)/2%2, i/2%2)
		}},
		"evemu": {n: n, head: "# EVEMU 1.3\n", event: func(b []byte, i int) []byte {
			return fmt.Appendf(b, "E: %d.%06d 0001 0120 %04d\t# EV_KEY / BTN_TRIGGER\nE: %d.%06d 0000 0000 0000\t# SYN_REPORT\n",
				i/125, i%125*8000, 1-i%2, i/125, i%125*8000)
		}},
		"libinput": {n: n, head: libinputHead + "- node: /dev/input/event7\n  events:\n", event: func(b []byte, i int) []byte {
			return fmt.Appendf(b, "  - evdev:\n    - [%3d, %6d, %3d, %3d, %5d] # EV_KEY\n    - [%3d, %6d,   0,   0,     0] # SYN_REPORT\n",
				i/125, i%125*8000, 1, 288, 1-i%2, i/125, i%125*8000)
		}},
		"input_event": {n: n, event: func(b []byte, i int) []byte { return append(b, two(i, 24)...) }},
		"js_event": {n: n, event: func(b []byte, i int) []byte {
			return append(b, jsDump([4]int64{int64(i) * 8, int64(1 - i%2), 1, 0})...)
		}},
		"json": {n: n, head: `{"t_ms":0,"buttons":[0,0]}` + "\n", event: func(b []byte, i int) []byte {
			return fmt.Appendf(b, `{"t_ms":%d,"buttons":[%d,0]}`+"\n", i*8+8, 1-i%2)
		}},
	}
}

func drain(t testing.TB, r io.Reader) int {
	rec, err := recording.NewReader(r, "bulk")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, err := range rec.Events() {
		if err != nil {
			t.Fatal(err)
		}
		n++
	}
	return n
}

func TestReadingTakesNoMemoryForEachEvent(t *testing.T) {
	for name := range bulk(0) {
		allocated := func(n int) uint64 {
			r := bulk(n)[name]
			content, err := io.ReadAll(r)
			if err != nil {
				t.Fatal(err)
			}
			from := strings.NewReader(string(content))
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			got := drain(t, from)
			runtime.ReadMemStats(&after)
			if got < n {
				t.Errorf("%s: %d events of %d", name, got, n)
			}
			return after.Mallocs - before.Mallocs
		}
		if few, more := allocated(1000), allocated(20_000); more > few+50 {
			t.Errorf("%s: %d allocations for 1000 events, %d for 20,000", name, few, more)
		}
	}
}

func BenchmarkReadAMillionEvents(b *testing.B) {
	const n = 1_000_000
	for name := range bulk(0) {
		b.Run(name, func(b *testing.B) {
			content, err := io.ReadAll(bulk(n)[name])
			if err != nil {
				b.Fatal(err)
			}
			text := string(content)
			b.SetBytes(int64(len(text)))
			b.ReportAllocs()
			for b.Loop() {
				if got := drain(b, strings.NewReader(text)); got < n {
					b.Fatal(got)
				}
			}
			b.ReportMetric(n*float64(b.N)/b.Elapsed().Seconds(), "events/s")
		})
	}
}

func BenchmarkWriteAMillionEvents(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		w := recording.NewWriter(io.Discard, recording.Device{})
		for i := range int64(1_000_000) {
			if err := w.Write(recording.Event{Time: i * 8e6, Control: "btn288", Kind: recording.Press + recording.Kind(i%2)}); err != nil {
				b.Fatal(err)
			}
		}
		if err := w.Flush(); err != nil {
			b.Fatal(err)
		}
	}
}
