package scenarios

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"dialwright/encoder"
)

// none is the value of a key that a rig does without.
const none = "none"

// Key is one key of a rig file: what it means, what values it takes and which
// rigs use it. There is one table of them; files, profile settings, tune and
// explain all go by it.
type Key struct {
	Name     string // dotted: "firmware.pulse"
	About    string // one line, for schemas and templates
	Quantity Quantity
	Words    []string // of a Word
	Absent   bool     // none is a value
	Presets  []string // names of presets, for a key that only takes those and sets others: what stands beside it wins
	Low      string   // the smallest value
	Above    bool     // Low itself is too small
	High     string   // the largest value
	Belongs  string   // which rigs use it, "" for all

	used func(*encoder.Rig) bool
	get  func(*encoder.Rig) string // nil: the key only sets others
	put  func(*encoder.Rig, string) *Fault
	copy func(to, from *encoder.Rig)
	rule func(*encoder.Rig) *Fault
}

// Used reports whether the rig's output and sampling make use of the key.
func (k Key) Used(r *encoder.Rig) bool { return k.used == nil || k.used(r) }

// Example returns a value that the key takes: what the default rig has, or the
// middle of what people use.
func (k Key) Example() string {
	standard := encoder.Default()
	switch {
	case k.get == nil:
		if len(k.Presets) > 0 {
			return k.Presets[0]
		}
		return none
	case k.get(&standard) != none:
		return k.get(&standard)
	}
	return examples[k.Name]
}

// examples are values for the keys that are absent by default.
var examples = map[string]string{
	"firmware.phase": "0ms", "firmware.hold": "150ms",
	"firmware.coarse.above": "12/s", "firmware.coarse.steps": "10",
	"firmware.axis.bits": "10", "firmware.axis.counts_per_detent": "8",
	"usb.phase": "3ms", "program.phase": "0ms", "program.max_per_frame": "1",
	"program.hold.delay": "400ms", "program.hold.period": "100ms",
	"program.frame_list": "frames.csv",
}

// set writes a value into the rig after looking at its form and its bounds.
func (k Key) set(r *encoder.Rig, value string) *Fault {
	if value == none && !k.Absent {
		return &Fault{Found: "none", Would: k.would()}
	}
	switch k.Quantity {
	case Word:
		if k.get != nil && k.Words != nil && !slices.Contains(k.Words, value) {
			f := unknown("", value, "choice", k.Words)
			f.Found = Shown(value)
			return &f
		}
	case Switch:
		if value != "true" && value != "false" {
			return &Fault{Found: Shown(value), Would: "true or false would do"}
		}
	default:
		if value == none {
			break
		}
		v, err := k.Quantity.Parse(value)
		if err == nil && (k.Quantity == Time || k.Quantity == Whole) {
			_, err = k.Quantity.Exact(value)
		}
		if err != nil {
			f := err.(Fault)
			if k.Absent && strings.HasSuffix(f.Would, " would do") && !strings.Contains(f.Would, " such as ") {
				f.Would = "none or " + f.Would
			}
			return &f
		}
		if f := k.within(v, value); f != nil {
			return f
		}
	}
	return k.put(r, value)
}

// within checks a value, as Parse returns it, against the key's bounds.
func (k Key) within(v float64, written string) *Fault {
	if k.Low == "" {
		return nil
	}
	low, _ := k.Quantity.Parse(k.Low)
	high, _ := k.Quantity.Parse(k.High)
	switch {
	case v > low && v <= high, v == low && !k.Above:
		return nil
	case v < 0:
		return &Fault{Found: Shown(written) + " is negative", Would: k.would()}
	case v > high:
		return &Fault{Found: Shown(written) + " is too much", Would: k.would()}
	case v == 0:
		return &Fault{Found: Shown(written) + " is too little", Would: k.would()}
	}
	return &Fault{Found: Shown(written) + " is out of bounds", Would: k.would()}
}

// would says what values the key takes.
func (k Key) would() string {
	s := ""
	switch {
	case k.Presets != nil:
		s = "one of " + strings.Join(k.Presets, ", ")
	case k.Words != nil:
		s = "one of " + strings.Join(k.Words, ", ")
	case k.Quantity == Switch:
		s = "true or false"
	case k.Low == "":
		return k.Quantity.such()
	default:
		s = "from " + k.Low + " to " + k.High
		if k.Above {
			s = "above " + k.Low + ", up to " + k.High
		}
	}
	if k.Absent && k.Quantity != Switch {
		s = "none, or " + s + ","
	}
	return s + " would do"
}

// check looks at the value that the rig has.
func (k Key) check(r *encoder.Rig) *Fault {
	if written := k.get(r); written != none && k.Quantity != Word && k.Quantity != Switch {
		v, err := k.Quantity.Parse(written)
		if err != nil {
			f := err.(Fault)
			return &f
		}
		if f := k.within(v, written); f != nil {
			if b, _ := encoder.BoundOf(k.Name); !b.Runs(v) {
				return f
			}
		}
	} else if written == none && !k.Absent {
		return &Fault{Found: "none", Would: k.would()}
	} else if k.Words != nil && !slices.Contains(k.Words, written) {
		return &Fault{Found: Shown(written), Would: k.would()}
	}
	if k.rule != nil {
		return k.rule(r)
	}
	return nil
}

// renamed are keys that had another name.
var renamed = map[string]string{"firmware.on": "firmware.pulse", "firmware.off": "firmware.gap"}

// noKey is the fault of a key that there is not.
func noKey(name string) Fault {
	if now, ok := renamed[name]; ok {
		word := name[strings.LastIndexByte(name, '.')+1:]
		return Fault{name, "is the old name of " + now + " (" + word + " is a switch to older YAML readers)", now + " would do"}
	}
	return unknown(name, name, "key", names())
}

func keyed(name string) (Key, bool) {
	for _, k := range table {
		if k.Name == name {
			return k, true
		}
	}
	return Key{}, false
}

func names() []string {
	list := make([]string, len(table))
	for i, k := range table {
		list[i] = k.Name
	}
	return list
}

// Which rigs use a key.
func lines(r *encoder.Rig) bool  { return r.Firmware.Output.Lines() }
func pulses(r *encoder.Rig) bool { return lines(r) && r.Firmware.Hold == 0 }
func framed(r *encoder.Rig) bool { return r.Program.Sampling != encoder.Immediate }
func steady(r *encoder.Rig) bool { return framed(r) && r.Program.FrameList == nil }
func queued(r *encoder.Rig) bool { return lines(r) && r.Program.Sampling == encoder.Events }
func axis(r *encoder.Rig) bool   { return r.Firmware.Output == encoder.AxisOutput }
func keys(r *encoder.Rig) bool   { return r.Firmware.Output == encoder.Keys }

const (
	forPulses = "it belongs to output buttons or keys without firmware.hold"
	forLines  = "it belongs to output buttons or keys"
	forKeys   = "it belongs to output keys"
	forAxis   = "it belongs to output axis"
	forFrames = "it belongs to sampling state or events"
	forSteady = "it belongs to sampling state or events without a frame_list"
	forQueued = "it belongs to output buttons or keys under sampling events"
)

// bounded is a key for a number, with the bounds that the engine has for it.
func bounded(name, about string, q Quantity) Key {
	b, ok := encoder.BoundOf(name)
	if !ok {
		panic("no bound of " + name) // the tables are part of the program
	}
	return Key{Name: name, About: about, Quantity: q, Low: q.Text(b.Low), Above: b.Above, High: q.Text(b.High)}
}

// number makes a key for a number in the rig.
func number[T ~int | ~int64 | ~float64](name, about string, q Quantity, at func(*encoder.Rig) *T) Key {
	k := bounded(name, about, q)
	k.get = func(r *encoder.Rig) string { return q.Text(float64(*at(r))) }
	k.put = func(r *encoder.Rig, s string) *Fault {
		switch q {
		case Time, Whole:
			n, err := q.Exact(s)
			if err != nil {
				f := err.(Fault)
				return &f
			}
			*at(r) = T(n)
		default:
			v, _ := q.Parse(s)
			*at(r) = T(v)
		}
		return nil
	}
	k.copy = func(to, from *encoder.Rig) { *at(to) = *at(from) }
	return k
}

// optional makes a key whose zero is none.
func optional[T ~int | ~int64 | ~float64](name, about string, q Quantity, at func(*encoder.Rig) *T) Key {
	k := number(name, about, q, at)
	k.Absent = true
	get, put := k.get, k.put
	k.get = func(r *encoder.Rig) string {
		if *at(r) == 0 {
			return none
		}
		return get(r)
	}
	k.put = func(r *encoder.Rig, s string) *Fault {
		if s == none {
			*at(r) = 0
			return nil
		}
		return put(r, s)
	}
	return k
}

func phase(name, about string, at func(*encoder.Rig) *encoder.Phase) Key {
	k := bounded(name, about, Time)
	k.Absent = true
	k.get = func(r *encoder.Rig) string {
		if !at(r).Fixed {
			return none
		}
		return TimeText(at(r).At)
	}
	k.put = func(r *encoder.Rig, s string) *Fault {
		*at(r) = encoder.Phase{}
		if s != none {
			t, _ := ParseTime(s)
			*at(r) = encoder.PhaseAt(t)
		}
		return nil
	}
	k.copy = func(to, from *encoder.Rig) { *at(to) = *at(from) }
	return k
}

// mode makes a key for one of the ways in which a stage can work.
func mode[M encoder.Mode](name, about string, at func(*encoder.Rig) *M) Key {
	words := encoder.Words[M]()
	return Key{
		Name: name, About: about, Quantity: Word, Words: words,
		get: func(r *encoder.Rig) string { return (*at(r)).String() },
		put: func(r *encoder.Rig, s string) *Fault {
			*at(r) = M(slices.Index(words, s))
			return nil
		},
		copy: func(to, from *encoder.Rig) { *at(to) = *at(from) },
	}
}

// thousandths reports whether v is a whole number of thousandths.
func thousandths(v float64) bool { return math.Abs(v*1000-math.Round(v*1000)) < 1e-9 }

func (k Key) when(used func(*encoder.Rig) bool, belongs string) Key {
	k.used, k.Belongs = used, belongs
	return k
}

func (k Key) ruled(rule func(*encoder.Rig) *Fault) Key {
	k.rule = rule
	return k
}

// together demands that two keys are there both or neither.
func together(other string, here, there func(*encoder.Rig) bool) func(*encoder.Rig) *Fault {
	return func(r *encoder.Rig) *Fault {
		if there(r) && !here(r) {
			return &Fault{Found: "is missing beside " + other, Would: "both or neither would do"}
		}
		return nil
	}
}

// preset makes a key that takes a thing of package part by its name, and none.
func preset[T any](name, about, what string, names []string, named func(string) (T, bool), clear func(*encoder.Rig), put func(*encoder.Rig, T)) Key {
	return Key{Name: name, About: about, Quantity: Word, Absent: true, Presets: names, put: func(r *encoder.Rig, s string) *Fault {
		if s == none {
			clear(r)
			return nil
		}
		v, ok := named(s)
		if !ok {
			f := unknown("", s, what, names)
			return &f
		}
		put(r, v)
		return nil
	}}
}

// without returns a key that only takes none, and clears a group of keys.
func without(name, about string, clear func(*encoder.Rig)) Key {
	return Key{Name: name, About: about, Quantity: Word, Absent: true, put: func(r *encoder.Rig, s string) *Fault {
		if s != none {
			return &Fault{Found: Shown(s), Would: fmt.Sprintf("none, or %s with a key after it, would do", name)}
		}
		clear(r)
		return nil
	}}
}
