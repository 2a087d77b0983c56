package file

import (
	"strconv"

	"go.yaml.in/yaml/v4"

	"dialwright/scenarios"
)

// panel reads the document as a panel. Rigs and tasks are built-in names, or
// files beside the panel's.
func (d *document) panel(l *Loader) *scenarios.Panel {
	p := &scenarios.Panel{}
	top := &d.top
	p.Name = top.name()
	p.Title = top.line("title")
	knobs := top.list("knobs")
	if knobs == nil && !d.has("knobs") {
		d.at(top.node, "knobs", "is missing; a list of knobs would do")
	}
	seen := map[string]bool{}
	for i, n := range knobs {
		s := d.section(n, "knobs["+strconv.Itoa(i)+"]")
		k := d.knob(l, &s)
		if seen[k.Name] {
			d.at(n, s.path("name"), "there is a knob %s already", scenarios.Shown(k.Name))
		}
		seen[k.Name] = true
		p.Knobs = append(p.Knobs, k)
	}
	top.end()
	return p
}

func (d *document) knob(l *Loader, s *section) scenarios.Knob {
	k := scenarios.Knob{Name: s.name()}
	rings := int64(1)
	s.whole("rings", 1, 2, &rings)
	k.Rings = int(rings)
	switch n := s.take("rig"); {
	case n == nil:
		d.at(s.node, s.path("rig"), "is missing; a rig's name or file would do")
	case n.Kind == yaml.MappingNode:
		m := d.section(n, s.path("rig"))
		k.Inner = d.rigOf(l, &m, "inner")
		if outer := d.rigOf(l, &m, "outer"); k.Rings == 2 {
			k.Outer = outer
		} else if outer != nil {
			d.at(n, m.path("outer"), "the knob has one ring; rings: 2, or one rig, would do")
		}
		m.end()
	default:
		k.Inner = d.namedRig(l, n, s.path("rig"))
		if k.Rings == 2 {
			k.Outer = k.Inner
		}
	}
	k.Board = s.line("board")
	k.Selector = s.yes("selector")
	seen := map[string]bool{}
	for i, n := range s.list("tasks") {
		u := d.section(n, s.path("tasks")+"["+strconv.Itoa(i)+"]")
		use := scenarios.Use{PerHour: 1}
		if name, at := u.text("task"); at != nil {
			t, err := l.Task(name)
			d.other(at, u.path("task"), err)
			use.Task = t
			if seen[name] {
				d.at(at, u.path("task"), "the knob has the task %s already", scenarios.Shown(name))
			}
			seen[name] = true
		} else {
			d.at(n, u.path("task"), "is missing; a task's name or file would do")
		}
		if at := u.number("per_hour", scenarios.Fraction, &use.PerHour); at != nil && !(use.PerHour > 0 && use.PerHour <= 1e6) {
			d.at(at, u.path("per_hour"), "%g; more than 0 would do", use.PerHour)
		}
		u.end()
		if use.Task != nil {
			k.Tasks = append(k.Tasks, use)
		}
	}
	if len(k.Tasks) == 0 && d.good() {
		d.at(s.node, s.path("tasks"), "is missing; a list of {task: …, per_hour: …} would do")
	}
	if len(k.Tasks) > 1 && !k.Selector {
		d.at(s.node, s.path("selector"), "%d tasks on one knob need a selector; selector: true would do", len(k.Tasks))
	}
	s.end()
	return k
}

func (d *document) rigOf(l *Loader, s *section, key string) *scenarios.Rig {
	n := s.take(key)
	if n == nil {
		if key == "inner" {
			d.at(s.node, s.path(key), "is missing; a rig's name or file would do")
		}
		return nil
	}
	return d.namedRig(l, n, s.path(key))
}

func (d *document) namedRig(l *Loader, n *yaml.Node, field string) *scenarios.Rig {
	name := d.text(n, field)
	if name == "" {
		return nil
	}
	r, err := l.Rig(name)
	d.other(n, field, err)
	return r
}
