package tune

import (
	"context"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/trial"
)

// board is the knobs that share the settings of a rig, and what is known of them.
type board struct {
	knobs []int // of the panel
	uses  []use
	space *space
	now   point
	seats map[string][]*trial.Seat // of what was tried, by name and spot
	dead  error                    // why nothing can be dialed; nil

	instead error // why the settings of now cannot be tried, so that now is other ones; nil
}

// forget drops the people before what was tried, but for some tries: what they know of a
// knob is most of what a search keeps.
func (b *board) forget(but map[string]*try) {
	for name := range b.seats {
		if but[name] == nil {
			delete(b.seats, name)
		}
	}
}

// use is a task on one of the board's knobs.
type use struct {
	scenarios.Served
	knob  int
	spots []spot // with every rig and person
}

// spot is a person before a knob that serves a task.
type spot struct {
	scenarios.Served
	operator *scenarios.Operator
}

// point is what is set on a board: a profile for each use. All have the same settings
// and the same home, and in the firmware, which does not know the task, the uses of a
// knob have one acceleration.
type point []*scenarios.Profile

// change returns the point with something changed for some of its uses.
func (x point) change(uses []int, change func(p *scenarios.Profile)) point {
	y := append(point(nil), x...)
	for _, i := range uses {
		p := *x[i]
		change(&p)
		y[i] = &p
	}
	return y
}

// all are the numbers of a point's uses.
func (x point) all() []int {
	list := make([]int, len(x))
	for i := range list {
		list[i] = i
	}
	return list
}

// boards groups a panel's knobs. Where a profile or a rig cannot be set, the board's
// error says so.
func (s *search) boards(ctx context.Context) ([]*board, error) {
	var list []*board
	served := s.Panel.Served()
	for _, knobs := range s.Panel.Boards() {
		b := &board{knobs: knobs}
		var rigs []*scenarios.Rig
		for _, n := range knobs {
			k := &s.Panel.Knobs[n]
			for _, c := range s.combinations() {
				on := c.on(k)
				rigs = append(rigs, on.Inner)
				if on.Outer != nil && on.Outer != on.Inner {
					rigs = append(rigs, on.Outer)
				}
			}
			for _, u := range served {
				if u.Knob != k {
					continue
				}
				x := use{Served: u, knob: n}
				for _, c := range s.combinations() {
					with := u
					with.Knob = c.on(k)
					x.spots = append(x.spots, spot{with, c.Operator})
				}
				b.uses = append(b.uses, x)
			}
		}
		if len(b.uses) == 0 {
			continue
		}
		var err error
		if b.space, err = newSpace(rigs, s.Change); err != nil {
			return nil, err
		}
		var dead error
		for i := range b.uses {
			u := &b.uses[i]
			p := s.Profile.On(u.Knob.Name, u.Task.Name)
			if s.untriable(u, p) != nil {
				p = scenarios.Plain() // where the profile of now cannot be set, the knob is plain
				if err := s.untriable(u, p); err != nil {
					dead = err
				}
			}
			b.now = append(b.now, p)
		}
		if dead != nil {
			s.revive(ctx, b, dead)
		}
		b.stay()
		list = append(list, b)
	}
	return list, nil
}

// stay keeps the acceleration where it is, when nothing of it may change.
func (b *board) stay() {
	if len(b.space.curves) == 0 {
		b.space.homes = []scenarios.Home{b.now[0].Home}
	}
}

// Combination is a rig and a kind of person that the settings are to suit.
type Combination struct {
	Name     string
	Rig      *scenarios.Rig // behind every knob; nil: the panel's own
	Operator *scenarios.Operator
}

// on is a knob as a combination has it.
func (c Combination) on(k *scenarios.Knob) *scenarios.Knob {
	if c.Rig == nil {
		return k
	}
	with := *k
	with.Inner = c.Rig
	if k.Outer != nil {
		with.Outer = c.Rig
	}
	return &with
}

// combinations are those that are asked for: one where nothing else is.
func (s *Study) combinations() []Combination {
	if len(s.Combinations) == 0 {
		return []Combination{{Operator: s.Operator}}
	}
	return s.Combinations
}

// groups are the uses that share an acceleration in a home.
func (b *board) groups(home scenarios.Home) (list [][]int) {
	for i, u := range b.uses {
		if home == encoder.InFirmware && i > 0 && b.uses[i-1].knob == u.knob {
			last := len(list) - 1
			list[last] = append(list[last], i)
			continue
		}
		list = append(list, []int{i})
	}
	return list
}
