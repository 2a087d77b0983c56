package hand

import (
	"cmp"
	"math"

	"dialwright/encoder"
	"dialwright/encoder/draw"
)

// Experience: what a hand knows of a knob because it has turned it. Strokes of many
// lengths are turned at many rates on the path itself, from rest, with the noise of
// pace that hands have and in several phases of the path's clocks; what came of them
// is kept. An acceleration, pulses that are lost, a queue, a second button pair show
// in it as they are, and a curve that never acts does not show at all.

// samples is how often a short stroke is turned at a rate: with so many deviates of
// the pace, equally likely, each in another phase of the path. Of longer ones fewer
// do: they differ less, and take longer.
const samples = 32

// turns returns how often a stroke of n detents is turned. What a smooth knob's
// quarter steps bring differs less.
func (g *Grip) turns(n int) int {
	if g.Smooth {
		n *= 4
	}
	switch {
	case n <= 4:
		return samples
	case n <= 8:
		return samples / 2
	case n <= 32:
		return samples / 4
	case n <= 128:
		return samples / 8
	case n <= 512:
		return samples / 16
	}
	return 1
}

// longer returns the next length that is turned.
func (g *Grip) longer(n int) int {
	switch {
	case g.Smooth && 8*n > 3*g.most:
		return g.most
	case g.Smooth && n <= 32:
		return n + max(1, n/2)
	case g.Smooth:
		return 2 * n
	case n <= 32:
		return n + max(1, n/6)
	case n <= 128:
		return n + n/2
	}
	return 2 * n
}

// rates is at how many rates strokes are turned: the paces of the middle class of
// people, and one beyond at either end. What other classes do lies between.
const rates = paces + 2

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
func (g *Grip) learn(path *encoder.Path, middle int64) {
	reach := g.reach(g.people.reach.mean)
	g.exact = g.bringsWhatItTurns(path, middle, reach)
	e := &experience{base: g.Base, lag: g.IdleLag}
	if !g.exact {
		e.turn(g, path, middle)
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
}

// reach returns the longest stroke of a hand that twists so far, in thousandths of
// a degree.
func (g *Grip) reach(twist int64) int {
	return max(1, min(int(twist*g.perTurn/360_000), g.most))
}

// bringsWhatItTurns says whether full strokes bring their detents times the base,
// whatever their pace, and are over when a single detent would be.
func (g *Grip) bringsWhatItTurns(path *encoder.Path, middle int64, reach int) bool {
	const noticed = 50e6 // ns
	for p := range paces {
		for _, k := range [...]int{0, speedClasses - 1} {
			travel, settle := g.turnOnce(path, middle, reach, g.noisy(g.detent[k][p], p, paces), p, 0)
			if abs(travel-int64(reach)*g.Base) > fine || settle > g.IdleLag+noticed {
				return false
			}
		}
	}
	return true
}

// turn turns strokes of many lengths.
func (e *experience) turn(g *Grip, path *encoder.Path, middle int64) {
	for n := 1; n < g.most; n = g.longer(n) {
		e.lengths = append(e.lengths, n)
	}
	e.lengths = append(e.lengths, g.most)
	for r := range rates {
		e.at[r] = make([]brought, len(e.lengths))
	}
	for i, n := range e.lengths {
		g.keepShares(int64(n))
		for r := range rates {
			b := &e.at[r][i]
			b.turns = g.turns(n)
			for s := range b.turns {
				travel, settle := g.turnOnce(path, middle, n, g.noisy(g.rate(r), s, b.turns), s, s%2*(2+s/2%4))
				b.travel[s] = travel
				b.settle += settle
			}
			b.settle /= int64(b.turns)
		}
	}
}

// turnOnce turns one stroke from rest, after a quick one of so many detents that may
// have left a fraction of a step behind. It returns how far the number went, in 1/fine
// steps, and how long after the last detent it last changed.
func (g *Grip) turnOnce(path *encoder.Path, middle int64, n int, detent int64, phase, before int) (travel, settle int64) {
	path.Start(draw.NewTrial(0, "one stroke", phase), middle)
	from, at := middle, int64(2e9)
	if before > 0 {
		g.stroke(path, at, before, g.noisy(g.detent[speedClasses/2][paces-2], phase, samples))
		at += 5e9
		path.RunTo(at - 1)
		from = path.Shown(at - 1)
	}
	g.stroke(path, at, n, detent)
	path.Finish()
	g.err = cmp.Or(g.err, path.Err())
	if c := path.Changes(); len(c) > 0 {
		settle = max(0, c[len(c)-1].At-g.buffer[len(g.buffer)-1])
	}
	return abs(path.Shown(math.MaxInt64)-from) * fine, settle
}

// stroke turns n detents.
func (g *Grip) stroke(path *encoder.Path, at int64, n int, detent int64) {
	lasts := g.people.delays[begin].mean + int64(n)*detent
	g.buffer = g.buffer[:0]
	for k := range int64(n) {
		g.buffer = g.edgeTimes(g.buffer, at, lasts, k, int64(n))
	}
	path.Stroke(+1, g.buffer)
}

// noisy is the time of a detent for sample s of so many: their deviates are equally
// likely, and not in the order of their size, so that they do not follow the phases.
func (g *Grip) noisy(detent int64, s, of int) int64 {
	z := classNormal((5*s+of/2)%of, of)
	return int64(math.Round(float64(detent) * max(0.25, 1+z*float64(g.people.pace.mean)/draw.One)))
}

// rate returns the time of a detent at rate r, ns.
func (g *Grip) rate(r int) int64 {
	slow, fast := g.span()
	return int64(math.Round(slow * math.Pow(fast/slow, float64(r-1)/(paces-1))))
}

// span is the time of a detent at the slowest and at the fastest pace of the middle
// class of people, ns.
func (g *Grip) span() (slow, fast float64) {
	middle := &g.detent[speedClasses/2]
	return float64(middle[0]), float64(middle[paces-1])
}

// atPace is what strokes bring at a pace between two rates: some of the samples are
// those of the faster one. Samples are mixed and never averaged, so that their spread
// stays.
type atPace struct {
	*experience
	mixed []brought // by length
	known []summed  // by detents; without turns: not asked for yet
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
		at.known = make([]summed, g.most+1)
	}
	for n := range at.known {
		at.known[n].turns = 0
	}
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
	if b.turns > 0 {
		return b
	}
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
