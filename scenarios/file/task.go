package file

import (
	"errors"
	"slices"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v4"

	"dialwright/scenarios"
)

// task reads the document as a task.
func (d *document) task(l *Loader) *scenarios.Task {
	t := &scenarios.Task{}
	top := &d.top
	t.Name = top.name()
	t.Title, t.Source, t.Unit = top.line("title"), top.line("source"), top.line("unit")
	if e, ok := top.sub("effect"); ok {
		d.effect(t, &e)
	}
	before := len(d.faults)
	if n := top.take("digits"); n != nil {
		d.digits(t, n)
	} else {
		d.numbers(t, l)
	}
	if n := top.time("limit", &t.Limit); n != nil && !d.has("limit") && (t.Limit <= 0 || t.Limit > 24*time.Hour) {
		d.at(n, "limit", "%s; a time above 0 and up to 24 h would do", scenarios.TimeText(t.Limit))
	}
	if len(d.faults) > before {
		// The numbers are not known, so what starts and targets say cannot be
		// looked at.
		top.take("start")
		top.take("target")
		top.end()
		return t
	}
	t.Start = d.distribution(t, l, "start")
	t.Target = d.distribution(t, l, "target")
	top.end()
	if d.good() {
		if err := t.Moves(); err != nil {
			d.fault(d.top.node, "", err)
		}
	}
	return t
}

// numbers reads which numbers there are: a range and a step, a list, or the
// numbers of a built-in task.
func (d *document) numbers(t *scenarios.Task, l *Loader) {
	top := &d.top
	if text, n := top.text("channels"); n != nil {
		var from *scenarios.Task
		if l.Tasks.Find != nil {
			from = l.Tasks.Find(text)
		}
		if from == nil {
			d.at(n, "channels", "there is no built-in task %s whose numbers could be taken; %s", scenarios.Shown(text), meant(text, l.Tasks.Names))
			return
		}
		t.Unit = from.Unit
		t.From, t.To, t.Step, t.Wrap, t.Named, t.Called, t.PerOuter = from.From, from.To, from.Step, from.Wrap, from.Named, from.Called, from.PerOuter
		t.Digits, t.Base, t.Alarms = from.Digits, from.Base, from.Alarms
	} else if list := top.list("numbers"); list != nil {
		for i, n := range list {
			field := "numbers[" + strconv.Itoa(i) + "]"
			t.Named = append(t.Named, d.amount(n, field, t.Unit))
			if i > 0 && t.Named[i] <= t.Named[i-1] && d.good() {
				d.at(n, field, "%s does not come after %s; the numbers rise", t.Named[i], t.Named[i-1])
			}
		}
		t.Wrap = true
		if r, ok := top.sub("range"); ok {
			t.Wrap = r.word("ends", ends...) == 0
			r.end()
		}
		t.Called = top.line("called")
	} else {
		d.span(t)
	}
	if n := top.take("tolerance"); n != nil {
		t.Tolerance = d.amount(n, "tolerance", t.Unit)
		switch {
		case t.Tolerance < 0:
			d.at(n, "tolerance", "%s; 0 or more would do", t.Tolerance)
		case t.Tolerance > 0 && (t.Named != nil || t.Digits != nil):
			d.at(n, "tolerance", "%s, but numbers by name are met or missed; 0 would do", t.Tolerance)
		}
	}
	if n := top.whole("outer_numbers", 2, 1_000_000, &t.PerOuter); n != nil && t.PerOuter > 0 && len(d.faults) == 0 && t.Count()%t.PerOuter != 0 {
		d.at(n, "outer_numbers", "%d does not divide the %d numbers", t.PerOuter, t.Count())
	}
	if n := top.take("outer"); n != nil && len(d.faults) == 0 {
		outer, step := d.amount(n, "outer", t.Unit), max(t.Step, 1)
		if len(d.faults) > 0 { // it is no amount
			return
		}
		if t.Step == 0 {
			step = scenarios.Unity
		}
		if t.Named != nil || outer <= 0 || outer%step != 0 || t.Count()%int64(outer/step) != 0 {
			d.at(n, "outer", "%s is no whole part of the range in steps of %s", outer, step)
			return
		}
		t.PerOuter = int64(outer / step)
	}
}

// ends are the words for what comes beyond the last number.
var ends = []string{"wrap", "stop"}

// effect reads what being a step off does: {per_step: 10, unit: ft, nearest: 10}.
func (d *document) effect(t *scenarios.Task, s *section) {
	t.Effect.Unit, _ = s.text("unit")
	if t.Effect.Unit == "" && !d.has(s.path("unit")) {
		d.at(s.node, s.path("unit"), "is missing; ft would do for an altimeter")
	}
	for _, x := range []struct {
		key string
		to  *scenarios.Amount
	}{{"per_step", &t.Effect.PerStep}, {"nearest", &t.Effect.Nearest}} {
		n := s.take(x.key)
		switch {
		case n != nil:
			if *x.to = d.amount(n, s.path(x.key), t.Effect.Unit); *x.to < 0 {
				d.at(n, s.path(x.key), "%s; 0 or more would do", *x.to)
			}
		case x.key == "per_step":
			d.at(s.node, s.path(x.key), "is missing")
		}
	}
	s.end()
}

// span reads range and step.
func (d *document) span(t *scenarios.Task) {
	top := &d.top
	step := top.take("step")
	t.Step = scenarios.Unity
	if step != nil {
		if t.Step = d.amount(step, "step", t.Unit); t.Step <= 0 {
			if !d.has("step") {
				d.at(step, "step", "%s; more than 0 would do", t.Step)
			}
			t.Step = scenarios.Unity
		}
	}
	r, ok := top.sub("range")
	if !ok {
		d.at(top.node, "range", "is missing; {from: 1, to: 360, ends: wrap} would do for a heading")
		return
	}
	from, to := r.take("from"), r.take("to")
	if from == nil {
		d.at(r.node, r.path("from"), "is missing")
	}
	if to == nil {
		d.at(r.node, r.path("to"), "is missing")
	}
	t.Wrap = r.word("ends", ends...) == 0
	r.end()
	if from == nil || to == nil {
		return
	}
	t.From, t.To = d.amount(from, "range.from", t.Unit), d.amount(to, "range.to", t.Unit)
	switch {
	case len(d.faults) > 0:
	case t.To <= t.From:
		d.at(to, "range.to", "%s is not above from, %s", t.To, t.From)
	case (t.To-t.From)%t.Step != 0:
		d.at(to, "range.to", "%s to %s is no whole number of steps of %s", t.From, t.To, t.Step)
	case int64((t.To-t.From)/t.Step) > 1e9:
		d.at(to, "range.to", "more than a thousand million numbers; a larger step or a narrower range would do")
	}
}

// digits reads {count: 4, base: 8, order: [1, 2, 3, 4], alarms: [[7500, 7500]]}.
func (d *document) digits(t *scenarios.Task, n *yaml.Node) {
	s := d.section(n, "digits")
	count, base := int64(0), int64(10)
	if s.whole("count", 2, 6, &count) == nil {
		d.at(n, "digits.count", "is missing; 4 would do")
	}
	s.whole("base", 2, 10, &base)
	t.Base = base
	for i, v := range s.list("order") {
		k, err := strconv.Atoi(v.Value)
		if err != nil || k < 1 || int64(k) > count || slices.Contains(t.Digits, int(count)-k) {
			d.at(v, "digits.order["+strconv.Itoa(i)+"]", "%s; each of 1 to %d once, 1 being the leftmost, would do", shape(v), count)
			continue
		}
		t.Digits = append(t.Digits, int(count)-k)
	}
	if len(t.Digits) > 0 && int64(len(t.Digits)) < count && d.good() {
		d.at(n, "digits.order", "%d of %d digits", len(t.Digits), count)
	}
	if int64(len(t.Digits)) < count {
		t.Digits = nil
		for i := count - 1; i >= 0; i-- {
			t.Digits = append(t.Digits, int(i))
		}
	}
	for i, v := range s.list("alarms") {
		field := "digits.alarms[" + strconv.Itoa(i) + "]"
		if v.Kind != yaml.SequenceNode || len(v.Content) != 2 {
			d.at(v, field, "[from, to] is wanted, not %s", shape(v))
			continue
		}
		var ends [2]int64
		for k, e := range v.Content {
			a, err := scenarios.ParseAmount(e.Value)
			ok := err == nil
			if ok {
				ends[k], ok = t.Index(a)
			}
			if !ok {
				d.at(e, field, "%s is no code of %d digits from 0 to %d", shape(e), count, base-1)
			}
		}
		t.Alarms = append(t.Alarms, scenarios.Alarm{From: ends[0], To: ends[1]})
	}
	s.end()
}

// amount reads a number, bare or with the task's unit.
func (d *document) amount(n *yaml.Node, field, unit string) scenarios.Amount {
	text := strings.TrimSpace(d.text(n, field))
	if text == "" {
		return 0
	}
	bare := text
	if unit != "" {
		bare = strings.TrimSpace(strings.TrimSuffix(text, unit))
	}
	a, err := scenarios.ParseAmount(bare)
	if errors.Is(err, scenarios.ErrTooLarge) {
		d.at(n, field, "%v", err)
	} else if err != nil {
		what := "a number"
		if unit != "" {
			what = "a number of " + unit
		}
		d.at(n, field, "%s is not %s; at most six decimals, %s", scenarios.Shown(text), what, or(unitHint(unit), "without a unit, would do"))
	}
	return a
}

func unitHint(unit string) string {
	if unit == "" {
		return ""
	}
	return "such as 25" + unit + ", would do"
}

// distribution reads where a trial starts or what it asks for.
func (d *document) distribution(t *scenarios.Task, l *Loader, key string) scenarios.Distribution {
	var x scenarios.Distribution
	s, ok := d.top.sub(key)
	if !ok {
		return x
	}
	if len(s.keys) != 1 {
		d.at(s.node, key, "%d distributions; one of uniform, list, pairs, near, move would do", len(s.keys))
		return x
	}
	amount := func(s *section, key string, to *scenarios.Amount, must bool) {
		if n := s.take(key); n != nil {
			*to = d.amount(n, s.path(key), t.Unit)
			if *to <= 0 && key != "around" && !d.has(s.path(key)) {
				d.at(n, s.path(key), "%s; more than 0 would do", *to)
			}
		} else if must {
			d.at(s.node, s.path(key), "is missing")
		}
	}
	if u, ok := s.sub("uniform"); ok {
		amount(&u, "multiples_of", &x.MultiplesOf, false)
		if x.MultiplesOf > 0 {
			x.Share = 1
			if n := u.number("share", scenarios.Share, &x.Share); x.Share < 0 || x.Share > 1 {
				d.at(n, u.path("share"), "0%% to 100%% would do")
			}
			if t.Named == nil && len(t.Digits) == 0 && (x.MultiplesOf%max(t.Step, 1) != 0 || x.MultiplesOf > t.To-t.From) {
				d.at(u.node, u.path("multiples_of"), "%s is no multiple of the step that the range holds", x.MultiplesOf)
			}
		}
		u.end()
	}
	for i, n := range s.list("list") {
		field := s.path("list") + "[" + strconv.Itoa(i) + "]"
		a := d.amount(n, field, t.Unit)
		d.onBand(t, n, field, a)
		x.List = append(x.List, a)
	}
	if n := s.value["pairs"]; n != nil && n.Kind == yaml.SequenceNode {
		for i, row := range s.list("pairs") {
			x.Pairs = append(x.Pairs, d.pair(t, row, s.path("pairs")+"["+strconv.Itoa(i)+"]"))
		}
	} else if text, n := s.text("pairs"); text != "" {
		x.Pairs = d.pairs(t, l, s.path("pairs"), text, n)
	}
	if m, ok := s.sub("near"); ok {
		amount(&m, "sd", &x.Near.SD, true)
		if n := m.value["around"]; n != nil {
			amount(&m, "around", &x.Near.Around, false)
			d.onBand(t, n, m.path("around"), x.Near.Around)
		}
		m.end()
	}
	if m, ok := s.sub("move"); ok {
		amount(&m, "from", &x.Move.From, true)
		amount(&m, "to", &x.Move.To, true)
		if x.Move.To < x.Move.From {
			d.at(m.node, m.field, "to is below from")
		}
		m.end()
	}
	s.end()
	return x
}

// onBand refuses a number that the task does not have.
func (d *document) onBand(t *scenarios.Task, n *yaml.Node, field string, a scenarios.Amount) {
	if _, ok := t.Index(a); !ok && !d.has(field) {
		d.at(n, field, "%s is off the band; %s", a, band(t))
	}
}

// band says what numbers a task has.
func band(t *scenarios.Task) string {
	s := t.Format(0) + " to " + t.Format(t.Count()-1)
	if t.Named == nil && len(t.Digits) == 0 && t.Step != scenarios.Unity {
		s += " by " + t.Travel(1)
	}
	return s + " would do"
}

// pair reads one change, [from, to].
func (d *document) pair(t *scenarios.Task, n *yaml.Node, field string) (p scenarios.Pair) {
	if n.Kind != yaml.SequenceNode || len(n.Content) != 2 {
		d.at(n, field, "[from, to] is wanted, not %s", shape(n))
		return p
	}
	for i, to := range []*scenarios.Amount{&p.From, &p.To} {
		at := field + "[" + strconv.Itoa(i) + "]"
		*to = d.amount(n.Content[i], at, t.Unit)
		d.onBand(t, n.Content[i], at, *to)
	}
	return p
}

// pairs reads the recorded changes of a number: a built-in task's, or a CSV file
// whose first two columns are from and to, with or without the task's unit behind
// them: from_khz,to_khz.
func (d *document) pairs(t *scenarios.Task, l *Loader, field, name string, n *yaml.Node) []scenarios.Pair {
	if l.Tasks.Find != nil {
		if b := l.Tasks.Find(name); b != nil && b.Start.Pairs != nil {
			for _, p := range b.Start.Pairs {
				_, from := t.Index(p.From)
				_, to := t.Index(p.To)
				if !from || !to {
					d.at(n, field, "the changes of %s go to numbers that this task does not have, such as %s to %s; %s", scenarios.Shown(name), p.From, p.To, band(t))
					break
				}
			}
			return b.Start.Pairs
		}
	}
	headers := [][]string{{"from", "to"}}
	if unit := strings.ToLower(t.Unit); unit != "" {
		headers = append(headers, []string{"from_" + unit, "to_" + unit})
	}
	rows, err := l.table(name, headers...)
	if err != nil {
		d.other(n, field, err)
		return nil
	}
	var ps []scenarios.Pair
	for _, r := range rows {
		var p scenarios.Pair
		for k, to := range []*scenarios.Amount{&p.From, &p.To} {
			a, err := scenarios.ParseAmount(r.cells[k])
			ok := err == nil
			if ok {
				_, ok = t.Index(a)
			}
			if !ok {
				d.other(n, field, r.fault(k, headers[0][k], scenarios.Shown(r.cells[k])+" is off the band; "+band(t)))
			}
			*to = a
		}
		ps = append(ps, p)
	}
	return ps
}
