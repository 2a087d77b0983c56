package file

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"

	"go.yaml.in/yaml/v4"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/columns"
)

// Bounds of a file of dialings; ours.
const (
	LargestDialings = 64 << 20 // bytes
	longestLine     = 1 << 20  // bytes
	mostDialings    = 20_000
	longestDialing  = float64(time.Hour / time.Millisecond)
)

// Dialings reads what was dialed on the workbench's page; scenarios.Dialings says what
// stands in such a file. A fault has the line and the field.
func (l *Loader) Dialings(name string) (*scenarios.Dialings, error) {
	path := l.resolve(name)
	text, err := l.readUpTo(path, LargestDialings)
	if err != nil {
		return nil, err
	}
	if text, err = plain(text); err != nil {
		return nil, Fault{File: path, Message: err.Error()}
	}
	r := dialingsReader{path: path}
	n := 0
	for line := range bytes.Lines(text) {
		n++
		ended := bytes.HasSuffix(line, []byte("\n"))
		line = bytes.TrimRight(line, "\r\n")
		switch {
		case len(bytes.TrimSpace(line)) == 0:
		case r.d == nil:
			r.head(n, line)
		default:
			r.dialing(n, line, ended)
		}
		if len(r.faults) > mostFaults || r.d == nil && len(r.faults) > 0 {
			break
		}
	}
	switch {
	case len(r.faults) > 0:
		return nil, r.faults.few(path)
	case r.d == nil:
		return nil, Fault{File: path, Message: `there is nothing in it; what the workbench's page saves would do`}
	case len(r.d.All) == 0:
		return nil, Fault{File: path, Line: n, Column: 1, Message: "no dialing comes after the first line"}
	}
	return r.d, nil
}

// dialingsReader reads a file of dialings line by line.
type dialingsReader struct {
	path   string
	d      *scenarios.Dialings
	faults Faults
}

// line reads a line as one object. The faults of a document are those of the line.
func (r *dialingsReader) line(n int, text []byte, read func(d *document)) {
	if len(text) > longestLine {
		r.faults = append(r.faults, Fault{File: r.path, Line: n, Column: 1, Message: fmt.Sprintf("a line longer than %d MiB; lines of this kind are short", longestLine>>20)})
		return
	}
	var whole json.RawMessage
	if err := json.Unmarshal(text, &whole); err != nil {
		f := Fault{File: r.path, Line: n, Column: 1, Message: err.Error() + "; one JSON object a line would do"}
		var at *json.SyntaxError
		if errors.As(err, &at) {
			f.Column = len([]rune(string(text[:min(int(at.Offset), len(text))])))
		}
		r.faults = append(r.faults, f)
		return
	}
	var root yaml.Node // JSON is YAML, and its nodes know where they stand
	d := &document{name: r.path}
	if err := yaml.Unmarshal(text, &root); err != nil {
		d.syntax(err)
	} else if len(root.Content) != 1 || root.Content[0].Kind != yaml.MappingNode {
		d.at(&root, "", "an object is wanted; {…} would do")
	} else {
		d.plainNodes(&root)
		d.top = d.section(root.Content[0], "")
		read(d)
	}
	_ = d.err() // sorts
	for _, f := range d.faults {
		f.Line = n
		r.faults = append(r.faults, f)
	}
}

// head reads the first line.
func (r *dialingsReader) head(n int, text []byte) {
	r.line(n, text, func(d *document) {
		top := &d.top
		if kind, at := top.text("kind"); at == nil || kind != "dialings" {
			d.at(orNode(at, top.node), "kind", "this is no file of dialings; \"kind\":\"dialings\" would be its first key")
			return
		}
		if version, at := top.text("version"); at == nil || version != "1" {
			d.at(orNode(at, top.node), "version", "%s; 1 would do", scenarios.Shown(version))
			return
		}
		x := &scenarios.Dialings{Tasks: map[string]scenarios.DialedTask{}, Settings: map[string]*scenarios.Profile{}}
		if s, ok := d.needed(top, "device"); ok {
			x.Device.Kind = scenarios.DeviceWords()[s.word("kind", scenarios.DeviceWords()...)]
			x.Device.Name = s.line("name")
			clicks := int64(0)
			if s.whole("clicks_per_turn", 1, 10_000, &clicks) == nil {
				d.at(s.node, s.path("clicks_per_turn"), "is missing; 24 would do")
			}
			x.Device.ClicksPerTurn = int(clicks)
			s.end()
		}
		if s, ok := top.sub("rates"); ok {
			x.Rates.Stamp, _ = s.millis("stamp_ms", 0, 1000)
			x.Rates.Poll, _ = s.millis("poll_ms", 0, 1000)
			x.Rates.Screen = encoder.PerSecond(s.real("screen_per_s", 0, 10_000))
			s.end()
		}
		if s, ok := d.needed(top, "program"); ok {
			if s.value["frames_per_s"] != nil {
				b, _ := encoder.BoundOf("program.frames")
				x.Program.Frames = encoder.PerSecond(s.real("frames_per_s", b.Low, b.High))
			}
			b, _ := encoder.BoundOf("display.latency")
			var told bool
			if x.Program.Lag, told = s.millis("lag_ms", 0, b.High/1e6); !told {
				d.at(s.node, s.path("lag_ms"), "is missing; 0 would do")
			}
			s.known = append(s.known, "frames_per_s")
			s.end()
		}
		if s, ok := d.needed(top, "tasks"); ok {
			for _, k := range slices.Clone(s.keys) {
				if t, ok := s.sub(k.Value); ok {
					x.Tasks[k.Value] = d.dialedTask(&t)
				}
			}
		}
		if s, ok := d.needed(top, "settings"); ok {
			for _, k := range slices.Clone(s.keys) {
				if t, ok := s.sub(k.Value); ok {
					x.Settings[k.Value] = d.dialedSetting(&t)
				}
			}
		}
		top.end()
		for _, what := range []struct {
			key string
			n   int
		}{{"tasks", len(x.Tasks)}, {"settings", len(x.Settings)}} {
			if what.n == 0 && d.good() {
				d.at(top.node, what.key, "none is there")
			}
		}
		if d.good() {
			r.d = x
		}
	})
}

// needed reads a mapping that cannot be left out.
func (d *document) needed(s *section, key string) (section, bool) {
	sub, ok := s.sub(key)
	if !ok {
		d.at(s.node, s.path(key), "is missing")
	}
	return sub, ok && sub.node.Kind == yaml.MappingNode
}

func orNode(n, otherwise *yaml.Node) *yaml.Node {
	if n == nil {
		return otherwise
	}
	return n
}

func (d *document) dialedTask(s *section) (t scenarios.DialedTask) {
	t.Unit = s.line("unit")
	for _, x := range []struct {
		key       string
		low, high int64
		to        *int64
	}{{"low", -1e12, 1e12, &t.Scale.Low}, {"count", 2, 1e9, &t.Scale.Count}, {"tolerance", 0, 1e9, &t.Tolerance}} {
		if s.whole(x.key, x.low, x.high, x.to) == nil {
			d.at(s.node, s.path(x.key), "is missing; a whole number of steps would do")
		}
	}
	if s.value["wrap"] == nil {
		d.at(s.node, s.path("wrap"), "is missing; true or false would do")
	}
	t.Scale.Wrap = s.yes("wrap")
	s.end()
	if d.good() && 2*t.Tolerance >= t.Scale.Count {
		d.at(s.node, s.path("tolerance"), "%d of %d numbers; a target that can be missed would do", t.Tolerance, t.Scale.Count)
	}
	return t
}

// dialedSetting reads a profile inside the first line, of which only the acceleration has
// a place here.
func (d *document) dialedSetting(s *section) *scenarios.Profile {
	p := &scenarios.Profile{}
	if kind, n := s.text("kind"); n == nil || kind != "profile" {
		d.at(orNode(n, s.node), s.path("kind"), "a profile is wanted, as export --as json writes it")
	}
	if version, n := s.text("version"); n == nil || version != "1" {
		d.at(orNode(n, s.node), s.path("version"), "%s; 1 would do", scenarios.Shown(version))
	}
	name, n := s.text("name")
	if n == nil {
		d.at(s.node, s.path("name"), "is missing; any short name would do")
	}
	p.Name = name
	for _, key := range []string{"settings", "parts", "press"} {
		if n := s.take(key); n != nil {
			d.at(n, s.path(key), "only the acceleration of a profile can be dialed with a knob of one's own; leave it out")
		}
	}
	d.says(p, s)
	s.end()
	return p
}

// dialing reads a line after the first.
func (r *dialingsReader) dialing(n int, text []byte, ended bool) {
	if len(r.d.All) == mostDialings {
		r.faults = append(r.faults, Fault{File: r.path, Line: n, Column: 1, Message: fmt.Sprintf("more than %d dialings; several files would do", mostDialings)})
		return
	}
	x := scenarios.Dialing{Line: n}
	before := len(r.faults)
	r.line(n, text, func(d *document) {
		top := &d.top
		x.Task, x.Setting = given(d, top, "task", r.d.Tasks), given(d, top, "setting", r.d.Settings)
		task := r.d.Tasks[x.Task]
		whole := func(key string, low, high int64) (v int64) {
			if top.whole(key, low, high, &v) == nil {
				d.at(top.node, key, "is missing; a whole number from %d to %d would do", low, high)
			}
			return v
		}
		x.Pair, x.Order = int(whole("pair", 0, mostDialings)), int(whole("order", 1, 2))
		last := max(0, task.Scale.Count-1)
		x.Start, x.Target = whole("start", 0, last), whole("target", 0, last)
		if x.Start == x.Target && d.good() {
			d.at(top.node, "target", "%d is the start; another number would do", x.Target)
		}
		b, _ := encoder.BoundOf("program.phase")
		x.Phase, _ = top.millis("phase_ms", 0, b.High/1e6)
		var told bool
		if x.End, told = top.millis("end_ms", 0, longestDialing); !told {
			d.at(top.node, "end_ms", "is missing; milliseconds from the target's appearance would do")
		}
		if top.value["outcome"] == nil {
			d.at(top.node, "outcome", "is missing; right would do")
		}
		x.Outcome = scenarios.Outcome(top.word("outcome", scenarios.OutcomeWords()...))
		d.timed(top, "events", func(at time.Duration, v int64, n *yaml.Node, field string) {
			if v == 0 || max(v, -v) > 1000 {
				d.at(n, field, "%d clicks; 1 to 1000, or less than 0 counter-clockwise, would do", v)
			}
			x.Clicks = append(x.Clicks, scenarios.DialedClick{At: at, Clicks: v})
		})
		d.timed(top, "shown", func(at time.Duration, v int64, n *yaml.Node, field string) {
			if v < 0 || v > last {
				d.at(n, field, "%d; a number from 0 to %d would do", v, last)
			}
			x.Shown = append(x.Shown, encoder.Change{At: int64(at), Value: v})
		})
		top.end()
		if d.good() {
			d.outcome(&x, task)
		}
	})
	if !ended && len(r.faults) > before {
		f := &r.faults[len(r.faults)-1]
		f.Message += ", and there the file is cut off: without this line the others would do"
	}
	r.d.All = append(r.d.All, x)
}

// outcome checks that the number stood where the outcome says.
func (d *document) outcome(x *scenarios.Dialing, task scenarios.DialedTask) {
	at := x.Start
	for _, c := range x.Shown {
		if c.At <= int64(x.End) {
			at = c.Value
		}
	}
	off := task.Scale.Distance(at, x.Target)
	within := max(off, -off) <= task.Tolerance
	if x.Outcome == scenarios.Right && !within || x.Outcome == scenarios.Wrong && within {
		d.at(d.top.node, "outcome", "%s, but the number stood %d steps from the target", x.Outcome, max(off, -off))
	}
}

// given reads the name of something in the first line.
func given[T any](d *document, s *section, key string, of map[string]T) string {
	text, n := s.text(key)
	names := []string{}
	for name := range of {
		names = append(names, name)
	}
	slices.Sort(names)
	switch _, ok := of[text]; {
	case n == nil:
		d.at(s.node, key, "is missing; %s would do", columns.Line(names[0]))
	case !ok && text != "":
		d.at(n, key, "the first line has no %s; %s", scenarios.Shown(text), meant(text, names))
	}
	return text
}

// timed reads a list of [ms, whole number] in the order of time.
func (d *document) timed(s *section, key string, use func(at time.Duration, v int64, n *yaml.Node, field string)) {
	list := s.take(key)
	if list == nil {
		d.at(s.node, key, "is missing; a list of [ms, number] would do")
		return
	}
	if list.Kind != yaml.SequenceNode {
		d.at(list, key, "a list of [ms, number] is wanted, not %s", shape(list))
		return
	}
	last := time.Duration(-1)
	for i, e := range list.Content {
		field := key + "[" + strconv.Itoa(i) + "]"
		if e.Kind != yaml.SequenceNode || len(e.Content) != 2 {
			d.at(e, field, "[ms, number] is wanted")
			continue
		}
		at, err := d.milliseconds(e.Content[0], 0, longestDialing)
		if err != nil {
			d.at(e.Content[0], field, "%v", err)
			continue
		}
		if at < last {
			d.at(e.Content[0], field, "%s ms does not come after the one before it; times in their order would do", e.Content[0].Value)
		}
		last = at
		v, err := scenarios.Whole.Exact(e.Content[1].Value)
		if e.Content[1].Kind != yaml.ScalarNode || err != nil {
			d.at(e.Content[1], field, "%s; a whole number would do", shape(e.Content[1]))
			continue
		}
		use(at, v, e.Content[1], field)
	}
}

// millis reads a number of milliseconds, to the nanosecond; false where it is absent.
func (s *section) millis(key string, low, high float64) (time.Duration, bool) {
	n := s.take(key)
	if n == nil {
		return 0, false
	}
	t, err := s.d.milliseconds(n, low, high)
	if err != nil {
		s.d.at(n, s.path(key), "%v", err)
	}
	return t, true
}

func (d *document) milliseconds(n *yaml.Node, low, high float64) (time.Duration, error) {
	v, err := strconv.ParseFloat(n.Value, 64)
	if n.Kind != yaml.ScalarNode || n.Tag == "!!str" || err != nil || !(v >= low && v <= high) {
		return 0, fmt.Errorf("%s; milliseconds from %g to %g would do", shape(n), low, high)
	}
	return time.Duration(math.Round(v * 1e6)), nil
}

// real reads a number; 0 where it is absent.
func (s *section) real(key string, low, high float64) float64 {
	n := s.take(key)
	if n == nil {
		return 0
	}
	v, err := strconv.ParseFloat(n.Value, 64)
	if n.Kind != yaml.ScalarNode || n.Tag == "!!str" || err != nil || !(v >= low && v <= high) {
		s.d.at(n, s.path(key), "%s; a number from %g to %g would do", shape(n), low, high)
		return 0
	}
	return v
}
