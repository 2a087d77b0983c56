package trial

import "dialwright/scenarios"

// Seat is one kind of person before a knob that serves a task: the way from what a
// panel says to trials, the same for every study, so that one of them replays what
// another has done.
type Seat struct {
	scenarios.Served
	Profile *scenarios.Profile // that is set: the one asked for, or plain
	Stays   error              // why the one asked for cannot be set here, so that the knob stays plain; nil
	*Bench
}

// Seat sets the knob as a profile says for it and the task, before people who may have
// found out about it already. An error says why it cannot be set.
func (g *Grips) Seat(u scenarios.Served, p *scenarios.Profile, o *scenarios.Operator) (*Seat, error) {
	p = p.On(u.Knob.Name, u.Task.Name)
	c := Cell{Task: u.Task, Rings: u.Knob.Rings, Inner: &u.Knob.Inner.Rig, Profile: p, Operator: o, Others: u.Others}
	if u.Knob.Outer != nil {
		c.Outer = &u.Knob.Outer.Rig
	}
	b, err := g.Bench(c)
	if err != nil {
		return nil, err
	}
	return &Seat{Served: u, Profile: p, Bench: b}, nil
}

// SeatOrPlain is a seat before a knob that stays plain where the profile cannot be set
// on it.
func SeatOrPlain(u scenarios.Served, p *scenarios.Profile, o *scenarios.Operator) (*Seat, error) {
	return (*Grips)(nil).SeatOrPlain(u, p, o)
}

// SeatOrPlain is the function of that name with people who may have found out about the
// knob already.
func (g *Grips) SeatOrPlain(u scenarios.Served, p *scenarios.Profile, o *scenarios.Operator) (*Seat, error) {
	s, stays := g.Seat(u, p, o)
	if stays == nil {
		return s, nil
	}
	s, err := g.Seat(u, scenarios.Plain(), o)
	if err != nil {
		return nil, err
	}
	s.Stays = stays
	return s, nil
}
