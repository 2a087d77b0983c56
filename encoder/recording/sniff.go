package recording

import (
	"bytes"
	"strings"
)

// sniff finds the format of a recording from its start.
func sniff(head []byte) (Format, bool) {
	if bytes.IndexByte(head[:min(len(head), 512)], 0) >= 0 {
		return sniffBinary(head)
	}
	for rest := head; len(rest) > 0; {
		var line []byte
		line, rest, _ = bytes.Cut(rest, []byte("\n"))
		if f, ok, more := sniffLine(string(bytes.TrimSpace(line))); !more {
			return f, ok
		}
	}
	return sniffBinary(head)
}

// decided tells whether the start of a stream is enough to find its format: the
// whole records of a binary one, or a line of text.
func decided(head []byte) bool {
	if len(head) < 8 || wide(head) != nil {
		return false
	}
	head = bytes.TrimPrefix(head, []byte("\xef\xbb\xbf"))
	if bytes.IndexByte(head[:min(len(head), 512)], 0) >= 0 {
		_, ok := sniffBinary(head)
		return ok
	}
	for line := range bytes.Lines(head) {
		if line[len(line)-1] != '\n' {
			break
		}
		if f, _, more := sniffLine(string(bytes.TrimSpace(line))); !more {
			return f != Contacts
		}
	}
	return false
}

// sniffLine decides by one line of text, or asks for more.
func sniffLine(line string) (f Format, ok, more bool) {
	key, _, colon := strings.Cut(line, ":")
	switch {
	case line == "":
		return 0, false, true
	case strings.HasPrefix(line, "# EVEMU"):
		return Evemu, true, false
	case strings.HasPrefix(line, "# libinput") || line == "---":
		return Libinput, true, false
	case line[0] == '#':
		return 0, false, true
	case line[0] == '{':
		return JSONLines, true, false
	case colon && len(key) == 1 && strings.Contains("NIPBALSE", key):
		return Evemu, true, false
	case colon && (key == "version" || key == "ndevices" || key == "libinput" || key == "system" || key == "devices"):
		return Libinput, true, false
	}
	fields, _ := split([]byte(line), separator(line), make([]field, 0, 4))
	if len(fields) < 3 || len(fields[0].text) == 0 {
		return 0, false, false
	}
	first, second := strings.ToLower(string(fields[0].text)), strings.ToLower(string(fields[1].text))
	switch {
	case first == "time_s" && second == "control":
		return Native, true, false
	case strings.HasPrefix(first, "time") || first == "t" || first[0] == 't' && (first[1] < 'a' || first[1] > 'z'):
		return Contacts, true, false
	}
	if _, number := decimal(fields[0].text, 0, true); number && level(fields[1].text) >= 0 && level(fields[2].text) >= 0 {
		return Contacts, true, false
	}
	return 0, false, false
}

// separator is what separates the fields of a line of CSV: a semicolon or a tab
// if there is one, for then a comma may be the decimal one.
func separator[T ~string | ~[]byte](line T) byte {
	for _, c := range []byte(line) {
		if c == ';' || c == '\t' {
			return c
		}
	}
	return ','
}

// sniffBinary chooses the record that the file begins with the most of, in bytes:
// at least three, or nothing else in the file.
func sniffBinary(head []byte) (best Format, ok bool) {
	most := 0
	for _, f := range []struct {
		Format
		size   int
		record func([]byte) bool
	}{
		{InputEvent64, 24, func(b []byte) bool { _, f := inputEvent(b); return f == nil }},
		{InputEvent32, 16, func(b []byte) bool { _, f := inputEvent(b); return f == nil }},
		{Joystick, 8, func(b []byte) bool { _, f := jsEvent(b); return f == nil }},
	} {
		n := 0
		for n+f.size <= len(head) && f.record(head[n:n+f.size]) {
			n += f.size
		}
		if n > most && (n >= 3*f.size || n == len(head)) {
			most, best = n, f.Format
		}
	}
	return best, most > 0
}

func firstLine(head []byte) []byte {
	line, _, _ := bytes.Cut(bytes.TrimLeft(head, "\r\n"), []byte("\n"))
	return line
}
