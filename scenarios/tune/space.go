package tune

import (
	"slices"
	"strings"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
)

// space is what can be chosen for the knobs of a board: what the owner of every rig
// behind them can change, no more.
type space struct {
	rigs   []*encoder.Rig // behind the rings, with every rig that is asked for
	keys   []key
	homes  []scenarios.Home
	curves []string // none: the acceleration stays as it is
	always bool     // there is a curve: none is no choice
}

// key is a setting with the values that it may have.
type key struct {
	name    string
	choices []string
	words   bool // no order between the values
}

// newSpace is what all these rigs let their owner change; changed, unless empty,
// narrows it to some keys and groups of keys. With the program or the firmware goes the
// acceleration there.
func newSpace(rigs []*scenarios.Rig, changed []string) (*space, error) {
	s := &space{homes: rigs[0].Adjustable.Homes, curves: rigs[0].Adjustable.Curves}
	wanted := func(name string) bool { return len(changed) == 0 || named(changed, name) }
	for _, g := range rigs[0].Adjustable.Settings {
		choices, err := g.Choices()
		if err != nil {
			return nil, err
		}
		for _, r := range rigs[1:] {
			i := slices.IndexFunc(r.Adjustable.Settings, func(o scenarios.Range) bool { return o.Key == g.Key })
			if i < 0 {
				choices = nil
				break
			}
			theirs, err := r.Adjustable.Settings[i].Choices()
			if err != nil {
				return nil, err
			}
			choices = both(choices, theirs)
		}
		if choices == nil || !wanted(g.Key) {
			continue
		}
		k := key{name: g.Key, choices: choices}
		for _, c := range choices {
			if _, ok := scenarios.Number(g.Key, c); !ok {
				k.words = true
			}
		}
		s.keys = append(s.keys, k)
	}
	for _, r := range rigs {
		s.rigs = append(s.rigs, &r.Rig)
		s.homes, s.curves = both(s.homes, r.Adjustable.Homes), both(s.curves, r.Adjustable.Curves)
	}
	if s.homes == nil {
		s.homes = []scenarios.Home{encoder.InProgram}
	}
	if !wanted("acceleration") { // but in a home that may change
		s.homes = slices.DeleteFunc(slices.Clone(s.homes), func(h scenarios.Home) bool { return !slices.Contains(changed, h.String()) })
		if len(s.homes) == 0 {
			s.curves = nil
		}
	}
	return s, nil
}

// named says whether a key is one of some keys and groups of keys.
func named(keys []string, name string) bool {
	return slices.ContainsFunc(keys, func(c string) bool { return name == c || strings.HasPrefix(name, c+".") })
}

// both returns what two lists have in common, nil for nothing.
func both[T comparable](a, b []T) (list []T) {
	for _, x := range a {
		if slices.Contains(b, x) {
			list = append(list, x)
		}
	}
	return list
}

// with sets one more key. What a rig then does not use is left out, and what all have
// anyhow.
func (s *space) with(settings []scenarios.Setting, more ...scenarios.Setting) []scenarios.Setting {
	all := slices.Clone(settings)
	for _, m := range more {
		all = append(slices.DeleteFunc(all, func(x scenarios.Setting) bool { return x.Key == m.Key }), m)
	}
	var list []scenarios.Setting
	for _, x := range all {
		needed, used := false, true
		for _, r := range s.rigs {
			probe := *r
			for _, o := range all {
				if scenarios.Set(&probe, o.Key, o.Value) != nil {
					continue // Apply says so
				}
			}
			used = used && slices.Contains(scenarios.Keys(&probe), x.Key)
			needed = needed || scenarios.Get(r, x.Key) != x.Value
		}
		if used && needed {
			list = append(list, x)
		}
	}
	slices.SortFunc(list, func(a, b scenarios.Setting) int { return strings.Compare(a.Key, b.Key) })
	return list
}

// value is that of a key under some settings.
func (s *space) value(settings []scenarios.Setting, name string) string {
	for _, x := range settings {
		if x.Key == name {
			return x.Value
		}
	}
	return scenarios.Get(s.rigs[0], name)
}

// uses says whether the rigs use a key under some settings.
func (s *space) uses(settings []scenarios.Setting, name string) bool {
	probe := *s.rigs[0]
	for _, o := range settings {
		if scenarios.Set(&probe, o.Key, o.Value) != nil {
			return false
		}
	}
	return slices.Contains(scenarios.Keys(&probe), name)
}

// neighbors are the settings that differ in one key: a number by one choice, or by as
// many as reach leaves of all of them, a word by any.
func (s *space) neighbors(settings []scenarios.Setting, reach int) (list [][]scenarios.Setting) {
	for _, k := range s.keys {
		if !s.uses(settings, k.name) {
			continue
		}
		at, far := slices.Index(k.choices, s.value(settings, k.name)), max(1, len(k.choices)/reach)
		for n, v := range k.choices {
			if n != at && (k.words || at < 0 || n == at-1 || n == at+1 || n == at-far || n == at+far) {
				list = append(list, s.with(settings, scenarios.Setting{Key: k.name, Value: v}))
			}
		}
	}
	// Pulse and gap make up one time: what one gains the other may give.
	pulse, gap := s.key("firmware.pulse"), s.key("firmware.gap")
	if pulse == nil || gap == nil || !s.uses(settings, pulse.name) {
		return list
	}
	i, j := slices.Index(pulse.choices, s.value(settings, pulse.name)), slices.Index(gap.choices, s.value(settings, gap.name))
	far := max(1, len(pulse.choices)/reach)
	for _, by := range [][2]int{{1, 1}, {-1, -1}, {1, -1}, {-1, 1}, {far, far}, {-far, -far}} {
		if x, y := i+by[0], j+by[1]; i >= 0 && j >= 0 && x >= 0 && y >= 0 && x < len(pulse.choices) && y < len(gap.choices) {
			list = append(list, s.with(settings, scenarios.Setting{Key: pulse.name, Value: pulse.choices[x]}, scenarios.Setting{Key: gap.name, Value: gap.choices[y]}))
		}
	}
	return list
}

func (s *space) key(name string) *key {
	for i := range s.keys {
		if s.keys[i].name == name {
			return &s.keys[i]
		}
	}
	return nil
}

// starts are settings to begin with: those of now, and with every output pulses of
// several lengths: as they are, quick and slow ones, and so long that no poll and no
// frame can miss them, with more room to wait.
func (s *space) starts(now []scenarios.Setting) (list [][]scenarios.Setting) {
	add := func(x []scenarios.Setting) {
		if !slices.ContainsFunc(list, func(o []scenarios.Setting) bool { return slices.Equal(o, x) }) {
			list = append(list, x)
		}
	}
	add(s.with(now))
	outputs := []string{s.value(now, "firmware.output")}
	if k := s.key("firmware.output"); k != nil {
		outputs = k.choices
	}
	long := s.outlasting()
	for _, o := range outputs {
		set := now
		if s.key("firmware.output") != nil {
			set = s.with(now, scenarios.Setting{Key: "firmware.output", Value: o})
		}
		add(set)
		for _, least := range []time.Duration{12 * time.Millisecond, 25 * time.Millisecond, 40 * time.Millisecond, long} {
			with := set
			for _, name := range []string{"firmware.pulse", "firmware.gap"} {
				if k := s.key(name); k != nil && s.uses(set, name) {
					with = s.with(with, scenarios.Setting{Key: name, Value: k.atLeast(least)})
				}
			}
			if k := s.key("firmware.queue"); k != nil && least == long && s.uses(set, k.name) {
				i := max(0, slices.Index(k.choices, s.value(with, k.name)))
				with = s.with(with, scenarios.Setting{Key: k.name, Value: k.choices[min(len(k.choices)-1, i+1)]})
			}
			add(with)
		}
	}
	return list
}

// atLeast is the least choice that lasts so long, or the longest there is.
func (k *key) atLeast(d time.Duration) string {
	for _, c := range k.choices {
		if t, _ := scenarios.Number(k.name, c); t >= float64(d) {
			return c
		}
	}
	return k.choices[len(k.choices)-1]
}

// outlasting is the least length of pulses and gaps that polls and frames cannot miss: a
// poll shows a level for whole polls, one fewer than it touches, and a frame sees what
// outlasts the longest time between two frames.
func (s *space) outlasting() time.Duration {
	r := s.rigs[0]
	least := r.USB.Poll
	if r.Program.Sampling == encoder.State {
		frame := r.Program.Frames.Period()
		for _, f := range r.Program.FrameList {
			frame = max(frame, f)
		}
		least += frame + time.Duration(float64(frame)*2*r.Program.Jitter)
	}
	return least
}

// accelerations are those to begin with in a home: none, those of the built-in
// profiles, and others of every kind of curve that the owner can have; few of them only
// where it is the settings that are in question, or a firmware makes many pulses of them.
func (s *space) accelerations(few bool, home scenarios.Home) (list []accel.Acceleration) {
	if !s.always {
		list = append(list, accel.Acceleration{})
	}
	if !few {
		for _, p := range scenarios.Profiles() {
			if p.Acceleration.Curve != nil && slices.Contains(s.curves, accel.KindOf(p.Acceleration.Curve).Word) {
				list = append(list, p.Acceleration)
			}
		}
	}
	one := false
	for _, w := range s.curves {
		k := kind(w)
		curves := usual(k)
		switch {
		case few && k.Flat():
			curves = []accel.Curve{curves[2], curves[4]}
		case few && one:
			continue
		case few:
			one = true
		case home == encoder.InFirmware && !k.Flat():
			curves = curves[:1]
		}
		for _, c := range curves {
			list = append(list, accel.Acceleration{Curve: c})
		}
	}
	return list
}
