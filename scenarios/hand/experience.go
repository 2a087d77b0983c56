package hand

import "math"

// Experience: what a hand knows of a knob because it has turned it. Strokes of many
// lengths are turned at many rates on the path itself, from rest, with the noise of
// pace that hands have and in several phases of the path's clocks; what came of them
// is kept. An acceleration, pulses that are lost, a queue, a second button pair show
// in it as they are, and a curve that never acts does not show at all.

// brought is what strokes of one length at one rate brought.
type brought struct {
	turns  int            // a power of two
	travel [samples]int64 // of so many turns, equally likely, 1/fine steps
	settle int64          // ns from the last detent to the last change, mean
}

// experience is what strokes brought, by rate and length. The zero value with a
// base and a lag is a knob on which every detent brings the base.
type experience struct {
	base, lag int64 // see Grip
	lengths   []int // detents, rising
	at        [rates][]brought
}

// learn turns strokes and keeps their outcomes.
func (g *Grip) learn() error {
	reach := g.reach(g.people.reach.mean)
	g.exact = g.bringsWhatItTurns(reach)
	e := &experience{base: g.Base, lag: g.IdleLag}
	if !g.exact {
		tried, err := g.knob.experience()
		if err != nil {
			return err
		}
		e.take(g, tried)
	}
	extents := make([][]extent, len(g.strokes))
	for i, n := range g.strokes {
		extents[i] = g.extents(n)
	}
	for k := range g.outcomes {
		for p := range g.outcomes[k] {
			if g.exact && k+p > 0 {
				g.outcomes[k][p] = g.outcomes[0][0]
				continue
			}
			g.goTo(e, k, p)
			g.outcomes[k][p] = make([]outcome, len(g.strokes))
			for i, n := range g.strokes {
				g.outcomes[k][p][i] = g.summarize(n, extents[i])
			}
		}
	}
	all := make([]*outcome, speedClasses)
	for p := range paces {
		g.blended[p] = g.outcomes[0][p]
		if g.exact {
			continue
		}
		g.blended[p] = make([]outcome, len(g.strokes))
		for i := range g.strokes {
			for k := range all {
				all[k] = &g.outcomes[k][p][i]
			}
			g.blended[p][i] = g.blend(all)
		}
	}
	g.runOn(reach)
	return nil
}

// bringsWhatItTurns says whether full strokes bring their detents times the base,
// whatever their pace, and are over when a single detent would be.
func (g *Grip) bringsWhatItTurns(reach int) bool {
	const noticed = 50e6 // ns
	for i := range g.knob.full {
		travel, settle := g.bring(&g.knob.full[i])
		if abs(travel-int64(reach)*g.Base) > fine || settle > g.IdleLag+noticed {
			return false
		}
	}
	return true
}

// take keeps what the strokes of experience brought.
func (e *experience) take(g *Grip, tried [][]turned) {
	e.lengths = g.lengths
	for r := range rates {
		e.at[r] = make([]brought, len(e.lengths))
	}
	for i := range e.lengths {
		for r := range rates {
			b, list := &e.at[r][i], tried[i*rates+r]
			b.turns = len(list)
			for s := range list {
				travel, settle := g.bring(&list[s])
				b.travel[s] = travel
				b.settle += settle
			}
			b.settle /= int64(b.turns)
		}
	}
}

// bring returns how far the number went, in 1/fine steps, and how long after the last
// edge it last changed.
func (g *Grip) bring(t *turned) (travel, settle int64) {
	g.number.Start(g.knob.middle())
	for _, s := range t.steps {
		g.number.Take(s)
	}
	last := g.knob.middle()
	if c := g.number.Changes(); len(c) > 0 {
		settle = max(0, c[len(c)-1].At-t.last)
		last = c[len(c)-1].Value
	}
	return abs(last-g.number.Shown(t.at-1)) * fine, settle
}

// atPace is what strokes bring at a pace between two rates: some of the samples are
// those of the faster one. Samples are mixed and never averaged, so that their spread
// stays.
type atPace struct {
	*experience
	mixed []brought // by length
	known []summed  // by detents,
	asked []bool    // where they have been asked for
}

// summed is what strokes of one length brought, and what it adds up to.
type summed struct {
	brought
	low, high, sum int64 // of the travels
}

// goTo makes g.at ready for a pace of a class.
func (g *Grip) goTo(e *experience, class, pace int) {
	slow, fast := g.span()
	x := 0
	if slow > fast {
		x = int(math.Round(samples * (paces - 1) * math.Log(slow/float64(g.detent[class][pace])) / math.Log(slow/fast)))
	}
	x = min(max(0, x+samples), samples*(rates-1))
	rate, faster := x/samples, x%samples // the slower of the two; how many samples are of the next
	at := &g.at
	at.experience = e
	at.mixed = append(at.mixed[:0], e.at[rate]...)
	if faster > 0 {
		for i := range at.mixed {
			at.mixed[i].mix(&e.at[rate+1][i], faster)
		}
	}
	if at.known == nil {
		at.known, at.asked = make([]summed, g.most+1), make([]bool, g.most+1)
	}
	clear(at.asked)
}

// mix takes some of the samples from those of a faster rate.
func (b *brought) mix(faster *brought, some int) {
	for s := range b.turns {
		if (5*s+3)%b.turns*samples < some*b.turns {
			b.travel[s] = faster.travel[s]
		}
	}
	b.settle += (faster.settle - b.settle) * int64(some) / samples
}

// brings returns what n detents bring.
func (a *atPace) brings(n int) *summed {
	b := &a.known[n]
	if a.asked[n] {
		return b
	}
	a.asked[n] = true
	a.between(n, &b.brought)
	b.low, b.high, b.sum = b.travel[0], b.travel[0], 0
	for _, t := range b.travel[:b.turns] {
		b.low, b.high, b.sum = min(b.low, t), max(b.high, t), b.sum+t
	}
	return b
}

// between finds what n detents bring between the lengths that were turned.
func (a *atPace) between(n int, b *brought) {
	if a.lengths == nil {
		*b = brought{turns: 1, travel: [samples]int64{int64(n) * a.base}, settle: a.lag}
		return
	}
	i := 0
	for i+2 < len(a.lengths) && a.lengths[i+1] <= n {
		i++
	}
	*b = a.mixed[i]
	if n == a.lengths[i] || len(a.lengths) == 1 {
		return
	}
	c := &a.mixed[i+1]
	part, whole := int64(n-a.lengths[i]), int64(a.lengths[i+1]-a.lengths[i])
	for s := range b.turns { // never fewer than the longer stroke has
		b.travel[s] += (c.travel[s%c.turns] - b.travel[s]) * part / whole
	}
	b.settle += (c.settle - b.settle) * part / whole
}

// runOn finds out how the number runs on after a hurried stroke.
func (g *Grip) runOn(reach int) {
	const noticed = 30e6 // ns
	const middle = speedClasses / 2
	flick := &g.outcomes[middle][paces-1][g.nearest[reach]]
	if late := flick.settle - g.IdleLag; late > noticed {
		lasts := g.people.delays[begin].mean + int64(reach)*g.detent[middle][paces-1]
		g.gap = (lasts + late) / int64(reach)
	}
	for p := range paces {
		for i := range g.strokes {
			g.longest = max(g.longest, g.outcomes[middle][p][i].settle-g.IdleLag)
			o := &g.outcomes[speedClasses-1][p][i]
			g.faster = g.faster || o.mean > o.plain+o.plain/50
		}
	}
}
