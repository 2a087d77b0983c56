package file

import (
	"bytes"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v4"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
)

// Write returns a rig, profile, panel, task, operator or population as a file that
// reads back to the same thing. What a panel or a population names is written by its
// name.
func Write(thing any) ([]byte, error) {
	n, err := Tree(thing)
	if err != nil {
		return nil, err
	}
	return encode(n)
}

// Tree returns what Write writes as a mapping, for whoever writes it in another
// form.
func Tree(thing any) (*yaml.Node, error) { return tree(thing, nil) }

// tree returns a thing as a document. Of a rig it leaves out what another rig
// has as well, of a profile what it has anyhow, unless the other rig is nil.
func tree(thing any, but *encoder.Rig) (*yaml.Node, error) {
	b := builder{root: &yaml.Node{Kind: yaml.MappingNode}}
	switch v := thing.(type) {
	case *scenarios.Rig:
		b.head("rig", v.Name)
		b.rig(v, but)
	case *scenarios.Profile:
		b.head("profile", v.Name)
		b.profile(v)
	case *scenarios.Panel:
		b.head("panel", v.Name)
		b.panel(v)
	case *scenarios.Task:
		b.head("task", v.Name)
		b.task(v)
	case *scenarios.Operator:
		b.head("operator", v.Name)
		b.operator(v)
	case *scenarios.Population:
		b.head("population", v.Name)
		b.population(v)
	default:
		return nil, fmt.Errorf("%T is no kind of file", thing)
	}
	return b.root, nil
}

func encode(n *yaml.Node) ([]byte, error) {
	var out bytes.Buffer
	e := yaml.NewEncoder(&out)
	e.SetIndent(2)
	if err := errors.Join(e.Encode(n), e.Close()); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// builder makes a document key by key.
type builder struct{ root *yaml.Node }

func (b builder) head(kind, name string) {
	b.plain("kind", kind)
	b.plain("version", "1")
	b.text("name", name)
}

// plain puts a value that needs no quotes under a dotted key.
func (b builder) plain(key, value string) {
	put(b.root, key, &yaml.Node{Kind: yaml.ScalarNode, Value: value})
}

// text puts a string of the user's.
func (b builder) text(key, value string) {
	n := &yaml.Node{}
	n.SetString(value)
	if strings.Contains(value, "\n") {
		n.Style = yaml.DoubleQuotedStyle
	}
	put(b.root, key, n)
}

// put sets a dotted key below a mapping, and makes the mappings on the way.
func put(n *yaml.Node, key string, value *yaml.Node) {
	name, rest, deeper := strings.Cut(key, ".")
	for i := 0; i+1 < len(n.Content); i += 2 {
		if n.Content[i].Value != name {
			continue
		}
		if deeper && n.Content[i+1].Kind == yaml.MappingNode {
			put(n.Content[i+1], rest, value)
			return
		}
		if !deeper {
			n.Content[i+1] = value
			return
		}
	}
	k := &yaml.Node{}
	k.SetString(name)
	if deeper {
		child := &yaml.Node{Kind: yaml.MappingNode}
		put(child, rest, value)
		value = child
	}
	n.Content = append(n.Content, k, value)
}

func list(of ...*yaml.Node) *yaml.Node {
	return &yaml.Node{Kind: yaml.SequenceNode, Style: yaml.FlowStyle, Content: of}
}

func word(s string) *yaml.Node { return &yaml.Node{Kind: yaml.ScalarNode, Value: s} }

// flow returns a mapping on one line.
func flow(pairs ...string) *yaml.Node {
	n := &yaml.Node{Kind: yaml.MappingNode, Style: yaml.FlowStyle}
	for i := 0; i+1 < len(pairs); i += 2 {
		n.Content = append(n.Content, word(pairs[i]), word(pairs[i+1]))
	}
	return n
}

func (b builder) rig(r *scenarios.Rig, but *encoder.Rig) {
	for _, k := range scenarios.Keys(&r.Rig) {
		if but != nil && k != "program.frame_list" && scenarios.Get(&r.Rig, k) == scenarios.Get(but, k) {
			continue
		}
		if k == "program.frame_list" {
			if r.Program.FrameList != nil {
				times := list()
				for _, t := range r.Program.FrameList {
					times.Content = append(times.Content, word(scenarios.TimeText(t)))
				}
				put(b.root, k, times)
			}
			continue
		}
		if v := scenarios.Get(&r.Rig, k); v != "none" || but != nil || k == "knob.detents" || k == "system.repeat.rate" {
			b.plain(k, v)
		}
	}
	a := &yaml.Node{Kind: yaml.MappingNode}
	for _, g := range r.Adjustable.Settings {
		v := flow("from", g.From, "to", g.To, "by", g.By)
		if g.Values != nil {
			v = list()
			for _, s := range g.Values {
				v.Content = append(v.Content, word(s))
			}
		}
		k := &yaml.Node{}
		k.SetString(g.Key)
		a.Content = append(a.Content, k, v)
	}
	if r.Adjustable.Homes != nil || r.Adjustable.Curves != nil {
		if r.Adjustable.Homes != nil {
			v := list()
			for _, h := range r.Adjustable.Homes {
				v.Content = append(v.Content, word(h.String()))
			}
			put(a, "acceleration.home", v)
		}
		if r.Adjustable.Curves != nil {
			v := list()
			for _, c := range r.Adjustable.Curves {
				v.Content = append(v.Content, word(c))
			}
			put(a, "acceleration.curves", v)
		}
	}
	if len(a.Content) > 0 {
		put(b.root, "adjustable", a)
	}
}

// fraction writes a number so that it reads back to the same one.
func fraction(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

func share(x float64) string { return scenarios.Share.Text(x) }

func (b builder) profile(p *scenarios.Profile) {
	if len(p.Settings) > 0 {
		s := &yaml.Node{Kind: yaml.MappingNode}
		for _, x := range p.Settings {
			k := &yaml.Node{}
			k.SetString(x.Key)
			s.Content = append(s.Content, k, word(x.Value))
		}
		put(b.root, "settings", s)
	}
	a, in := &p.Acceleration, func(key, value string) { b.plain("acceleration."+key, value) }
	if p.Home != 0 {
		in("home", p.Home.String())
	}
	if a.Base != 0 {
		in("base", strconv.Itoa(a.Base))
	}
	if a.Tick != 0 {
		in("tick", scenarios.TimeText(a.Tick))
	}
	if a.Rate.From != 0 {
		in("rate.from", a.Rate.From.String())
	}
	if a.Rate.Over != 0 {
		in("rate.over", scenarios.TimeText(a.Rate.Over))
	}
	if a.Rate.Rest != 0 {
		in("rate.rest", scenarios.TimeText(a.Rate.Rest))
	}
	if a.Rate.Reversal != 0 {
		in("rate.reversal", a.Rate.Reversal.String())
	}
	b.curve(a.Curve)
	if a.Steps != 0 {
		in("steps", a.Steps.String())
	}
	if a.Landing != 0 {
		in("landing.above", strconv.Itoa(a.Landing))
	}
	if p.PressCoarse != 0 {
		b.plain("press.coarse", strconv.FormatInt(p.PressCoarse, 10))
	}
}

func (b builder) curve(c accel.Curve) {
	if c == nil {
		return
	}
	k := accel.KindOf(c)
	at := "acceleration.curve." + k.Word
	if k.Rows == nil {
		var pairs []string
		for _, p := range k.Parameters {
			pairs = append(pairs, p.Word, quantityOf(p).Text(p.Of(c)))
		}
		put(b.root, at, flow(pairs...))
		return
	}
	rows, r := &yaml.Node{Kind: yaml.SequenceNode}, k.Rows
	for _, row := range r.Of(c) {
		rows.Content = append(rows.Content, flow(r.Rate.Word, quantityOf(r.Rate).Text(row[0]), r.Gain.Word, quantityOf(r.Gain).Text(row[1])))
	}
	put(b.root, at+"."+r.Word, rows)
	for _, p := range k.Parameters {
		b.plain(at+"."+p.Word, quantityOf(p).Text(p.Of(c)))
	}
}

func (b builder) panel(p *scenarios.Panel) {
	if p.Title != "" {
		b.text("title", p.Title)
	}
	knobs := &yaml.Node{Kind: yaml.SequenceNode}
	for _, k := range p.Knobs {
		n := builder{&yaml.Node{Kind: yaml.MappingNode}}
		n.text("name", k.Name)
		n.plain("rings", strconv.Itoa(k.Rings))
		if k.Outer != nil {
			n.text("rig.outer", k.Outer.Name)
			n.text("rig.inner", k.Inner.Name)
		} else {
			n.text("rig", k.Inner.Name)
		}
		if k.Selector {
			n.plain("selector", "true")
		}
		tasks := &yaml.Node{Kind: yaml.SequenceNode}
		for _, u := range k.Tasks {
			t := builder{&yaml.Node{Kind: yaml.MappingNode, Style: yaml.FlowStyle}}
			t.text("task", u.Task.Name)
			t.plain("per_hour", fraction(u.PerHour))
			tasks.Content = append(tasks.Content, t.root)
		}
		put(n.root, "tasks", tasks)
		knobs.Content = append(knobs.Content, n.root)
	}
	put(b.root, "knobs", knobs)
}

func (b builder) task(t *scenarios.Task) {
	if t.Title != "" {
		b.text("title", t.Title)
	}
	if t.Source != "" {
		b.text("source", t.Source)
	}
	if t.Unit != "" {
		b.text("unit", t.Unit)
	}
	if e := t.Effect; e.Unit != "" {
		b.plain("effect.per_step", e.PerStep.String())
		b.text("effect.unit", e.Unit)
		if e.Nearest != 0 {
			b.plain("effect.nearest", e.Nearest.String())
		}
	}
	beyond := ends[1]
	if t.Wrap {
		beyond = ends[0]
	}
	switch {
	case len(t.Digits) > 0:
		b.plain("digits.count", strconv.Itoa(len(t.Digits)))
		b.plain("digits.base", strconv.FormatInt(t.Base, 10))
		order := list()
		for _, d := range t.Digits {
			order.Content = append(order.Content, word(strconv.Itoa(len(t.Digits)-d)))
		}
		put(b.root, "digits.order", order)
		alarms := list()
		for _, a := range t.Alarms {
			alarms.Content = append(alarms.Content, list(word(t.Format(a.From)), word(t.Format(a.To))))
		}
		if t.Alarms != nil {
			put(b.root, "digits.alarms", alarms)
		}
	case t.Named != nil:
		b.plain("range.ends", beyond)
		put(b.root, "numbers", amounts(t.Named))
		if t.Called != "" {
			b.text("called", t.Called)
		}
	default:
		put(b.root, "range", flow("from", t.From.String(), "to", t.To.String(), "ends", beyond))
		if t.Step != 0 {
			b.plain("step", t.Step.String())
		}
	}
	if t.Tolerance != 0 {
		b.plain("tolerance", t.Tolerance.String())
	}
	switch {
	case t.PerOuter != 0 && t.Named != nil:
		b.plain("outer_numbers", strconv.FormatInt(t.PerOuter, 10))
	case t.PerOuter != 0:
		step := t.Step
		if step == 0 {
			step = scenarios.Unity
		}
		b.plain("outer", (scenarios.Amount(t.PerOuter) * step).String())
	}
	if t.Limit != 0 {
		b.plain("limit", scenarios.TimeText(t.Limit))
	}
	b.distribution("start", t.Start)
	b.distribution("target", t.Target)
}

func amounts(of []scenarios.Amount) *yaml.Node {
	n := list()
	for _, a := range of {
		n.Content = append(n.Content, word(a.String()))
	}
	return n
}

func (b builder) distribution(key string, x scenarios.Distribution) {
	switch {
	case x.Pairs != nil:
		rows := list()
		for _, p := range x.Pairs {
			rows.Content = append(rows.Content, amounts([]scenarios.Amount{p.From, p.To}))
		}
		put(b.root, key+".pairs", rows)
	case x.List != nil:
		put(b.root, key+".list", amounts(x.List))
	case x.Near.SD > 0:
		pairs := []string{"sd", x.Near.SD.String()}
		if x.Near.Around != 0 {
			pairs = append(pairs, "around", x.Near.Around.String())
		}
		put(b.root, key+".near", flow(pairs...))
	case x.Move.To > 0:
		put(b.root, key+".move", flow("from", x.Move.From.String(), "to", x.Move.To.String()))
	case x.MultiplesOf > 0:
		put(b.root, key+".uniform", flow("multiples_of", x.MultiplesOf.String(), "share", share(x.Share)))
	default:
		put(b.root, key+".uniform", flow())
	}
}

func (b builder) operator(o *scenarios.Operator) {
	for _, x := range delays(o) {
		put(b.root, x.key, flow("mean", scenarios.TimeText(x.to.Mean), "cv", share(x.to.CV)))
	}
	for _, x := range spreads(o) {
		put(b.root, x.key, flow("mean", x.q.Text(x.to.Mean), "cv", share(x.to.CV)))
	}
	for _, x := range mistakes(o) {
		b.plain(x.key, share(*x.to))
	}
}
