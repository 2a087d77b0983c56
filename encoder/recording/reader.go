package recording

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// Reader gives the events of a recording one by one, in constant memory.
type Reader struct {
	Format  Format
	Device  Device // as far as it was read: complete once Next gave io.EOF
	Partial string // why a capture ended early, from the last line of its recording; empty if it did not

	source source
	closer io.Closer
}

// source is one of the formats. next returns io.EOF at the end; after a *Fault it
// can be called again, after any other error not.
type source interface {
	next() (Event, error)
}

// Open opens the recording in a file. The caller closes it.
func Open(path string) (*Reader, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("recording: %w", err)
	}
	r, err := NewReader(f, path)
	if err != nil {
		f.Close()
		return nil, err
	}
	r.closer = f
	return r, nil
}

// NewReader finds out what kind of recording r is, from its first 64 KB, and
// returns a reader for it. The file name is for faults only.
func NewReader(r io.Reader, file string) (*Reader, error) {
	return newReader(bufio.NewReaderSize(r, window), window, file)
}

// NewStream is NewReader for a recording that is still being made, such as a pipe
// from a running device: it does not wait for 64 KB but decides as soon as what
// has come says what it is. A contact trace and a text in UTF-16, which do not,
// are waited for.
func NewStream(r io.Reader, file string) (*Reader, error) {
	b := bufio.NewReaderSize(r, window)
	for n := 1; n <= window; n = b.Buffered() + 1 {
		if _, err := b.Peek(n); err != nil {
			break
		}
		if head, _ := b.Peek(b.Buffered()); decided(head) {
			return newReader(b, len(head), file)
		}
	}
	return newReader(b, window, file)
}

// newReader looks at the first n bytes.
func newReader(b *bufio.Reader, n int, file string) (*Reader, error) {
	head, err := b.Peek(n)
	if err != nil && err != io.EOF {
		return nil, fmt.Errorf("%s: reading: %w", file, err)
	}
	if d := wide(head); d != nil {
		b = bufio.NewReaderSize(transform.NewReader(b, d.NewDecoder()), window)
		if head, err = b.Peek(window); err != nil && err != io.EOF {
			return nil, fmt.Errorf("%s: reading: %w", file, err)
		}
	}
	if bytes.HasPrefix(head, []byte("\xef\xbb\xbf")) {
		b.Discard(3)
		head = head[3:]
	}
	if len(bytes.TrimSpace(head)) == 0 && bytes.IndexByte(head, 0) < 0 {
		return nil, &Fault{File: file, Line: 1, Found: "nothing", Want: "a recording has at least one line or record"}
	}
	rec := &Reader{}
	text := &lines{file: file, r: b}
	form, ok := sniff(head)
	if !ok {
		return nil, &Fault{File: file, Line: 1, Found: quote(firstLine(head)),
			Want: "a native CSV (header time_s,control,event), a contact trace (time,a,b), an evemu or libinput recording, " +
				"JSON lines, or a dump of input_event or js_event records would do"}
	}
	rec.Format = form
	switch form {
	case Native:
		rec.source = &native{lines: text, device: &rec.Device, partial: &rec.Partial, controls: controls{}}
	case Contacts:
		rec.source = newContacts(text, head)
	case Evemu:
		rec.source = &evemu{lines: text, device: &rec.Device}
	case Libinput:
		rec.source = &libinput{lines: text, device: &rec.Device}
	case JSONLines:
		rec.source = &jsonLines{lines: text, names: controls{}}
	case InputEvent64:
		rec.source = &dump{file: file, r: b, size: 24}
	case InputEvent32:
		rec.source = &dump{file: file, r: b, size: 16}
	case Joystick:
		rec.source = &joystick{file: file, r: b}
	}
	return rec, nil
}

// NewLive returns a reader for a running device, or a pipe from one, whose
// records are of the given size (24 or 16 bytes). It does not wait for more than
// one record before it gives the events of a report.
func NewLive(r io.Reader, file string, size int) *Reader {
	form := InputEvent64
	if size == 16 {
		form = InputEvent32
	}
	return &Reader{Format: form, source: &dump{file: file, r: bufio.NewReaderSize(r, window), size: size}}
}

// Next returns the next event, or io.EOF after the last one. After a *Fault it may
// be called again and goes on behind it; any other error is final.
func (r *Reader) Next() (Event, error) { return r.source.next() }

// Events gives what Next gives, up to the end or an error that is final. A
// consumer that goes on after a *Fault gets the events behind it.
func (r *Reader) Events() iter.Seq2[Event, error] {
	return func(yield func(Event, error) bool) {
		for {
			e, err := r.Next()
			if err == io.EOF || !yield(e, err) {
				return
			}
			if final(err) {
				return
			}
		}
	}
}

// final tells whether nothing can be read after an error.
func final(err error) bool {
	if err == nil {
		return false
	}
	var f *Fault
	return !errors.As(err, &f)
}

// All returns the events of the whole recording and its faults, at most 20,
// joined. It keeps what it could read.
func (r *Reader) All() ([]Event, error) {
	var all []Event
	var faults []error
	for e, err := range r.Events() {
		if err == nil {
			all = append(all, e)
		} else if faults = append(faults, err); len(faults) == 20 {
			break
		}
	}
	return all, errors.Join(faults...)
}

// Close closes what Open or OpenDevice opened.
func (r *Reader) Close() error {
	if r.closer == nil {
		return nil
	}
	return r.closer.Close()
}

// wide returns the encoding of a text in UTF-16, known by its byte-order mark or
// by every second byte of its start being zero, and nil for anything else.
func wide(head []byte) encoding.Encoding {
	switch {
	case bytes.HasPrefix(head, []byte("\xff\xfe")):
		return unicode.UTF16(unicode.LittleEndian, unicode.ExpectBOM)
	case bytes.HasPrefix(head, []byte("\xfe\xff")):
		return unicode.UTF16(unicode.BigEndian, unicode.ExpectBOM)
	case len(head) < 8:
		return nil
	}
	odd, even := true, true
	for i, c := range head[:8] {
		ascii := c == '\t' || c == '\r' || c == '\n' || c >= ' ' && c < 0x7f
		if i%2 == 0 {
			odd, even = odd && ascii, even && c == 0
		} else {
			odd, even = odd && c == 0, even && ascii
		}
	}
	switch {
	case odd:
		return unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM)
	case even:
		return unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM)
	}
	return nil
}
