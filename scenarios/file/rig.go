package file

import (
	"strconv"
	"strings"

	"go.yaml.in/yaml/v4"

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

// presetKeys are set before all others, so that what stands beside a preset
// wins.
var presetKeys = map[string]bool{"knob.part": true, "system.repeat": true}

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
		if n := top.value[k.Value]; hasGroup(k.Value) && n != ticked {
			top.take(k.Value)
			keys = d.flatten(keys, k.Value, k, n)
		}
	}
	top.known = append(top.known, groups...)
	for _, presets := range []bool{true, false} {
		for _, w := range keys {
			if presetKeys[w.key] != presets {
				continue
			}
			if w.key == "program.frame_list" {
				if r.Program.FrameList = l.frameList(d, w); r.Program.FrameList != nil {
					r.Program.Frames, r.Program.Jitter = encoder.Default().Program.Frames, encoder.Default().Program.Jitter
				}
				continue
			}
			if err := scenarios.Set(&r.Rig, w.key, w.value); err != nil {
				d.fault(w.at, w.key, err)
			}
		}
	}
	place := map[string]*yaml.Node{}
	for _, w := range keys {
		place[w.key] = w.at
	}
	if len(d.faults) == 0 {
		d.unused(r, keys)
		for _, f := range scenarios.Check(&r.Rig) {
			d.fault(nearestPlace(place, f.Field, top.node), f.Field, f)
		}
	}
	if len(d.faults) == 0 {
		scenarios.Settle(&r.Rig)
	}
	d.adjustable(r)
	top.end()
	return r
}

// groups are the mappings of a rig file.
var groups = []string{"knob", "firmware", "usb", "system", "program", "display"}

func hasGroup(key string) bool {
	for _, g := range groups {
		if g == key {
			return true
		}
	}
	return false
}

// flatten turns nested keys into dotted ones.
func (d *document) flatten(to []written, path string, key, n *yaml.Node) []written {
	if path == "usb.poll" && n.Kind == yaml.MappingNode {
		return append(to, written{path, d.pollOf(n), n, key})
	}
	if n.Kind != yaml.MappingNode {
		if strings.Count(path, ".") == 0 && n.Tag != "!!null" {
			d.at(n, path, "keys and values are wanted, not %s", shape(n))
			return to
		}
		if n.Tag == "!!null" {
			if strings.Contains(path, ".") {
				d.at(n, path, "has no value")
			}
			return to
		}
		return append(to, written{path, d.text(n, path), n, key})
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
	if len(d.faults) > 0 {
		return "8ms"
	}
	t, err := part.Poll(speed, int(interval))
	if err != nil {
		d.at(n, "usb.poll", "%v", err)
		return "8ms"
	}
	return scenarios.TimeText(t)
}

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
	if len(r.Program.FrameList) > 0 {
		for _, w := range keys {
			if w.key == "program.frames" || w.key == "program.jitter" {
				if !d.has(w.key) {
					d.at(w.keyAt, w.key, "stands beside program.frame_list; leave one of them out")
				}
			}
		}
	}
}

// has says whether a field has a fault already.
func (d *document) has(field string) bool {
	for _, f := range d.faults {
		if f.Field == field {
			return true
		}
	}
	return false
}

// nearestPlace returns where a field stands, or the nearest field above it.
func nearestPlace(place map[string]*yaml.Node, field string, otherwise *yaml.Node) *yaml.Node {
	for field != "" {
		if n := place[field]; n != nil {
			return n
		}
		i := strings.LastIndexAny(field, ".[")
		if i < 0 {
			break
		}
		field = field[:i]
	}
	return otherwise
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
		g := scenarios.Range{Key: k.Value}
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
			for key, to := range map[string]*string{"from": &g.From, "to": &g.To, "by": &g.By} {
				if *to, _ = m.text(key); *to == "" {
					d.at(n, m.path(key), "is missing; a value of %s would do", k.Value)
				}
			}
			m.end()
		default:
			d.at(n, s.path(k.Value), "{from: …, to: …, by: …} or a list is wanted, not %s", shape(n))
			continue
		}
		if len(d.faults) == 0 {
			if _, err := g.Choices(); err != nil {
				d.fault(n, "adjustable", err)
			}
		}
		r.Adjustable.Settings = append(r.Adjustable.Settings, g)
	}
	if a, ok := s.sub("acceleration"); ok {
		for _, h := range a.words("home", homes) {
			r.Adjustable.Homes = append(r.Adjustable.Homes, scenarios.Home(h))
		}
		for _, c := range a.words("curves", scenarios.Curves()) {
			r.Adjustable.Curves = append(r.Adjustable.Curves, scenarios.Curves()[c])
		}
		a.end()
	}
	s.end()
}

// homes are the words for encoder.Home, in the order of its constants.
var homes = []string{"program", "firmware"}
