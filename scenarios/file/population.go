package file

import (
	"errors"
	"strconv"

	"go.yaml.in/yaml/v4"

	"dialwright/scenarios"
)

// drawnMembers is how many members of a population are drawn when it is read, to see that
// the rigs it describes can be.
const drawnMembers = 200

// population reads the document as a population. Rigs, operators, tasks, panels and
// profiles are built-in names, or files beside the population's.
func (d *document) population(l *Loader) *scenarios.Population {
	p := &scenarios.Population{}
	top := &d.top
	p.Name, p.Title, p.Source = top.name(), top.line("title"), top.line("source")
	p.Rigs = weighted(d, top, "rigs", "rig", l.Rig)
	d.vary(p)
	p.Operators = weighted(d, top, "operators", "operator", l.Operator)
	p.Dialed = d.dialed(l)
	p.Profiles = d.candidates(l)
	top.end()
	if d.good() {
		if err := p.Check(drawnMembers); err != nil {
			d.fault(find(top.node, "vary"), "vary", err)
		}
	}
	return p
}

// weighted reads a list of {what: …, weight: …}.
func weighted[T any](d *document, s *section, key, what string, load func(string) (*T, error)) []scenarios.Weighted[*T] {
	var list []scenarios.Weighted[*T]
	sum := 0.0
	for i, n := range s.must(key) {
		x := d.section(n, s.path(key)+"["+strconv.Itoa(i)+"]")
		w := d.weight(&x)
		sum += w
		if v := named(d, &x, what, load); v != nil {
			list = append(list, scenarios.Weighted[*T]{Of: v, Weight: w})
		}
		x.end()
	}
	d.weighs(s, key, sum)
	return list
}

// named reads a name and loads what has it.
func named[T any](d *document, s *section, what string, load func(string) (*T, error)) *T {
	name, at := s.text(what)
	if at == nil {
		d.at(s.node, s.path(what), "is missing; a name or a file would do")
		return nil
	}
	if name == "" {
		return nil
	}
	v, err := load(name)
	d.other(at, s.path(what), err)
	return v
}

func (d *document) weight(s *section) float64 {
	w := 1.0
	if at := s.number("weight", scenarios.Fraction, &w); at != nil && !(w >= 0 && w <= 1e9) {
		d.at(at, s.path("weight"), "%g; 0 or more would do", w)
	}
	return w
}

// weighs refuses weights of which none is above 0.
func (d *document) weighs(s *section, key string, sum float64) {
	if n := find(s.node, key); sum == 0 && n != nil && d.good() {
		d.at(n, s.path(key), "the weights sum to nothing; a weight above 0 would do")
	}
}

// vary reads how keys of the rig are spread.
func (d *document) vary(p *scenarios.Population) {
	s, ok := d.top.sub("vary")
	if !ok {
		return
	}
	for _, k := range append([]*yaml.Node(nil), s.keys...) {
		n := s.take(k.Value)
		if n == nil {
			continue
		}
		v, before := scenarios.Varied{Key: k.Value}, len(d.faults)
		field := s.path(k.Value)
		switch n.Kind {
		case yaml.SequenceNode:
			d.values(&v, n, field)
		case yaml.MappingNode:
			m := d.section(n, field)
			v.From, _ = m.text("from")
			v.To, _ = m.text("to")
			v.Median, _ = m.text("median")
			m.number("spread", scenarios.Share, &v.Spread)
			v.Log = m.word("scale", "linear", "log") == 1
			m.end()
			switch {
			case v.Median == "" && (v.From == "" || v.To == "") && len(d.faults) == before:
				d.at(n, field, "{from: …, to: …} or {median: …, spread: …} would do")
			case v.Median != "" && v.Spread == 0 && len(d.faults) == before:
				d.at(n, field+".spread", "is missing; 50%% would do")
			}
		default:
			d.at(n, field, "{from: …, to: …}, {median: …, spread: …} or a list is wanted, not %s", shape(n))
		}
		if len(d.faults) == before {
			d.varied(&v, k, n, field)
		}
		p.Vary = append(p.Vary, v)
	}
}

// values reads a list whose elements are values, or {value: …, weight: …}.
func (d *document) values(v *scenarios.Varied, n *yaml.Node, field string) {
	if len(n.Content) == 0 {
		d.at(n, field, "the list is empty")
	}
	sum := 0.0
	for i, c := range n.Content {
		x, at := scenarios.Weighted[string]{Weight: 1}, field+"["+strconv.Itoa(i)+"]"
		if c.Kind == yaml.MappingNode {
			m := d.section(c, at)
			text, found := m.text("value")
			if found == nil {
				d.at(c, m.path("value"), "is missing; a value of %s would do", v.Key)
			}
			x.Of, x.Weight = text, d.weight(&m)
			m.end()
		} else {
			x.Of = d.text(c, at)
		}
		sum += x.Weight
		v.Values = append(v.Values, x)
	}
	if sum == 0 && len(n.Content) > 0 && d.good() {
		d.at(n, field, "the weights sum to nothing; a weight above 0 would do")
	}
}

// varied adds what is wrong with a spread, each at its place.
func (d *document) varied(v *scenarios.Varied, key, n *yaml.Node, field string) {
	for _, f := range v.Check() {
		at := find(n, f.Field)
		switch {
		case f.Field == v.Key: // there is no such key
			at, field = key, "vary."+v.Key
		case f.Field != "" && f.Field[0] != '[':
			field += "."
			fallthrough
		default:
			field += f.Field
		}
		if at == nil {
			at = n
		}
		f.Field = ""
		d.at(at, field, "%s", f.Error())
	}
}

// dialed reads what members dial: a task on one knob, or a panel.
func (d *document) dialed(l *Loader) []scenarios.Weighted[*scenarios.Panel] {
	var list []scenarios.Weighted[*scenarios.Panel]
	s, sum := &d.top, 0.0
	for i, n := range s.must("dialed") {
		x := d.section(n, "dialed["+strconv.Itoa(i)+"]")
		w := d.weight(&x)
		sum += w
		var p *scenarios.Panel
		if x.value["panel"] != nil {
			p = named(d, &x, "panel", l.Panel)
		} else if t := named(d, &x, "task", l.Task); t != nil {
			rings := int64(1)
			x.whole("rings", 1, 2, &rings)
			p = scenarios.OneKnob(t, int(rings))
		}
		x.end()
		if p != nil {
			list = append(list, scenarios.Weighted[*scenarios.Panel]{Of: p, Weight: w})
		}
	}
	d.weighs(s, "dialed", sum)
	return list
}

// candidates reads the profiles that are compared; without any, all built-in ones.
func (d *document) candidates(l *Loader) []*scenarios.Profile {
	var list []*scenarios.Profile
	seen := map[string]bool{}
	for i, n := range d.top.list("profiles") {
		field := "profiles[" + strconv.Itoa(i) + "]"
		name := d.text(n, field)
		if name == "" {
			continue
		}
		p, err := l.Profile(name)
		d.other(n, field, err)
		if p == nil {
			continue
		}
		if seen[p.Name] {
			d.at(n, field, "there is a profile %s already", scenarios.Shown(p.Name))
		}
		seen[p.Name] = true
		list = append(list, p)
	}
	if list == nil && d.good() {
		all := scenarios.Profiles()
		for i := range all {
			list = append(list, &all[i])
		}
	}
	if len(list) > scenarios.MostCandidates {
		d.at(find(d.top.node, "profiles"), "profiles", "%d of them; at most %d would do", len(list), scenarios.MostCandidates)
	}
	return list
}

// Population returns a population by its name or file.
func (l *Loader) Population(name string) (*scenarios.Population, error) {
	p, err := load(l, "population", name, l.Populations, func(d *document) *scenarios.Population { return d.population(l) })
	if p == nil && err == nil {
		err = errors.New("no population")
	}
	return p, err
}

func (b builder) population(p *scenarios.Population) {
	if p.Title != "" {
		b.text("title", p.Title)
	}
	if p.Source != "" {
		b.text("source", p.Source)
	}
	weigh := func(n builder, w float64) *yaml.Node {
		if w != 1 {
			n.plain("weight", fraction(w))
		}
		return n.root
	}
	row := func() builder { return builder{&yaml.Node{Kind: yaml.MappingNode, Style: yaml.FlowStyle}} }
	rigs, operators, dialed := &yaml.Node{Kind: yaml.SequenceNode}, &yaml.Node{Kind: yaml.SequenceNode}, &yaml.Node{Kind: yaml.SequenceNode}
	for _, x := range p.Rigs {
		n := row()
		n.text("rig", x.Of.Name)
		rigs.Content = append(rigs.Content, weigh(n, x.Weight))
	}
	put(b.root, "rigs", rigs)
	vary := &yaml.Node{Kind: yaml.MappingNode}
	for i := range p.Vary {
		v := &p.Vary[i]
		k := &yaml.Node{}
		k.SetString(v.Key)
		vary.Content = append(vary.Content, k, spreadOf(v))
	}
	if len(vary.Content) > 0 {
		put(b.root, "vary", vary)
	}
	for _, x := range p.Operators {
		n := row()
		n.text("operator", x.Of.Name)
		operators.Content = append(operators.Content, weigh(n, x.Weight))
	}
	put(b.root, "operators", operators)
	for _, x := range p.Dialed {
		n := row()
		if t, rings := x.Of.Single(); t != nil {
			n.text("task", t.Name)
			if rings == 2 {
				n.plain("rings", "2")
			}
		} else {
			n.text("panel", x.Of.Name)
		}
		dialed.Content = append(dialed.Content, weigh(n, x.Weight))
	}
	put(b.root, "dialed", dialed)
	profiles := list()
	for _, x := range p.Profiles {
		n := &yaml.Node{}
		n.SetString(x.Name)
		profiles.Content = append(profiles.Content, n)
	}
	put(b.root, "profiles", profiles)
}

// spreadOf writes how a key is spread.
func spreadOf(v *scenarios.Varied) *yaml.Node {
	if v.Listed() {
		values := list()
		for _, x := range v.Values {
			if x.Weight == 1 {
				values.Content = append(values.Content, word(x.Of))
			} else {
				values.Content = append(values.Content, flow("value", x.Of, "weight", fraction(x.Weight)))
			}
		}
		return values
	}
	var pairs []string
	for _, x := range [][2]string{{"median", v.Median}, {"from", v.From}, {"to", v.To}} {
		if x[1] != "" {
			pairs = append(pairs, x[:]...)
		}
	}
	if v.Median != "" {
		pairs = append(pairs, "spread", share(v.Spread))
	}
	if v.Log {
		pairs = append(pairs, "scale", "log")
	}
	return flow(pairs...)
}

func populationSchema() schema {
	name := schema{"type": "string"}
	weight := about("how often it is met, in proportion to the others", schema{"type": "number", "minimum": 0})
	list := func(what string) schema {
		return arrayOf(with(object(schema{what: about("a built-in name, or a file beside this one", name), "weight": weight}), what))
	}
	vary := object(schema{})
	for _, k := range scenarios.Describe() {
		v := keySchema(k)
		forms := []any{arrayOf(schema{"anyOf": []any{v, with(object(schema{"value": v, "weight": weight}), "value")}})}
		if k.Quantity < scenarios.Switch {
			forms = append(forms,
				with(object(schema{"from": v, "to": v, "scale": words("linear", "log")}), "from", "to"),
				with(object(schema{"median": v, "spread": about("standard deviation of the logarithm", quantity(scenarios.Share)), "from": v, "to": v}), "median", "spread"))
		}
		vary["properties"].(schema)[k.Name] = about(k.About, schema{"anyOf": forms})
	}
	return with(object(schema{
		"title": name, "source": about("where the numbers come from", name),
		"rigs":      about("base rigs, whose keys vary changes", list("rig")),
		"vary":      about("keys of the rig that differ between members: a range, a distribution or a list", vary),
		"operators": about("the kinds of people", list("operator")),
		"dialed": about("what members dial: one of these each, a task on one knob or a panel on the member's rig", arrayOf(schema{"anyOf": []any{
			with(object(schema{"task": name, "rings": schema{"enum": []int{1, 2}}, "weight": weight}), "task"),
			with(object(schema{"panel": name, "weight": weight}), "panel"),
		}})),
		"profiles": about("the candidates; without them all built-in profiles", arrayOf(name)),
	}), "rigs", "operators", "dialed")
}

const populationTemplate = `# A population is who and what a default has to serve. dialwright survey draws
# members from it: a rig, a kind of person, what they dial.
kind: population
version: 1
name: %s
rigs:                                   # base rigs: built-in names or files beside this one
  - {rig: left-pulse, weight: 3}        # met three times as often as
  - {rig: right-relative, weight: 1}
vary:                                   # keys of the rig that differ between members
  firmware.pulse: {from: 15ms, to: 60ms}                   # any value between them is as likely
  program.frames: {from: 15/s, to: 120/s, scale: log}      # or any ratio
  display.latency: {median: 50ms, spread: 40%%}             # log-normal; from and to cut it
  firmware.queue: [2, 4, 8, 16]                            # one of a list
  program.sampling: [{value: state, weight: 3}, {value: events, weight: 1}]
operators:
  - {operator: novice, weight: 1}
  - {operator: practised, weight: 2}
dialed:                                 # one of them for a member: a task on one knob, or a panel
  - {task: heading, weight: 2}
  - {task: com-25, rings: 2, weight: 1}
# profiles: [plain, ladder, mine.yaml]  # the candidates; without them all built-in profiles
`
