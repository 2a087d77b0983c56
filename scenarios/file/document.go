// Package file reads and writes the files of a user: rigs, profiles, panels,
// tasks, operators and populations in strict YAML 1.2 (and so in JSON), measured frame times
// and recorded changes in CSV.
//
// A file that cannot be used is told so with all its faults at once, each with its
// line and column: an unknown or repeated key, a second document, a wrong unit, a
// fraction where a whole number belongs. Nothing is guessed. What a key means and
// which values it takes stands in package scenarios; here is only how it is
// written.
package file

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v4"
	"go.yaml.in/yaml/v4/plugin/loaderlimits"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
)

// Kinds are the kinds of files, as their first key says them.
var Kinds = []string{"rig", "profile", "panel", "task", "operator", "population"}

// Largest is the longest file that is read, bytes; a panel with a thousand tasks is
// shorter.
const Largest = 1 << 20

// deepestNesting is how many mappings and lists may stand inside one another; the
// deepest place that any file has a use for is the sixth.
const deepestNesting = 50

// mostFaults is how many faults of one file are told.
const mostFaults = 100

// Fault is one thing that makes a file unusable.
type Fault struct {
	File    string `json:"-"`
	Other   string `json:"file,omitempty"` // File again, where it is not the file that was asked for but one that it names
	Line    int    `json:"line"`           // from 1; 0 where the whole file is meant
	Column  int    `json:"column"`         // from 1
	Field   string `json:"field"`          // dotted
	Message string `json:"message"`
}

// Error returns FILE:LINE:COLUMN: field: what was found; what would do.
func (f Fault) Error() string {
	var s strings.Builder
	s.WriteString(columns.Line(f.File))
	if f.Line > 0 {
		fmt.Fprintf(&s, ":%d:%d", f.Line, f.Column)
	}
	s.WriteString(": ")
	if f.Field != "" {
		s.WriteString(columns.Line(f.Field) + ": ")
	}
	s.WriteString(f.Message)
	return s.String()
}

// Faults is everything that is wrong with a file, from top to bottom.
type Faults []Fault

// Error returns one line a fault.
func (fs Faults) Error() string { return scenarios.Lines(fs) }

// few cuts a list that nobody would read to its end.
func (fs Faults) few(file string) Faults {
	if more := len(fs) - mostFaults; more > 0 {
		return append(fs[:mostFaults:mostFaults], Fault{File: file, Message: fmt.Sprintf("%d more faults", more)})
	}
	return fs
}

// document is a file that is being read. Faults collect in it.
type document struct {
	name   string
	kind   string
	top    section
	faults Faults
	faulty map[string]bool // the fields of faults
	others Faults          // of files that this one names
	told   map[Fault]bool  // those of them
}

// at adds a fault at a place of the document.
func (d *document) at(n *yaml.Node, field, format string, a ...any) {
	f := Fault{File: d.name, Field: field, Message: fmt.Sprintf(format, a...)}
	if n != nil {
		f.Line, f.Column = n.Line, n.Column
	}
	d.faults = append(d.faults, f)
	if d.faulty == nil {
		d.faulty = map[string]bool{}
	}
	d.faulty[field] = true
}

// fault adds what package scenarios has to say of a field.
func (d *document) fault(n *yaml.Node, field string, err error) {
	var fs scenarios.Faults
	var f scenarios.Fault
	switch {
	case errors.As(err, &fs):
		for _, f := range fs {
			d.fault(n, field, f)
		}
	case errors.As(err, &f):
		if f.Field != "" && !strings.HasSuffix(field, f.Field) {
			field = strings.TrimPrefix(field+"."+f.Field, ".")
		}
		f.Field = ""
		d.at(n, field, "%s", f.Error())
	default:
		d.at(n, field, "%v", err)
	}
}

// other adds what is wrong with a file that this one names: its own faults, each
// once however often it is named, or else one fault at the place that names it.
func (d *document) other(n *yaml.Node, field string, err error) {
	var fs Faults
	var f Fault
	switch {
	case err == nil:
		return
	case errors.As(err, &fs):
	case errors.As(err, &f):
		fs = Faults{f}
	default:
		d.at(n, field, "%v", err)
	}
	for _, f := range fs {
		if f.Other = f.File; d.told[f] {
			continue
		}
		if d.told == nil {
			d.told = map[Fault]bool{}
		}
		d.told[f] = true
		d.others = append(d.others, f)
	}
}

// good says that nothing is wrong so far.
func (d *document) good() bool { return len(d.faults)+len(d.others) == 0 }

// err returns the faults in the order of their places, then those of other files;
// nil when there are none.
func (d *document) err() error {
	if d.good() {
		return nil
	}
	slices.SortStableFunc(d.faults, func(a, b Fault) int {
		if a.Line != b.Line {
			return a.Line - b.Line
		}
		return a.Column - b.Column
	})
	return slices.Concat(d.faults, d.others).few(d.name)
}

// parse reads the text of a file of one kind ("" is any). The error is the
// document's faults so far; what can be read is read all the same.
func parse(name, kind string, text []byte) (*document, error) {
	d := &document{name: name, kind: kind}
	text, err := plain(text)
	if err != nil {
		d.at(nil, "", "%v", err)
		return d, d.err()
	}
	dec, err := yaml.NewLoader(bytes.NewReader(text), yaml.WithPlugin(loaderlimits.New(loaderlimits.DepthValue(deepestNesting))))
	if err != nil {
		return d, err // an option that the library does not know
	}
	var root yaml.Node
	if err := dec.Load(&root); err != nil {
		if errors.Is(err, io.EOF) {
			d.at(nil, "", "the file holds nothing but comments; kind: %s would be its first line", or(kind, "rig"))
			return d, d.err()
		}
		d.syntax(err)
		return d, d.err()
	}
	var second yaml.Node
	next := dec.Load(&second)
	if len(root.Content) != 1 || root.Content[0].Kind != yaml.MappingNode {
		d.at(&root, "", "keys and values are wanted; kind: %s would be the first line", or(kind, "rig"))
		return d, d.err()
	}
	d.plainNodes(&root)
	d.top = d.section(root.Content[0], "")
	d.head(root.Content[0])
	switch {
	case next == nil:
		d.at(&second, "", "a second document begins; one file holds one %s", or(d.kind, "thing"))
	case !errors.Is(next, io.EOF):
		d.syntax(next)
	}
	return d, d.err()
}

// plain returns the text as UTF-8 without a byte-order mark, or says what it is.
func plain(text []byte) ([]byte, error) {
	switch {
	case len(text) == 0:
		return nil, errors.New("the file is empty; dialwright new writes one to fill in")
	case bytes.HasPrefix(text, []byte{0xff, 0xfe}), bytes.HasPrefix(text, []byte{0xfe, 0xff}), everySecondZero(text):
		return nil, errors.New("the text is UTF-16, as a redirect in a Windows shell makes it; save it as UTF-8")
	}
	text = bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))
	if !utf8.Valid(text) || bytes.IndexByte(text, 0) >= 0 {
		return nil, errors.New("this is not text; a YAML file in UTF-8 would do")
	}
	if version := []byte("%YAML 1.2"); bytes.HasPrefix(text, version) { // the library takes it for a version that it cannot read
		text = slices.Concat([]byte("#YAML 1.2"), text[len(version):])
	}
	return text, nil
}

// everySecondZero says whether the text begins like letters in 16 bits each.
func everySecondZero(text []byte) bool {
	text = text[:min(len(text), 32)]
	zeros := [2]int{}
	for i, c := range text {
		if c == 0 {
			zeros[i%2]++
		} else if c >= 0x80 {
			return false
		}
	}
	half := len(text) / 2
	return half > 1 && (zeros[0] == 0 && zeros[1] >= half || zeros[1] == 0 && zeros[0] >= half)
}

// syntax adds the parser's own complaint, with its place.
func (d *document) syntax(err error) {
	f := Fault{File: d.name, Message: err.Error()}
	var load *yaml.LoadError
	if errors.As(err, &load) {
		f.Message, f.Line, f.Column = load.Message, load.Mark.Line, load.Mark.Column
		if load.ContextMsg != "" {
			f.Message += " " + load.ContextMsg
			if load.ContextMark.Line > 0 && load.ContextMark != load.Mark {
				f.Message += fmt.Sprintf(" that begins at %d:%d", load.ContextMark.Line, load.ContextMark.Column)
			}
		}
	}
	f.Message += "; dialwright new writes examples"
	d.faults = append(d.faults, f)
}

// LongestText is how many characters a key or a value may have, the leading digits
// of a number aside; a name is a line in a table.
const LongestText = 200

// plainNodes refuses what a file has no use for: anchors and aliases, which can
// blow a short text up, tags, and texts that are too long or would speak to a
// terminal.
func (d *document) plainNodes(n *yaml.Node) {
	if n.Kind == yaml.AliasNode || n.Anchor != "" {
		d.at(n, "", "anchors and aliases (& and *) are not read; write the value again")
		return
	}
	if n.Style&yaml.TaggedStyle != 0 {
		d.at(n, "", "a tag (%s) is not read; leave it out", scenarios.Shown(n.Tag))
	}
	if n.Kind == yaml.ScalarNode {
		if wrong := wrongText(n.Value); wrong != "" {
			d.at(n, "", "%s", wrong)
		}
	}
	for _, c := range n.Content {
		d.plainNodes(c)
	}
}

// wrongText says what is wrong with a text, or "".
func wrongText(s string) string {
	if i := strings.IndexFunc(s, columns.Speaks); i >= 0 {
		r, _ := utf8.DecodeRuneInString(s[i:])
		return fmt.Sprintf("%s has the control character U+%04X in it; letters that can be seen would do", scenarios.Shown(s), r)
	}
	if !utf8.ValidString(s) {
		return scenarios.Shown(s) + " is no UTF-8; letters that can be seen would do"
	}
	if long := utf8.RuneCountInString(strings.TrimLeft(s, "-0123456789.")); long > LongestText {
		return fmt.Sprintf("%s has %d characters; at most %d would do", scenarios.Shown(s), long, LongestText)
	}
	if s != "" && strings.TrimSpace(s) == "" {
		return "there is nothing to be seen in it; letters would do"
	}
	return ""
}

// head looks at kind and version, the first two keys.
func (d *document) head(n *yaml.Node) {
	kind, version := d.top.take("kind"), d.top.take("version")
	switch {
	case kind == nil:
		d.at(n, "kind", "is missing; kind: %s would be the first line", or(d.kind, "rig"))
	case !slices.Contains(Kinds, kind.Value):
		d.at(kind, "kind", "there is no kind %s; %s", scenarios.Shown(kind.Value), meant(kind.Value, Kinds))
	case d.kind != "" && kind.Value != d.kind:
		d.at(kind, "kind", "this is a %s; a %s is wanted here", kind.Value, d.kind)
	default:
		d.kind = kind.Value
	}
	switch {
	case version == nil:
		d.at(n, "version", "is missing; version: 1 would do")
	case version.Value != "1":
		d.at(version, "version", "%s; version: 1 would do", scenarios.Shown(version.Value))
	}
	for i, key := range []string{"kind", "version"} {
		if n.Style&yaml.FlowStyle != 0 {
			return // JSON, whose keys have no order
		}
		if place := slices.IndexFunc(d.top.keys, func(k *yaml.Node) bool { return k.Value == key }); place > i && kind != nil {
			d.at(d.top.keys[place], key, "stands too far down; kind, then version would be the first two keys")
			return
		}
	}
}

// meant says which of the names was probably meant.
func meant(written string, names []string) string {
	if near := scenarios.Nearest(written, names); near != "" {
		return "did you mean " + near + "?"
	}
	if len(names) > 20 { // who does not know the word looks for it in the list
		return "one of " + strings.Join(names[:8], ", ") + " … would do; dialwright list has all"
	}
	return "one of " + strings.Join(names, ", ") + " would do"
}

func or(s, otherwise string) string {
	if s == "" {
		return otherwise
	}
	return s
}
