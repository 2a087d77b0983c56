package file

import (
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v4"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
)

// profile reads the document as a profile.
func (d *document) profile() *scenarios.Profile {
	p := &scenarios.Profile{}
	top := &d.top
	p.Name = top.name()
	d.says(p, top)
	named := map[string]bool{}
	for i, n := range top.list("parts") {
		s := d.section(n, "parts["+strconv.Itoa(i)+"]")
		part := scenarios.Part{Profile: scenarios.Profile{Name: p.Name}}
		for j, name := range s.list("for") {
			text := d.text(name, s.path("for")+"["+strconv.Itoa(j)+"]")
			if named[text] {
				d.at(name, s.path("for"), "%s has a part already; one each would do", scenarios.Shown(text))
			}
			named[text] = true
			part.For = append(part.For, text)
		}
		if part.For == nil {
			d.at(s.node, s.path("for"), "is missing; names of knobs or tasks, such as [autopilot], would do")
		}
		d.says(&part.Profile, &s)
		s.end()
		p.Parts = append(p.Parts, part)
	}
	top.end()
	return p
}

// says reads what a profile or a part of one says.
func (d *document) says(p *scenarios.Profile, in *section) {
	if s, ok := in.sub("settings"); ok {
		scratch := encoder.Default()
		for _, k := range append([]*yaml.Node(nil), s.keys...) {
			text, n := s.text(k.Value)
			if n == nil {
				continue
			}
			if err := scenarios.Set(&scratch, k.Value, text); err != nil {
				d.fault(n, s.path(k.Value), err)
			}
			p.Settings = append(p.Settings, scenarios.Setting{Key: k.Value, Value: text})
		}
	}
	if s, ok := in.sub("acceleration"); ok {
		d.acceleration(p, s)
	}
	if s, ok := in.sub("press"); ok {
		if s.whole("coarse", scenarios.MinPressCoarse, scenarios.MaxPressCoarse, &p.PressCoarse) == nil {
			d.at(s.node, s.path("coarse"), "is missing; 10 would do")
		}
		s.end()
	}
}

func (d *document) acceleration(p *scenarios.Profile, s section) {
	a, before := &p.Acceleration, len(d.faults)
	p.Home = one[encoder.Home](&s, "home")
	base, landing := int64(0), int64(0)
	s.whole("base", 1, accel.MaxBase, &base)
	a.Base = int(base)
	a.Tick = tick(&s)
	if r, ok := s.sub("rate"); ok {
		a.Rate.From = one[accel.From](&r, "from")
		r.time("over", &a.Rate.Over)
		r.time("rest", &a.Rate.Rest)
		a.Rate.Reversal = one[accel.Reversal](&r, "reversal")
		r.end()
	}
	a.Curve = d.curve(&s)
	a.Steps = one[accel.Steps](&s, "steps")
	if l, ok := s.sub("landing"); ok {
		if l.whole("above", 1, accel.MaxGain*accel.MaxBase, &landing) == nil {
			d.at(l.node, l.path("above"), "is missing; 5 would do")
		}
		l.end()
	}
	a.Landing = int(landing)
	s.end()
	if len(d.faults) > before {
		return
	}
	if _, err := a.Compile(); err != nil {
		faults, ok := err.(accel.Faults)
		if !ok {
			d.at(s.node, s.field, "%v", err)
		}
		for _, f := range faults {
			d.at(find(s.node, f.Field), s.path(f.Field), "%s; %s", f.Found, f.Want)
		}
	}
}

// tick reads the clock's unit.
func tick(s *section) time.Duration {
	if s.word("tick", "1ms", "1us") == 1 {
		return time.Microsecond
	}
	return 0
}

// one reads the word of a mode.
func one[M encoder.Mode](s *section, key string) M { return M(s.word(key, encoder.Words[M]()...)) }

// curve reads one of the curves; nil is a constant gain of 1.
func (d *document) curve(s *section) accel.Curve {
	in, ok := s.sub("curve")
	if !ok {
		return nil
	}
	if len(in.keys) != 1 {
		d.at(in.node, in.field, "%d curves; one of %s would do", len(in.keys), strings.Join(accel.CurveWords(), ", "))
		return nil
	}
	defer in.end()
	for _, k := range accel.Curves() {
		if v, ok := in.sub(k.Word); ok {
			return d.curveOf(k, &v)
		}
	}
	return nil
}

// curveOf reads the numbers of a curve of one kind.
func (d *document) curveOf(k *accel.Kind, s *section) accel.Curve {
	c := k.Default
	for _, p := range k.Parameters {
		v := p.Of(c)
		s.number(p.Word, quantityOf(p), &v)
		c = p.With(c, v)
	}
	if k.Rows != nil {
		c = k.Rows.With(c, d.rows(k.Rows, s))
	}
	s.end()
	return c
}

// rows reads the corners of a curve, of which no number may be left out.
func (d *document) rows(r *accel.Rows, s *section) (rows [][2]float64) {
	for i, n := range s.must(r.Word) {
		e := d.section(n, s.path(r.Word)+"["+strconv.Itoa(i)+"]")
		var row [2]float64
		for j, p := range []accel.Parameter{r.Rate, r.Gain} {
			if e.number(p.Word, quantityOf(p), &row[j]) == nil {
				d.at(e.node, e.path(p.Word), "is missing")
			}
		}
		e.end()
		rows = append(rows, row)
	}
	return rows
}

// quantityOf is how a file writes a number of a curve.
func quantityOf(p accel.Parameter) scenarios.Quantity {
	switch p.Quantity {
	case accel.PerSecond:
		return scenarios.Rate
	case accel.Share:
		return scenarios.Share
	}
	return scenarios.Fraction
}

// find returns the node of a dotted field, or the nearest above it.
func find(n *yaml.Node, field string) *yaml.Node {
	for _, name := range fieldNames(field) {
		next := (*yaml.Node)(nil)
		if i, err := strconv.Atoi(name); err == nil && n.Kind == yaml.SequenceNode && i < len(n.Content) {
			next = n.Content[i]
		}
		if n.Kind == yaml.MappingNode {
			for i := 0; i+1 < len(n.Content); i += 2 {
				if n.Content[i].Value == name {
					next = n.Content[i+1]
				}
			}
		}
		if next == nil {
			return n
		}
		n = next
	}
	return n
}

// fieldNames splits rate.rest or curve.ladder.steps[1].gain into its names.
func fieldNames(field string) []string {
	return strings.FieldsFunc(field, func(r rune) bool { return r == '.' || r == '[' || r == ']' })
}
