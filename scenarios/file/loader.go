package file

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/follow"
)

// Builtins are the built-in things of one kind.
type Builtins[T any] struct {
	Names []string
	Find  func(name string) *T // nil for a name that there is not
}

// Loader finds things by a built-in name or in a file, and remembers what it
// used.
type Loader struct {
	Context     context.Context // its end ends waiting for a pipe; nil never ends
	In          io.Reader       // for the file name -
	Texts       Texts           // where it is not nil, the only files that there are
	Outputs     []Output        // files that may not be read, since they will be written
	Tasks       Builtins[scenarios.Task]
	Rigs        Builtins[scenarios.Rig]
	Panels      Builtins[scenarios.Panel]
	Profiles    Builtins[scenarios.Profile]
	Operators   Builtins[scenarios.Operator]
	Populations Builtins[scenarios.Population]

	used   []Input
	dir    string                // of the file that names other files
	loaded map[[2]string]outcome // by kind and path
}

// Texts are files that are not on the disk, by their names.
type Texts map[string]string

// of returns the text of a path.
func (t Texts) of(path string) (string, bool) {
	text, ok := t[filepath.ToSlash(filepath.Clean(path))]
	return text, ok
}

// Exists says whether there is something of this name.
func (l *Loader) Exists(path string) bool {
	if l.Texts != nil {
		_, ok := l.Texts.of(path)
		return ok
	}
	_, err := os.Stat(path)
	return !errors.Is(err, fs.ErrNotExist)
}

// Output is a file that will be written, and the flag that says so.
type Output struct{ Flag, Path string }

// outcome is what a file was found to hold, or what is wrong with it.
type outcome struct {
	thing any
	err   error
}

// Input is something that a result depends on: a built-in name, or a file with
// the digest of its bytes.
type Input struct {
	Name   string `json:"name"`
	SHA256 string `json:"sha256,omitempty"`
}

// Inputs returns everything that was used, in the order of its first use.
func (l *Loader) Inputs() []Input { return l.used }

func (l *Loader) use(i Input) {
	if !slices.Contains(l.used, i) {
		l.used = append(l.used, i)
	}
}

// Rig returns a rig by its name or file.
func (l *Loader) Rig(name string) (*scenarios.Rig, error) {
	return load(l, "rig", name, l.Rigs, func(d *document) *scenarios.Rig { return d.rig(l) })
}

// Profile returns a profile by its name or file.
func (l *Loader) Profile(name string) (*scenarios.Profile, error) {
	return load(l, "profile", name, l.Profiles, func(d *document) *scenarios.Profile { return d.profile() })
}

// Panel returns a panel by its name or file.
func (l *Loader) Panel(name string) (*scenarios.Panel, error) {
	return load(l, "panel", name, l.Panels, func(d *document) *scenarios.Panel { return d.panel(l) })
}

// Task returns a task by its name or file.
func (l *Loader) Task(name string) (*scenarios.Task, error) {
	return load(l, "task", name, l.Tasks, func(d *document) *scenarios.Task { return d.task(l) })
}

// Operator returns an operator by its name or file.
func (l *Loader) Operator(name string) (*scenarios.Operator, error) {
	return load(l, "operator", name, l.Operators, func(d *document) *scenarios.Operator { return d.operator() })
}

// load finds a thing of one kind. A name with a dot or a separator in it is a
// file; another one is built in, or else a file. What is named again is
// not read again.
func load[T any](l *Loader, kind, name string, known Builtins[T], read func(*document) *T) (*T, error) {
	if l.loaded == nil {
		l.loaded = map[[2]string]outcome{}
	}
	key := [2]string{kind, name}
	if o, ok := l.loaded[key]; ok && slices.Contains(known.Names, name) {
		return o.thing.(*T), nil
	}
	if known.Find != nil {
		if v := known.Find(name); v != nil {
			l.use(Input{Name: name})
			l.loaded[key] = outcome{v, nil}
			return v, nil
		}
	}
	path := l.resolve(name)
	if name != "-" && !strings.ContainsAny(name, `./\`) {
		if !l.Exists(path) {
			return nil, fmt.Errorf("there is no %s %s and no such file; %s", kind, scenarios.Shown(name), meant(name, known.Names))
		}
	}
	key = [2]string{kind, path}
	if o, ok := l.loaded[key]; ok {
		return o.thing.(*T), o.err
	}
	v, err := parseAs(l, kind, path, read)
	l.loaded[key] = outcome{v, err}
	return v, err
}

func parseAs[T any](l *Loader, kind, path string, read func(*document) *T) (*T, error) {
	text, err := l.read(path)
	if err != nil {
		return nil, err
	}
	d, err := parse(path, kind, text)
	if d.top.d == nil {
		return nil, err
	}
	defer l.beside(path)()
	v := read(d)
	return v, d.err()
}

// beside makes the names of files mean files beside path until the function that
// it returns is called.
func (l *Loader) beside(path string) func() {
	outer := l.dir
	if path != "-" {
		l.dir = filepath.Dir(path)
	}
	return func() { l.dir = outer }
}

// resolve returns the path of a file that is named on the command line, or in
// another file: beside that one.
func (l *Loader) resolve(name string) string {
	if name == "-" || l.dir == "" || filepath.IsAbs(name) {
		return name
	}
	return filepath.Join(l.dir, name)
}

// read returns the bytes of a file of sensible size.
func (l *Loader) read(path string) ([]byte, error) { return l.readUpTo(path, Largest) }

func (l *Loader) readUpTo(path string, largest int) ([]byte, error) {
	from, err := l.Open(path)
	if err != nil {
		return nil, err
	}
	defer from.Close()
	var text []byte
	if e := Aside(l.context(), func() error { text, err = readAll(path, from, largest); return nil }); e != nil {
		return nil, e
	}
	if err != nil {
		return nil, err
	}
	if path == "-" && len(text) == 0 && slices.ContainsFunc(l.used, func(i Input) bool { return i.Name == "-" }) {
		return nil, errors.New("-: standard input was read already; it holds one file")
	}
	sum := sha256.Sum256(text)
	l.use(Input{Name: path, SHA256: hex.EncodeToString(sum[:])})
	return text, nil
}

func (l *Loader) context() context.Context {
	if l.Context == nil {
		return context.Background()
	}
	return l.Context
}

// Open opens a file to read as it comes, - for what is read from In. Whoever waits
// for a pipe is let go when the context ends.
func (l *Loader) Open(path string) (io.ReadCloser, error) {
	if path == "-" {
		if l.In == nil {
			return nil, errors.New("-: there is no standard input here")
		}
		return io.NopCloser(l.In), nil
	}
	if l.Texts != nil {
		text, ok := l.Texts.of(path)
		if !ok {
			return nil, systemFailure{plainError(path, fs.ErrNotExist)}
		}
		return io.NopCloser(strings.NewReader(text)), nil
	}
	if err := l.Readable(path); err != nil {
		return nil, err
	}
	return Open(l.context(), path)
}

// Readable says whether a file may be read: not one that will be written over.
func (l *Loader) Readable(path string) error {
	if l.Texts != nil {
		return nil
	}
	if i, err := os.Stat(path); err != nil || !i.Mode().IsRegular() {
		return nil
	}
	for _, o := range l.Outputs {
		if Same(path, o.Path) {
			return fmt.Errorf("%s: this file is read, and --%s would write over it; another file would do", columns.Line(path), o.Flag)
		}
	}
	return nil
}

func readAll(path string, in io.Reader, largest int) ([]byte, error) {
	if f, ok := in.(*os.File); ok && path != "-" {
		if i, err := f.Stat(); err == nil && i.IsDir() {
			return nil, systemFailure{fmt.Errorf("%s: this is a directory; a file is wanted", columns.Line(path))}
		}
	}
	text, err := io.ReadAll(io.LimitReader(in, int64(largest)+1))
	if err != nil {
		return nil, systemFailure{plainError(path, err)}
	}
	if len(text) > largest {
		return nil, fmt.Errorf("%s: longer than %d MiB; a file of this kind is shorter", columns.Line(path), largest>>20)
	}
	return text, nil
}

// plainError says what is wrong with a file without the name of the call.
func plainError(path string, err error) error {
	path = columns.Line(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("%s: there is no such file", path)
	case errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("%s: reading it is not permitted", path)
	}
	return fmt.Errorf("%s: %w", path, plainly(err))
}

// Open opens a file to read as it comes. Whoever waits for a pipe is let go when
// the context ends.
func Open(ctx context.Context, path string) (*os.File, error) {
	var f *os.File
	var err error
	if e := Aside(ctx, func() error { f, err = os.Open(path); return nil }); e != nil {
		return nil, e
	}
	if err != nil {
		return nil, systemFailure{plainError(path, err)}
	}
	return f, nil
}

// row is a line of a CSV file.
type row struct {
	file    string
	cells   []string
	line    int   // from 1
	columns []int // where each cell begins, from 1
}

// fault is a fault of a cell.
func (r row) fault(cell int, field, message string) Fault {
	return Fault{File: r.file, Line: r.line, Column: r.columns[cell], Field: field, Message: message}
}

// table reads a CSV file whose header begins with the names of one of these
// headers, all of one length; # begins a comment line.
func (l *Loader) table(name string, headers ...[]string) (rows []row, err error) {
	path := l.resolve(name)
	text, err := l.read(path)
	if err != nil {
		return nil, err
	}
	if text, err = plain(text); err != nil {
		return nil, fmt.Errorf("%s: %w", columns.Line(path), err)
	}
	in := csv.NewReader(bytes.NewReader(text))
	in.Comment, in.FieldsPerRecord, in.TrimLeadingSpace = '#', -1, true
	seen, header, forms := false, headers[0], strings.Join(headers[0], ",")
	for _, h := range headers[1:] {
		forms += " or " + strings.Join(h, ",")
	}
	var faults Faults
	for {
		r := row{file: path}
		var odd *csv.ParseError
		if r.cells, err = in.Read(); err == io.EOF {
			break
		} else if errors.As(err, &odd) {
			faults = append(faults, Fault{File: path, Line: odd.Line, Column: odd.Column, Message: odd.Err.Error() + "; fields without quotes would do"})
			continue
		}
		for i, cell := range r.cells {
			var column int
			r.line, column = in.FieldPos(i)
			r.columns = append(r.columns, column)
			r.cells[i] = strings.TrimSpace(cell)
		}
		line := strings.Join(r.cells, ",")
		switch {
		case line == "" || strings.HasPrefix(line, "#"):
		case !seen:
			if !slices.ContainsFunc(headers, func(h []string) bool { return len(r.cells) >= len(h) && slices.Equal(r.cells[:len(h)], h) }) {
				return nil, r.fault(0, "header", scenarios.Shown(line)+"; "+forms+" would do")
			}
			seen = true
		case len(r.cells) < len(header):
			faults = append(faults, r.fault(0, "", fmt.Sprintf("%s has %d of %d fields", scenarios.Shown(line), len(r.cells), len(header))))
		default:
			rows = append(rows, r)
		}
	}
	if faults != nil {
		return nil, faults.few(path)
	}
	if len(rows) == 0 {
		return nil, Fault{File: path, Message: "no lines below the header " + forms}
	}
	return rows, nil
}

// frameList reads measured frame times.
func (l *Loader) frameList(d *document, w written) []time.Duration {
	rows, err := l.table(w.value, []string{"frame_ms"})
	if err != nil {
		d.other(w.at, w.key, err)
		return nil
	}
	var list []time.Duration
	for _, r := range rows {
		t, err := scenarios.ParseTime(r.cells[0] + "ms")
		if err != nil || scenarios.FrameTime(t) != nil {
			d.other(w.at, w.key, r.fault(0, "frame_ms", scenarios.Shown(r.cells[0])+"; a time above 0 in milliseconds would do"))
			continue
		}
		list = append(list, t)
	}
	return list
}

// Detents reads a turn: CSV with header time_ms,direction, direction 1 or -1,
// times rising.
func (l *Loader) Detents(name string) ([]follow.Detent, error) {
	rows, err := l.table(name, []string{"time_ms", "direction"})
	if err != nil {
		return nil, err
	}
	var ds []follow.Detent
	var faults Faults
	last := time.Duration(-1)
	for _, r := range rows {
		at, way := r.cells[0], r.cells[1]
		t, err := scenarios.ParseTime(at + "ms")
		switch {
		case err != nil || t < 0 || t > 24*time.Hour:
			faults = append(faults, r.fault(0, "time_ms", scenarios.Shown(at)+"; a time in milliseconds would do"))
		case t <= last:
			faults = append(faults, r.fault(0, "time_ms", at+" does not come after the detent before it; times must rise"))
		case way != "1" && way != "-1" && way != "+1":
			faults = append(faults, r.fault(1, "direction", scenarios.Shown(way)+"; 1 or -1 would do"))
		}
		dir := int8(1)
		if way == "-1" {
			dir = -1
		}
		last = t
		ds = append(ds, follow.Detent{At: t, Dir: dir})
	}
	if faults != nil {
		return nil, faults.few(rows[0].file)
	}
	return ds, nil
}

// Text returns the text of a file without noting that it was used, or nil where there
// is none of sensible size.
func (l *Loader) Text(path string) []byte {
	if l.Texts != nil {
		if text, ok := l.Texts.of(path); ok {
			return []byte(text)
		}
		return nil
	}
	if i, err := os.Stat(path); err != nil || !i.Mode().IsRegular() || i.Size() > Largest {
		return nil
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return nil
	}
	return text
}
