package recording

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Fault is one thing that is wrong with a file, and where. It wraps
// io.ErrUnexpectedEOF when the file is cut off there, so that a caller may keep
// what came before.
type Fault struct {
	File   string
	Line   int   // from 1; 0 in a binary file
	Column int   // from 1, in characters; 0 when the whole line is meant
	Offset int64 // of the record, in bytes from the start, in a binary file
	Field  string
	Found  string
	Want   string // what would do
	Err    error
}

func (f *Fault) Error() string {
	var b strings.Builder
	b.WriteString(f.File)
	switch {
	case f.Line > 0 && f.Column > 0:
		fmt.Fprintf(&b, ":%d:%d", f.Line, f.Column)
	case f.Line > 0:
		fmt.Fprintf(&b, ":%d", f.Line)
	default:
		fmt.Fprintf(&b, ": byte %d", f.Offset)
	}
	b.WriteString(": ")
	if f.Field != "" {
		b.WriteString(f.Field + ": ")
	}
	b.WriteString("found " + f.Found)
	if f.Err == io.ErrUnexpectedEOF {
		b.WriteString(", and there the file is cut off")
	}
	return b.String() + "; " + f.Want
}

// Unwrap returns the cause, if there is one beyond the text of the file.
func (f *Fault) Unwrap() error { return f.Err }

// quote shows what stands in a file, shortened, with nothing that a terminal
// would act upon.
func quote[T ~string | ~[]byte](s T) string {
	const most = 40
	if len(s) <= most {
		return strconv.Quote(string(s))
	}
	return strconv.Quote(string(s[:most])) + "…"
}

func printable(s string) bool {
	return utf8.ValidString(s) && strings.IndexFunc(s, func(r rune) bool { return !unicode.IsPrint(r) }) < 0
}
