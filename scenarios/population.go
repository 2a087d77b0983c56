package scenarios

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
)

// Population is who and what a default has to serve: rigs that differ, people and
// what they dial. A member of it is one rig with a kind of person before it and what
// is dialed there, drawn by [Population.Draw].
type Population struct {
	Name, Title, Source string
	Rigs                []Weighted[*Rig]
	Vary                []Varied // keys of the rig that differ between members, beside what the base rigs say
	Operators           []Weighted[*Operator]
	Dialed              []Weighted[*Panel] // one of them for a member, on its rig; a single task is a panel of one knob
	Profiles            []*Profile         // the candidates
}

// Weighted is a thing and how often it is met, in proportion to the others.
type Weighted[T any] struct {
	Of     T
	Weight float64 // > 0
}

// Varied is a key of the rig and how its values are spread over the population. It is
// one of three: Values; From and To, uniform or, with Log, uniform in the logarithm;
// Median and Spread, log-normal, cut at From and To where those are given.
type Varied struct {
	Key      string
	Values   []Weighted[string] // as a rig file writes them
	From, To string
	Log      bool
	Median   string
	Spread   float64 // standard deviation of the logarithm
}

// Listed says whether the key takes one of a few values.
func (v *Varied) Listed() bool { return v.Values != nil }

// key returns the key and whether its spread can be had.
func (v *Varied) key() Key {
	k, _ := keyed(v.Key)
	return k
}

// Check returns what is wrong with a varied key; the fields are those below it.
func (v *Varied) Check() Faults {
	k, ok := keyed(v.Key)
	if !ok {
		return Faults{noKey(v.Key)}
	}
	var faults Faults
	take := func(field, value string) float64 {
		standard := encoder.Default()
		if f := k.set(&standard, value); f != nil {
			faults = append(faults, f.under(field))
			return 0
		}
		if k.Quantity >= Switch || value == none {
			return 0
		}
		x, _ := k.Quantity.Parse(value)
		return x
	}
	if v.Listed() {
		for i, x := range v.Values {
			take(fmt.Sprintf("[%d]", i), x.Of)
		}
		return faults
	}
	if k.Quantity >= Switch {
		return Faults{{Found: "takes words, not a range", Would: "a list of its values would do"}}
	}
	from, to := math.Inf(-1), math.Inf(1)
	if v.From != "" {
		from = take("from", v.From)
	}
	if v.To != "" {
		to = take("to", v.To)
	}
	if faults != nil {
		return faults
	}
	if v.Median != "" {
		median := take("median", v.Median)
		if faults != nil {
			return faults
		}
		if !(median > 0) {
			return Faults{{Field: "median", Found: v.Median + " has no logarithm", Would: "more than 0 would do"}}
		}
		if !(v.Spread > 0 && v.Spread <= 3) {
			return Faults{{Field: "spread", Found: Share.Text(v.Spread), Would: "more than 0% and up to 300% would do"}}
		}
		if median < from || median > to {
			return Faults{{Field: "median", Found: v.Median + " lies outside " + v.From + " to " + v.To, Would: "a median between them would do"}}
		}
		return nil
	}
	switch {
	case from > to:
		return Faults{{Field: "from", Found: v.From + " is above to: " + v.To, Would: "the smaller one first would do"}}
	case v.Log && !(from > 0):
		return Faults{{Field: "from", Found: v.From + " has no logarithm", Would: "more than 0, or no scale: log, would do"}}
	}
	return nil
}

// Member is one of a population.
type Member struct {
	Rig      *Rig
	Operator *Operator
	Dialed   *Panel  // with Rig behind every knob
	Seed     uint64  // of its trials
	At       []int64 // of each of Population.Keys: the number of the value, or the value itself in whole units of Quantity.Exact; NotUsed where the rig does not use the key

	perHour []float64 // of the tasks
}

// NotUsed is where a key stands that a member's rig does not use.
const NotUsed = math.MinInt64

// The purpose of a member's draws, and the indexes that are not varied keys.
const (
	member draw.Purpose = draw.Targets + 0x80
	seedAt              = -4
)

// Draw returns a member: the same one for a seed and a number, whoever else is drawn.
// An error says which rule its rig breaks.
func (p *Population) Draw(seed uint64, n int) (*Member, error) {
	from := draw.NewTrial(seed, "member", n).Stream(member)
	which := func(i int, weights []float64) int { return place(weights, from.Unit(int64(-1-i))) }
	base, person, dialed := which(0, weights(p.Rigs)), which(1, weights(p.Operators)), which(2, weights(p.Dialed))
	rig := *p.Rigs[base].Of
	m := &Member{Operator: p.Operators[person].Of, Seed: from.Bits(seedAt), At: []int64{int64(base), int64(person), int64(dialed)}}
	m.At = slices.Grow(m.At, len(p.Vary))[:kinds+len(p.Vary)]
	values := make([]string, len(p.Vary))
	for i := range p.Vary {
		values[i], m.At[kinds+i] = p.Vary[i].draw(from, int64(i))
	}
	// What decides which keys a rig uses comes first, and presets before what they set.
	for _, first := range []bool{true, false} {
		for i, v := range p.Vary {
			k := v.key()
			if (k.get == nil || slices.Contains(decides, v.Key)) != first {
				continue
			}
			if !uses(&rig.Rig, k) {
				m.At[kinds+i] = NotUsed
				continue
			}
			if f := k.set(&rig.Rig, values[i]); f != nil {
				return nil, Faults{f.under(v.Key)}
			}
		}
		Settle(&rig.Rig)
	}
	if faults := Check(&rig.Rig); faults != nil {
		return nil, faults
	}
	m.Rig = &rig
	panel := *p.Dialed[dialed].Of
	panel.Knobs = slices.Clone(panel.Knobs)
	for i := range panel.Knobs {
		k := &panel.Knobs[i]
		k.Inner = m.Rig
		if k.Outer != nil {
			k.Outer = m.Rig
		}
	}
	m.Dialed = &panel
	for _, u := range panel.Served() {
		m.perHour = append(m.perHour, u.PerHour)
	}
	return m, nil
}

// uses says whether a rig uses a key, or any of those that a preset sets.
func uses(r *encoder.Rig, k Key) bool {
	if k.get != nil {
		return k.Used(r)
	}
	below := func(o Key) bool { return strings.HasPrefix(o.Name, k.Name+".") }
	return !slices.ContainsFunc(table, below) || slices.ContainsFunc(table, func(o Key) bool { return below(o) && o.Used(r) })
}

// decides are the keys on which it depends what others a rig uses.
var decides = []string{"firmware.output", "firmware.hold", "program.sampling"}

// kinds is how many keys a population has beside those of its rigs.
const kinds = 3

// Keys returns everything in which members may differ: the base rig, the kind of
// person, what is dialed, and the varied keys.
func (p *Population) Keys() []Varied {
	keys := []Varied{
		{Key: "rig", Values: called(p.Rigs, func(r *Rig) string { return r.Name })},
		{Key: "operator", Values: called(p.Operators, func(o *Operator) string { return o.Name })},
		{Key: "dialed", Values: called(p.Dialed, func(d *Panel) string { return d.Name })},
	}
	return append(keys, p.Vary...)
}

func called[T any](list []Weighted[T], name func(T) string) []Weighted[string] {
	names := make([]Weighted[string], len(list))
	for i, x := range list {
		names[i] = Weighted[string]{name(x.Of), x.Weight}
	}
	return names
}

func weights[T any](list []Weighted[T]) []float64 {
	w := make([]float64, len(list))
	for i, x := range list {
		w[i] = x.Weight
	}
	return w
}

// place returns which of some things with weights lies at a place, from 0 to
// draw.Share, of all weights.
func place(weights []float64, at int64) int {
	sum := 0.0
	for _, w := range weights {
		sum += w
	}
	edge, last := 0.0, 0
	for i, w := range weights {
		if w == 0 {
			continue
		}
		last = i
		if edge += w; at < int64(edge/sum*draw.Share) {
			break
		}
	}
	return last
}

// Use returns which of the member's tasks, as Dialed.Served lists them, is dialed in a
// trial: each as often as its panel says.
func (m *Member) Use(n int) int {
	if len(m.perHour) == 1 {
		return 0
	}
	return place(m.perHour, draw.NewTrial(m.Seed, "use", n).Stream(member).Unit(0))
}

// draw returns a value as a rig file writes it, and where it stands.
func (v *Varied) draw(from draw.Stream, i int64) (string, int64) {
	if v.Listed() {
		n := place(weights(v.Values), from.Unit(i))
		return v.Values[n].Of, int64(n)
	}
	q := v.key().Quantity
	u := (float64(from.Unit(i)) + 0.5) / draw.Share
	low, _ := q.Parse(v.From)
	high, _ := q.Parse(v.To)
	x := 0.0
	switch {
	case v.Median != "":
		middle, _ := q.Parse(v.Median)
		x = middle * math.Exp(v.Spread*float64(from.Normal(i))/draw.One)
	case q == Whole: // every number as likely as any other
		x = low + math.Floor(u*(high-low+1))
	case v.Log:
		x = low * math.Exp(u*math.Log(high/low))
	default:
		x = low + float64(u*(high-low))
	}
	// Three digits, so that the last bit of a logarithm decides nothing.
	switch q {
	case Whole:
		x = math.Round(x)
	case Fraction: // rigs take thousandths
		x = math.Round(x*1000) / 1000
	default:
		x, _ = strconv.ParseFloat(strconv.FormatFloat(x, 'e', 2, 64), 64)
	}
	if v.From != "" {
		x = max(x, low)
	}
	if v.To != "" {
		x = min(x, high)
	}
	written := q.Text(x)
	if q == Time {
		written = TimeText(time.Duration(math.Round(x)))
	}
	at, err := q.Exact(written)
	if err != nil { // finer than a millionth
		at = int64(math.Round(x * 1e6))
		written = q.ExactText(at)
	}
	return written, at
}

// Written returns the value at a place, as a rig file writes it.
func (v *Varied) Written(at int64) string {
	if v.Listed() {
		return v.Values[at].Of
	}
	return v.key().Quantity.ExactText(at)
}

// Check draws so many members and returns what is wrong with the first that cannot be.
func (p *Population) Check(members int) error {
	for n := range members {
		if _, err := p.Draw(0, n); err != nil {
			return err
		}
	}
	return nil
}

// MostCandidates is how many profiles one survey may compare.
const MostCandidates = 60

// OneKnob returns the panel that a task is when a member dials nothing else: one knob.
func OneKnob(t *Task, rings int) *Panel {
	return &Panel{Name: t.Name, Knobs: []Knob{{Name: t.Name, Rings: rings, Tasks: []Use{{Task: t, PerHour: 1}}}}}
}

// Single returns the task and the rings of a panel that OneKnob made, nil of another.
func (p *Panel) Single() (*Task, int) {
	if len(p.Knobs) == 1 && p.Knobs[0].Inner == nil && len(p.Knobs[0].Tasks) == 1 {
		return p.Knobs[0].Tasks[0].Task, p.Knobs[0].Rings
	}
	return nil, 0
}
