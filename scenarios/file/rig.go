package file

import (
	"errors"
	"slices"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v4"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/encoder/part"
	"dialwright/scenarios"
)

// written is a key of a rig file with its value.
type written struct {
	key, value string
	at         *yaml.Node // the value
	keyAt      *yaml.Node
}

// rig reads the document as a rig.
func (d *document) rig(l *Loader) *scenarios.Rig {
	r := &scenarios.Rig{Rig: encoder.Default()}
	top := &d.top
	r.Name = top.name()
	var keys []written
	for _, k := range append([]*yaml.Node(nil), top.keys...) {
		switch k.Value {
		case "kind", "version", "name", "adjustable":
			continue
		}
		if n := top.value[k.Value]; slices.Contains(groups, k.Value) && n != ticked {
			top.take(k.Value)
			keys = d.flatten(keys, k.Value, k, n)
		}
	}
	top.known = append(top.known, groups...)
	var presets []string // set before all others, so that what stands beside one wins
	for _, k := range scenarios.Describe() {
		if k.Presets != nil {
			presets = append(presets, k.Name)
		}
	}
	for _, first := range []bool{true, false} {
		for _, w := range keys {
			switch {
			case slices.Contains(presets, w.key) != first:
			case w.key == "program.frame_list" && w.at.Kind == yaml.SequenceNode:
				r.Program.FrameList = d.frameTimes(w.at)
			case w.key == "program.frame_list" && w.value != "none":
				r.Program.FrameList = l.frameList(d, w)
			default:
				if err := scenarios.Set(&r.Rig, w.key, w.value); err != nil {
					d.fault(w.at, w.key, err)
				}
			}
		}
	}
	if !d.has(deciding...) {
		d.unused(r, keys)
		scenarios.Settle(&r.Rig)
		for _, f := range scenarios.Check(&r.Rig) {
			if !d.hasBeside(f.Field) { // a key without its value would be compared with others
				d.fault(find(top.node, f.Field), f.Field, f)
			}
		}
	}
	d.adjustable(r)
	top.end()
	return r
}

// groups are the mappings of a rig file.
var groups = []string{"knob", "firmware", "usb", "system", "program", "display"}

// flatten turns nested keys into dotted ones.
func (d *document) flatten(to []written, path string, key, n *yaml.Node) []written {
	if path == "usb.poll" && n.Kind == yaml.MappingNode {
		return append(to, written{path, d.pollOf(n), n, key})
	}
	if path == "program.frame_list" && n.Kind == yaml.SequenceNode {
		return append(to, written{path, "", n, key})
	}
	if n.Kind != yaml.MappingNode {
		if strings.Count(path, ".") == 0 && n.Kind != yaml.AliasNode && n.Tag != "!!null" {
			d.at(n, path, "keys and values are wanted, not %s", shape(n))
			return to
		}
		if n.Tag == "!!null" {
			if strings.Contains(path, ".") {
				d.at(n, path, "has no value")
			}
			return to
		}
		if text := d.text(n, path); text != "" {
			to = append(to, written{path, text, n, key})
		}
		return to
	}
	s := d.section(n, path)
	for _, k := range s.keys {
		to = d.flatten(to, path+"."+k.Value, k, s.value[k.Value])
	}
	return to
}

// pollOf reads {speed: full, interval: 10}.
func (d *document) pollOf(n *yaml.Node) string {
	s := d.section(n, "usb.poll")
	speed := part.Speed(s.word("speed", part.Speeds...))
	interval := int64(0)
	if s.whole("interval", 1, 255, &interval) == nil {
		d.at(n, "usb.poll.interval", "is missing; the endpoint's bInterval, 1 to 255, would do")
	}
	s.end()
	t, err := part.Poll(speed, int(max(interval, 1))) // 0 was told
	if err != nil {
		d.at(n, "usb.poll", "%v", err)
	}
	return scenarios.TimeText(t)
}

// deciding are the keys that decide which others a rig uses.
var deciding = []string{"firmware.output", "firmware.hold", "program.sampling", "program.frame_list", "program.hold", "program.hold.period"}

// unused refuses keys that the chosen output or sampling does not use.
func (d *document) unused(r *scenarios.Rig, keys []written) {
	all := scenarios.Describe()
	for _, w := range keys {
		for _, k := range all {
			if k.Name == w.key && !k.Used(&r.Rig) && w.value != "none" {
				d.at(w.keyAt, w.key, "this rig does not use it; %s", k.Belongs)
			}
		}
	}
}

// has says whether one of some fields has a fault already.
func (d *document) has(fields ...string) bool {
	return slices.ContainsFunc(fields, func(f string) bool { return d.faulty[f] })
}

// hasBeside says whether a key of the same group as a field has a fault already.
func (d *document) hasBeside(field string) bool {
	group := field[:strings.LastIndexByte(field, '.')+1]
	return slices.ContainsFunc(d.faults, func(f Fault) bool { return strings.HasPrefix(f.Field, group) && f.Field != field })
}

// frameTimes reads frame times that stand in the rig file itself.
func (d *document) frameTimes(n *yaml.Node) (list []time.Duration) {
	const field = "program.frame_list"
	if len(n.Content) == 0 {
		d.at(n, field, "the list is empty")
	}
	for i, c := range n.Content {
		at := field + "[" + strconv.Itoa(i) + "]"
		text := d.text(c, at)
		if text == "" {
			continue
		}
		t, err := scenarios.ParseTime(text)
		if err != nil {
			d.fault(c, at, err)
		} else if f := scenarios.FrameTime(t); f != nil {
			d.fault(c, at, *f)
		}
		list = append(list, t)
	}
	return list
}

// adjustable reads what the owner can change.
func (d *document) adjustable(r *scenarios.Rig) {
	s, ok := d.top.sub("adjustable")
	if !ok {
		return
	}
	for _, k := range append([]*yaml.Node(nil), s.keys...) {
		if k.Value == "acceleration" {
			continue
		}
		n := s.take(k.Value)
		if n == nil {
			continue
		}
		g, before := scenarios.Range{Key: k.Value}, len(d.faults)
		switch n.Kind {
		case yaml.SequenceNode:
			for i, v := range n.Content {
				g.Values = append(g.Values, d.text(v, s.path(k.Value)+"["+strconv.Itoa(i)+"]"))
			}
			if g.Values == nil {
				g.Values = []string{}
			}
		case yaml.MappingNode:
			m := d.section(n, s.path(k.Value))
			for _, end := range []struct {
				key string
				to  *string
			}{{"from", &g.From}, {"to", &g.To}, {"by", &g.By}} {
				text, at := m.text(end.key)
				if at == nil {
					d.at(n, m.path(end.key), "is missing; a value of %s would do", k.Value)
				}
				*end.to = text
			}
			m.end()
		default:
			d.at(n, s.path(k.Value), "{from: …, to: …, by: …} or a list is wanted, not %s", shape(n))
			continue
		}
		if len(d.faults) == before {
			if _, err := g.Choices(); err != nil {
				d.choices(n, s.path(k.Value), err)
			}
		}
		r.Adjustable.Settings = append(r.Adjustable.Settings, g)
	}
	if a, ok := s.sub("acceleration"); ok {
		for _, h := range a.words("home", encoder.Words[encoder.Home]()) {
			r.Adjustable.Homes = append(r.Adjustable.Homes, scenarios.Home(h))
		}
		for _, c := range a.words("curves", accel.CurveWords()) {
			r.Adjustable.Curves = append(r.Adjustable.Curves, accel.CurveWords()[c])
		}
		if r.Adjustable.Curves == nil { // every kind there is
			r.Adjustable.Curves = accel.CurveWords()
		}
		a.end()
	}
	s.end()
}

// choices adds what is wrong with the values of an adjustable key, each at its
// place below n.
func (d *document) choices(n *yaml.Node, field string, err error) {
	var fs scenarios.Faults
	if !errors.As(err, &fs) {
		d.at(n, field, "%v", err)
	}
	for _, f := range fs {
		rest := strings.TrimPrefix(f.Field, strings.TrimPrefix(field, "adjustable."))
		d.at(find(n, rest), field+rest, "%s; %s", f.Found, f.Would)
	}
}
