package recording

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"unicode/utf8"
)

// window is how much of a file is looked at before anything is decided, and the
// longest line that is read.
const window = 64 << 10

// lines gives a text line by line.
type lines struct {
	file string
	r    *bufio.Reader
	n    int    // number of the line, from 1
	text []byte // the line without its end; valid until the next one
	cut  bool   // the file ended without ending this line
}

// next reads the next line. It gives io.EOF after the last one.
func (l *lines) next() error {
	for {
		text, err := l.r.ReadSlice('\n')
		if len(text) == 0 && err != nil {
			return l.broken(err)
		}
		l.n++
		if err == bufio.ErrBufferFull {
			return l.tooLong()
		}
		if err != nil && err != io.EOF {
			return l.broken(err)
		}
		l.cut = err == io.EOF
		text = bytes.TrimSuffix(text, []byte("\n"))
		l.text = bytes.TrimSuffix(text, []byte("\r"))
		if len(bytes.TrimSpace(l.text)) > 0 {
			return nil
		}
	}
}

// broken passes io.EOF on and says where any other error came up.
func (l *lines) broken(err error) error {
	if err == io.EOF {
		return err
	}
	return fmt.Errorf("%s:%d: reading: %w", l.file, l.n+1, err)
}

// tooLong skips the rest of a line that does not fit.
func (l *lines) tooLong() error {
	l.text, l.cut = nil, false
	for err := bufio.ErrBufferFull; err != nil; {
		if _, err = l.r.ReadSlice('\n'); err != nil && err != bufio.ErrBufferFull {
			break // the next read says so again
		}
	}
	return &Fault{File: l.file, Line: l.n, Found: fmt.Sprintf("a line longer than %d bytes", window),
		Want: "lines of a recording are short; is this the right file?"}
}

// at puts the place into a fault: column byte of the current line, or the line
// as a whole when byte is negative. A fault in a line that the end of the file
// cuts off is most likely the cut.
func (l *lines) at(byte int, f *Fault) *Fault {
	f.File, f.Line = l.file, l.n
	if byte >= 0 {
		f.Column = utf8.RuneCount(l.text[:min(byte, len(l.text))]) + 1
	}
	if l.cut && f.Err == nil {
		f.Err = io.ErrUnexpectedEOF
	}
	return f
}

// field is one column of a line of CSV.
type field struct {
	text []byte
	at   int // byte of the line where it begins
}

// split cuts a line of CSV into fields without the blanks around them. Fields in
// quotes may contain the separator, and quotes written twice. It fails on a quote
// that is not closed and on more fields than into has room for.
func split(line []byte, sep byte, into []field) ([]field, bool) {
	into = into[:0]
	for at := 0; ; {
		for at < len(line) && line[at] == ' ' {
			at++
		}
		f, end := field{at: at}, 0
		if at < len(line) && line[at] == '"' {
			f.text, end = unquote(line[at+1:])
			if end < 0 {
				return into, false
			}
			end += at + 1
			for end < len(line) && line[end] == ' ' {
				end++
			}
			if end < len(line) && line[end] != sep {
				return into, false
			}
		} else {
			end = at
			for end < len(line) && line[end] != sep {
				end++
			}
			f.text = bytes.TrimRight(line[at:end], " \t")
		}
		if len(into) == cap(into) {
			return into, false
		}
		into = append(into, f)
		if end >= len(line) {
			return into, true
		}
		at = end + 1
	}
}

// unquote gives the text up to the closing quote and where it ends, or −1.
func unquote(b []byte) ([]byte, int) {
	end := bytes.IndexByte(b, '"')
	switch {
	case end < 0:
		return nil, -1
	case end+1 == len(b) || b[end+1] != '"':
		return b[:end], end + 1
	}
	var text []byte
	for i := 0; i < len(b); i++ {
		if b[i] == '"' {
			if i+1 >= len(b) || b[i+1] != '"' {
				return text, i + 1
			}
			i++
		}
		text = append(text, b[i])
	}
	return nil, -1
}
