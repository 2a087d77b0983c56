package hand

import (
	"math"
	"math/bits"

	"dialwright/encoder/draw"
)

// sub is the unit of the edges of an outcome's boxes and of a value's cells: 1/sub
// task step. A step is the interval of half a step on either side of it.
const sub = 16

// certain is the probability 1 in the densities of boxes.
const certain = 1 << 30

// outcome is what a planned stroke may bring: a small distribution of travel, not a
// mean with a spread.
type outcome struct {
	boxes  []box
	plain  int64 // its detents times the base, 1/fine steps
	mean   int64 // travel, 1/fine steps, > 0
	each   int64 // what one of its detents brings, 1/fine steps
	settle int64 // ns from the last detent to the last change, mean
	still  int64 // probability that nothing moves, as a share of certain
	steady bool  // each detent brings the base, to a step, whatever else
}

// box is a part of the outcomes, uniform between two travels in 1/sub steps. The
// density is a share of certain for each 1/sub step.
type box struct {
	low, high int32
	density   uint32
}

// mostBoxes bounds the memory of an outcome; more travels than that share boxes.
const mostBoxes = 16

// extent is a number of detents that a planned stroke may turn.
type extent struct {
	n      int
	weight int64 // in 1/extentsWeigh, together as much
}

const extentsWeigh = 1 << 16

// doubts is how many values stand for what people know of their own gain error.
const doubts = 4

// extents returns what noise makes of a planned stroke, as the mean person knows
// it: every whole number of detents up to what a forearm can turn, or some that are
// equally likely where there are many.
func (g *Grip) extents(n int) []extent {
	const many, likely = 24, 15
	sd := float64(g.strokeNoise(n, g.people.noise.mean, g.people.finger.mean, g.people.felt.mean)) / draw.One
	if sd == 0 {
		return []extent{{n, extentsWeigh}}
	}
	var list []extent
	if 6*sd > many {
		for k := range likely {
			m := int(math.Round(float64(n) + sd*classNormal(k, likely)))
			list = append(list, extent{min(max(1, m), g.most), extentsWeigh / likely})
		}
		list[likely/2].weight += extentsWeigh % likely
		return list
	}
	below := int64(0)
	for m := max(1, n-int(math.Ceil(3*sd))); below < extentsWeigh; m++ {
		upTo := int64(math.Round(extentsWeigh * (1 + math.Erf((float64(m-n)+.5)/sd/math.Sqrt2)) / 2))
		if float64(m-n) > 3*sd || m == g.most {
			upTo = extentsWeigh
		}
		if upTo-below > extentsWeigh/1000 || upTo == extentsWeigh {
			list = append(list, extent{m, upTo - below})
			below = upTo
		}
	}
	return list
}

// strokeNoise is the standard deviation of what a stroke of n detents turns, in
// 1/draw.One detents: √((σ(n−1))² + (σ0/unit)² + f²) with detents, the first of
// which is felt as it comes; √((σn)² + (σ0/unit)²) on a smooth knob.
func (g *Grip) strokeNoise(n int, noise, finger, felt int64) int64 {
	b := float64(finger*g.perTurn) / 360_000 * draw.One
	if g.Smooth {
		a := float64(noise * int64(n))
		return int64(math.Sqrt(float64(a*a) + float64(b*b)))
	}
	a, f := float64(noise*int64(n-1)), float64(felt)
	return int64(math.Sqrt(float64(a*a) + float64(b*b) + float64(f*f)))
}

// tally adds up how likely travels are, by whole steps or, where they lie far apart,
// by a few.
type tally struct {
	low     int64 // steps
	shift   uint  // a unit is 1<<shift steps
	weights []int64
}

// mostUnits bounds a tally.
const mostUnits = 64

// between makes the tally ready for travels between two, in 1/fine steps.
func (t *tally) between(low, high int64) {
	t.low = (low + fine/2) / fine
	most := (high+fine/2)/fine - t.low
	t.shift = uint(bits.Len64(uint64(most / mostUnits)))
	t.weights = append(t.weights[:0], make([]int64, most>>t.shift+1)...)
}

func (t *tally) add(travel, weight int64) {
	t.weights[((travel+fine/2)/fine-t.low)>>t.shift] += weight
}

// points appends the travels that there are, in 1/fine steps.
func (t *tally) points(list []point) []point {
	for i, w := range t.weights {
		if w > 0 {
			list = append(list, point{(t.low+int64(i)<<t.shift)*fine + (1<<t.shift-1)*fine/2, w})
		}
	}
	return list
}

// point is one travel that may come of a stroke.
type point struct{ travel, weight int64 }

// summarize makes the outcome of a planned stroke of n detents at the pace of g.at.
func (g *Grip) summarize(n int, extents []extent) outcome {
	o := outcome{plain: int64(n) * g.Base, steady: true}
	low, high, sum := int64(math.MaxInt64), int64(0), int64(0)
	for _, x := range extents {
		b, plain := g.at.brings(x.n), int64(x.n)*g.Base
		o.settle += b.settle * x.weight
		sum += b.sum * x.weight * int64(samples/b.turns)
		low, high = min(low, b.low), max(high, b.high)
		o.steady = o.steady && b.low >= plain-fine && b.high <= plain+fine
	}
	o.settle /= extentsWeigh
	o.mean = max(sum/(samples*extentsWeigh), g.Base/32, 1)
	o.each = max(1, o.mean/int64(n))
	g.tally.between(low, high)
	for _, x := range extents {
		b := g.at.brings(x.n)
		weight := x.weight * int64(samples/b.turns)
		for _, t := range b.travel[:b.turns] {
			g.tally.add(t, weight)
		}
	}
	if low == 0 {
		o.still = g.tally.weights[0] * (certain / (samples * extentsWeigh))
	}
	travels := g.tally.points(g.points[:0])
	points := travels
	for _, p := range travels {
		// Nobody knows exactly what acceleration adds.
		if above := p.travel - o.plain; above > o.plain/50 {
			for _, z := range &g.people.doubts {
				points = append(points, point{p.travel + above*z>>20, p.weight})
			}
		} else {
			points = append(points, point{p.travel, doubts * p.weight})
		}
	}
	g.points = points
	o.boxes = g.boxes(points[len(travels):], doubts*samples*extentsWeigh)
	return o
}

// blend is the outcome of the same plan in the hands of people of all classes.
func (g *Grip) blend(of []*outcome) outcome {
	n := int64(len(of))
	b := outcome{plain: of[0].plain, steady: true}
	low, high := int64(math.MaxInt64), int64(0)
	for _, o := range of {
		b.mean += o.mean / n
		b.each += o.each / n
		b.settle += o.settle / n
		b.still += o.still / n
		b.steady = b.steady && o.steady
		for _, x := range o.boxes {
			low, high = min(low, x.middle()), max(high, x.middle())
		}
	}
	g.tally.between(low, high)
	for _, o := range of {
		for _, x := range o.boxes {
			g.tally.add(x.middle(), int64(x.density)*int64(x.high-x.low)/n)
		}
	}
	g.points = g.tally.points(g.points[:0])
	b.boxes = g.boxes(g.points, certain)
	return b
}

// middle is the travel in the middle of a box, 1/fine steps.
func (b *box) middle() int64 { return int64(b.low+b.high) * fine / (2 * sub) }

// boxes puts points, which weigh `all` together, into at most mostBoxes boxes: one
// for each, a step wide, where they are few, or bins of equal width.
func (s *scratch) boxes(points []point, all int64) []box {
	if cap(s.room)-len(s.room) < mostBoxes {
		s.room = make([]box, 0, 64*mostBoxes)
	}
	list := intoBoxes(s.room[len(s.room):], points, all)
	s.room = s.room[:len(s.room)+len(list)]
	return list[:len(list):len(list)]
}

// intoBoxes appends the boxes to an empty list.
func intoBoxes(list []box, points []point, all int64) []box {
	density := func(weight, width int64) uint32 { return uint32(weight * (certain / all) / width) }
	if len(points) <= mostBoxes {
		for _, p := range points {
			t := int32(p.travel * sub / fine)
			list = append(list, box{t - sub/2, t + sub/2, density(p.weight, sub)})
		}
		return list
	}
	low, high := int64(math.MaxInt64), int64(0)
	for _, p := range points {
		low, high = min(low, p.travel*sub/fine-sub/2), max(high, p.travel*sub/fine+sub/2)
	}
	bins := min(mostBoxes, (high-low+sub/2)/sub)
	width := (high - low + bins - 1) / bins
	var weights, beyond [mostBoxes]int64 // beyond: weights times the way from the middle of a bin
	for _, p := range points {
		x := p.travel*sub/fine - low
		if width < 3*sub/2 {
			weights[min(x/width, bins-1)] += p.weight
			continue
		}
		// Over the two bins around it, so that it does not jump from one to the other.
		x = max(0, x-width/2)
		j := min(x/width, bins-1)
		weights[j] += p.weight
		beyond[j] += p.weight * (x - j*width)
	}
	for j, b := range beyond[:bins-1] {
		weights[j] -= b / width
		weights[j+1] += b / width
	}
	for j, w := range weights[:bins] {
		if d := density(w, width); d > 0 {
			list = append(list, box{int32(low + int64(j)*width), int32(low + int64(j+1)*width), d})
		}
	}
	return list
}
