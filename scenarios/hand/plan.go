package hand

import "sync/atomic"

// What a plan rests on beyond its time.
const (
	standing = 150e6 // ns without a change before a number is taken to stand
	patience = 1e9   // ns after which a number that never moved is believed
	wideFour = 4     // target widths that must be missing for a correction on the move
)

// plans is what people of one operator do on one knob to hit a target of one width.
// It is computed as it is asked for and remembered for all hands: plans depend on the
// class of a person, never on the person. Steps are counted in what one counts after a
// push.
type plans struct {
	*value
	multiple   int64 // task steps that a step counts
	step       int64 // the same, 1/fine task steps
	within     int64 // tolerance, 1/fine task steps
	far        int64 // steps of a plan; no stroke can end at a target that lies further away,
	beyond     int64 // and what lies further away than this is all the same
	fineGrain  int64 // steps of a plan that distances are apart at least,
	farGrain   int64 // and where the target is far
	remembered atomic.Pointer[[]atomic.Pointer[planned]]
	crowded    atomic.Int64 // plans of which another one took the place
}

// stroke is a plan: so many detents at such a pace.
type stroke struct {
	n, pace int
	travel  int64 // believed, 1/fine task steps, > 0
}

// planned is what people do who differ only in how they mind to run past.
type planned struct {
	key uint64
	by  [reluctanceClasses]struct{ i, pace uint8 } // as in plan
}

// How many plans are kept, from a first meeting to a long study; a newer one takes
// the place of an older one.
const (
	fewPlans  = 1 << 9
	manyPlans = 1 << 14
)

// plansFor returns the plans for a width of target, in steps of so many task steps.
func (g *Grip) plansFor(tolerance, multiple int64) *plans {
	v := g.valueOf(tolerance / multiple)
	g.mutex.Lock()
	defer g.mutex.Unlock()
	for _, p := range g.plans {
		if p.within == tolerance*fine && p.multiple == multiple {
			return p
		}
	}
	p := &plans{
		value: v, multiple: multiple, step: multiple * fine, within: tolerance * fine,
		far: v.near / sub, beyond: (3*v.farthest + 8*g.Base*sub/fine) / sub,
		fineGrain: max(g.Base/(4*fine), 1), farGrain: v.farthest / (8 * sub),
	}
	few := make([]atomic.Pointer[planned], fewPlans)
	p.remembered.Store(&few)
	g.plans = append(g.plans, p)
	return p
}

// base is the travel of a slow detent, 1/fine task steps.
func (p *plans) base() int64 { return p.grip.Base * p.multiple }

// travel is what a class of people believes that a stroke brings on average, 1/fine
// task steps.
func (p *plans) travel(speed, wrong, pace, n int) int64 {
	o := p.outcome(speed, pace, n)
	t := o.mean
	if above := t - o.plain; above > 0 {
		t += above * p.grip.people.gainErrors[wrong] >> 20
	}
	return max(1, p.stretch(t, n)*p.multiple)
}

// fair is what a stroke brings on average, 1/fine task steps: what somebody would
// believe who knew the knob perfectly.
func (p *plans) fair(speed, pace, n int) int64 {
	return p.stretch(p.outcome(speed, pace, n).mean, n) * p.multiple
}

func (p *plans) outcome(speed, pace, n int) *outcome {
	return &p.grip.outcomes[speed][pace][p.grip.nearest[n]]
}

// stretch makes of what the nearest stroke in the tables brings what n detents do.
func (p *plans) stretch(t int64, n int) int64 {
	return t * int64(n) / int64(p.grip.strokes[p.grip.nearest[n]])
}

// best returns the stroke of at most so many detents, not faster than a pace, with
// the least expected time for a target that lies so far away, in 1/fine task steps.
func (p *plans) best(w *Person, missing int64, most, fastest int) stroke {
	x, g := p.rounded(missing), p.grip
	// Who could reach further and would not, reaches far enough.
	found := p.remember(w, x, len(g.strokes)-1, fastest).by[w.Reluctance]
	if g.strokes[found.i] > most {
		found = p.remember(w, x, g.nearest[most], fastest).by[w.Reluctance]
	}
	n, pace := g.strokes[found.i], int(found.pace)
	return stroke{n, pace, p.travel(w.Speed, w.Error, pace, n)}
}

// rounded returns a distance in the steps of a plan, as exactly as plans differ: what
// lies beyond reach is all the same.
func (p *plans) rounded(missing int64) int64 {
	x := min((missing+p.step/2)/p.step, p.beyond)
	grain := max(p.fineGrain, x>>5)
	if x > p.far {
		grain = max(grain, p.farGrain)
	}
	return max(1, (x+grain/2)/grain*grain)
}

// remember returns the best strokes of people like a person, of those up to the last one,
// not faster than a pace.
func (p *plans) remember(w *Person, x int64, last, fastest int) *planned {
	wrong := w.Error
	if !p.grip.faster {
		wrong = 0 // there is nothing to be wrong about
	}
	key := uint64(x)<<24 | uint64(last)<<11 | uint64(fastest)<<8 | uint64(w.Speed)<<4 | uint64(wrong)
	slot := place(*p.remembered.Load(), key)
	found := slot.Load()
	if found != nil && found.key == key {
		return found
	}
	if found != nil {
		slot = p.makeRoom(key)
	}
	found = &planned{key: key}
	p.choose(found, w.Speed, wrong, x*sub, last, fastest)
	slot.Store(found)
	return found
}

// place is where a plan with a key is kept.
func place(remembered []atomic.Pointer[planned], key uint64) *atomic.Pointer[planned] {
	return &remembered[key*0x9e3779b97f4a7c15>>32*uint64(len(remembered))>>32]
}

// makeRoom returns a place for a plan where another one is kept; if that happened
// often it gets a place of its own. What others remember meanwhile may be forgotten.
func (p *plans) makeRoom(key uint64) *atomic.Pointer[planned] {
	old := p.remembered.Load()
	if p.crowded.Add(1) > int64(len(*old)/4) && len(*old) < manyPlans {
		more := make([]atomic.Pointer[planned], 4*len(*old))
		for i := range *old {
			if plan := (*old)[i].Load(); plan != nil {
				place(more, plan.key).Store(plan)
			}
		}
		if p.remembered.CompareAndSwap(old, &more) {
			p.crowded.Store(0)
		}
	}
	return place(*p.remembered.Load(), key)
}

// choose finds the best strokes of a class of people for every reluctance.
func (p *plans) choose(to *planned, speed, wrong int, x int64, last, fastest int) {
	const enormous = 1 << 62
	enough := int64(enormous) // what no class would take any more
	var costs, minds [reluctanceClasses]int64
	for k := range costs {
		costs[k], minds[k] = enormous, p.grip.people.reluctance[k]/1000
	}
	for pace := fastest; pace >= 0; pace-- {
		p.worthwhile(p.grip.outcomes[speed][pace], last, x, 1, func(i int) {
			cost, past := p.cost(speed, wrong, x, plan{pace, i}, enough)
			if cost >= enough {
				return
			}
			enough = 0
			for k, mind := range minds {
				if c := cost + past>>10*mind>>20; c < costs[k] {
					costs[k] = c
					to.by[k].i, to.by[k].pace = uint8(i), uint8(pace)
				}
				enough = max(enough, costs[k])
			}
		})
	}
}

// cost is the expected time, in µs, of a stroke where x is missing, in 1/sub steps,
// and of all that comes after it, and the probability that it runs past the target.
func (p *plans) cost(speed, wrong int, x int64, s plan, enough int64) (cost, past int64) {
	o := &p.grip.outcomes[speed][s.pace][s.i]
	cost = p.grip.lasts(o, speed, s, x)
	if cost >= enough {
		return cost, 0
	}
	e := int64(0)
	if p.grip.faster {
		e = p.grip.people.gainErrors[wrong]
	}
	needed, past := p.after(o, x, e, p.grip.watched(o, speed, s.pace), enough-cost)
	return cost + needed, past
}

// needs is the expected time of dialing so far away a target, in 1/fine task steps,
// from a standing number, ns.
func (p *plans) needs(w *Person, missing int64) int64 {
	s := p.best(w, missing, p.grip.reach(w.Reach), paces-1)
	x := p.rounded(missing)
	cost, past := p.cost(w.Speed, w.Error, x*sub, plan{s.pace, p.grip.nearest[s.n]}, 1<<62)
	cost += past >> 10 * (p.grip.people.reluctance[w.Reluctance] / 1000) >> 20
	far := max(0, missing-x*p.multiple*fine)
	return cost*1000 + far/(p.multiple*fine)*sub*p.cruise>>cruiseShift*1000
}
