package recording

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// maxCount bounds a count, so that sums of counts do not overflow.
const maxCount = 1 << 40

// native reads the native CSV.
type native struct {
	*lines
	device   *Device
	partial  *string
	controls controls
	sep      byte // 0 until the header was read
	last     int64
	fields   [3]field
	latest   string // the control of the line before, most often this one's too
}

func (n *native) next() (Event, error) {
	for {
		if err := n.lines.next(); err != nil {
			return Event{}, err
		}
		switch {
		case n.text[0] == '#':
			n.note(string(n.text[1:]))
		case n.sep == 0:
			n.sep = separator(n.text)
			f, ok := split(n.text, n.sep, n.fields[:0])
			if !ok || len(f) != 3 || !bytes.EqualFold(f[2].text, []byte("event")) {
				return Event{}, n.at(0, &Fault{Field: "header", Found: quote(n.text), Want: "time_s,control,event would do"})
			}
		default:
			if n.cut && *n.partial != "" { // a journal that broke off within a line
				return Event{}, io.EOF
			}
			return n.line()
		}
	}
}

// note takes what a comment says about the device, and that the recording ended
// early.
func (n *native) note(text string) {
	key, value, _ := strings.Cut(text, ":")
	value = strings.TrimSpace(value)
	ms, ok := decimal([]byte(value), 6, false)
	switch key = strings.TrimSpace(key); {
	case key == "device" && len(value) <= 200 && printable(value):
		n.device.Name = value
	case key == "partial" && value == notPartial:
		*n.partial = ""
	case key == "partial" && len(value) <= 200 && printable(value):
		*n.partial = value
	case key == "repeat_delay_ms" && ok:
		n.device.RepeatDelay = ms
	case key == "repeat_period_ms" && ok:
		n.device.RepeatPeriod = ms
	}
}

func (n *native) line() (Event, error) {
	f, ok := split(n.text, n.sep, n.fields[:0])
	if !ok || len(f) != 3 {
		return Event{}, n.at(-1, &Fault{Found: quote(n.text), Want: "three fields (time_s, control, event) would do, quotes closed"})
	}
	var e Event
	if e.Time, ok = decimal(f[0].text, 9, n.sep != ','); !ok || e.Time < 0 {
		return e, n.at(f[0].at, &Fault{Field: "time_s", Found: quote(f[0].text), Want: "seconds from the start, such as 12.0345, would do"})
	}
	if e.Time < n.last {
		return e, n.at(f[0].at, &Fault{Field: "time_s", Found: quote(f[0].text) + " after " + seconds(n.last),
			Want: "lines in the order of time would do"})
	}
	if e.Kind, e.N, ok = event(f[2].text); !ok {
		return e, n.at(f[2].at, &Fault{Field: "event", Found: quote(f[2].text), Want: "press, release or a signed whole number would do"})
	}
	switch {
	case string(f[1].text) == n.latest && n.latest != "":
		e.Control = n.latest
	case e.Kind == Dropped && len(f[1].text) == 0:
	default:
		var fault *Fault
		if e.Control, fault = n.controls.name(f[1].text); fault != nil {
			return e, n.at(f[1].at, fault)
		}
		n.latest = e.Control
	}
	n.last = e.Time
	return e, nil
}

// event reads the third field: a word or a signed count.
func event(b []byte) (Kind, int64, bool) {
	switch string(b) {
	case "press":
		return Press, 0, true
	case "release":
		return Release, 0, true
	case "repeat":
		return Repeat, 0, true
	case "low":
		return Level, 0, true
	case "high":
		return Level, 1, true
	case "dropped":
		return Dropped, 0, true
	case "mark":
		return Mark, 0, true
	}
	n, ok := whole(b, 10)
	return Count, n, ok && n > -maxCount && n < maxCount
}

// seconds writes a time exactly, without digits that say nothing.
func seconds(t int64) string { return string(appendSeconds(nil, t)) }

func appendSeconds(b []byte, t int64) []byte {
	if t < 0 {
		b, t = append(b, '-'), -t
	}
	b = strconv.AppendInt(b, t/1e9, 10)
	frac := t % 1e9
	if frac == 0 {
		return b
	}
	b = append(b, '.')
	for digit := int64(1e8); frac > 0; digit /= 10 {
		b = append(b, byte('0'+frac/digit))
		frac %= digit
	}
	return b
}

// Writer writes a recording as native CSV. What it writes, a Reader reads back as
// the same events.
type Writer struct {
	w      *bufio.Writer
	device Device
	headed bool
	open   bool // a journal that has not ended
	last   int64
	line   []byte
	broken error
}

// NewWriter returns a writer for the events of a device. What is known of the
// device and the header come before the first event, or with Flush.
func NewWriter(w io.Writer, d Device) *Writer {
	return &Writer{w: bufio.NewWriterSize(w, window), device: d}
}

// The words of a journal, behind "partial": what its first line says, and its last
// one where it was not broken off.
const (
	brokenOff  = "broken off"
	notPartial = "no"
)

// NewJournal returns a writer for events that are written as they happen to
// something that lasts. The recording begins with a mark that it broke off, which a
// last line takes back: without that line a Reader finds it Partial.
func NewJournal(w io.Writer, d Device) *Writer {
	j := NewWriter(w, d)
	j.open = true
	return j
}

// End takes back the mark of a journal. It is to be called last, unless Partial is.
func (w *Writer) End() {
	if w.head(); w.open {
		fmt.Fprintf(w.w, "# partial: %s\n", notPartial) // an error shows in Flush
	}
}

// head writes what comes before the events.
func (w *Writer) head() {
	if w.headed {
		return
	}
	w.headed = true
	d := w.device
	if d.Name != "" && len(d.Name) <= 200 && printable(d.Name) {
		fmt.Fprintf(w.w, "# device: %s\n", d.Name)
	}
	if d.RepeatDelay > 0 && d.RepeatPeriod > 0 {
		fmt.Fprintf(w.w, "# repeat_delay_ms: %s\n# repeat_period_ms: %s\n", milliseconds(d.RepeatDelay), milliseconds(d.RepeatPeriod))
	}
	if w.open {
		fmt.Fprintf(w.w, "# partial: %s\n", brokenOff)
	}
	w.w.WriteString("time_s,control,event\n") // an error shows in the first Write or Flush
}

// milliseconds writes a time in milliseconds, exactly.
func milliseconds(t int64) string {
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%d.%06d", t/1e6, t%1e6), "0"), ".")
}

// Write writes one event. It refuses one that no Reader would give: time that
// goes back or is negative, a control that is empty or cannot be printed, an
// unknown kind.
func (w *Writer) Write(e Event) error {
	if w.broken != nil {
		return w.broken
	}
	if e.Time < w.last {
		return fmt.Errorf("recording: an event at %s s after one at %s s; events in the order of time would do", seconds(e.Time), seconds(w.last))
	}
	if e.Control == "" && e.Kind != Dropped || len(e.Control) > 100 || !printable(e.Control) {
		return fmt.Errorf("recording: control %s; a name of 1 to 100 bytes of printable characters would do", quote(e.Control))
	}
	b := append(appendSeconds(w.line[:0], e.Time), ',')
	if strings.ContainsAny(e.Control, "\",;") || strings.TrimSpace(e.Control) != e.Control {
		b = append(append(append(b, '"'), strings.ReplaceAll(e.Control, `"`, `""`)...), '"')
	} else {
		b = append(b, e.Control...)
	}
	b = append(b, ',')
	switch {
	case e.Kind == Count && e.N > -maxCount && e.N < maxCount:
		b = strconv.AppendInt(b, e.N, 10)
	case e.Kind == Level && e.N == 0:
		b = append(b, "low"...)
	case e.Kind == Level && e.N == 1:
		b = append(b, "high"...)
	case e.Kind != Count && e.Kind != Level && int(e.Kind) < len(words):
		b = append(b, words[e.Kind]...)
	default:
		return fmt.Errorf("recording: an event of kind %s with N %d cannot be written", e.Kind, e.N)
	}
	w.head()
	w.last, w.line = e.Time, append(b, '\n')
	if _, err := w.w.Write(w.line); err != nil {
		return w.failed(err)
	}
	return nil
}

// Partial marks the recording as one that ended early, and says why. It is to be
// called last.
func (w *Writer) Partial(why string) {
	w.head()
	if len(why) > 200 || !printable(why) {
		why = quote(why)
	}
	fmt.Fprintf(w.w, "# partial: %s\n", why) // an error shows in Flush
}

// Flush writes what is still held back.
func (w *Writer) Flush() error {
	w.head()
	if w.broken != nil {
		return w.broken
	}
	if err := w.w.Flush(); err != nil {
		return w.failed(err)
	}
	return nil
}

// failed keeps the first error in writing, which is final.
func (w *Writer) failed(err error) error {
	w.broken = fmt.Errorf("recording: writing: %w", err)
	return w.broken
}
