package fit

import (
	"context"
	"math"
	"time"

	"dialwright/scenarios"
)

// Next is the count test that would tell most about which link loses the clicks.
type Next struct {
	Turned int
	Over   time.Duration
	Bits   float64 // information about the link that it is expected to give
	Shows  []Shows // what it would show, by the link that loses most
}

// Shows is a link and what would be shown if it were the one.
type Shows struct {
	Link  scenarios.Link
	Steps float64
}

// menu is the count tests that a person can do: click by click, at an easy pace,
// fast, and in one flick.
var menu = []tempo{
	{24, 12 * time.Second}, {24, 4800 * time.Millisecond}, {24, 2400 * time.Millisecond}, {48, 4800 * time.Millisecond},
	{48, 1600 * time.Millisecond}, {96, 6400 * time.Millisecond}, {12, 1200 * time.Millisecond}, {12, 400 * time.Millisecond},
	{8, 250 * time.Millisecond}, {4, 150 * time.Millisecond},
}

// next chooses from the menu. It returns nil where nothing on it would tell a seventh of
// a bit.
func (f *Family) next(ctx context.Context, counts []Count, w []float64) (*Next, error) {
	members, tops, weights := f.heavy(counts, w)
	var best *Next
	for _, t := range menu {
		if done(counts, t) {
			continue
		}
		all, err := f.try(ctx, t, members)
		if err != nil {
			return nil, err
		}
		n := informs(t, all, tops, weights)
		if n.Bits >= 0.15 && (best == nil || n.Bits > best.Bits) {
			best = n
		}
	}
	return best, nil
}

// done says whether a count test was done already, or nearly.
func done(counts []Count, t tempo) bool {
	for _, c := range counts {
		rate := float64(c.Turned) / c.Over.Seconds() / (float64(t.turned) / t.over.Seconds())
		if rate > 0.8 && rate < 1.25 && 2*c.Turned > t.turned && c.Turned < 2*t.turned {
			return true
		}
	}
	return false
}

// heavy returns the rigs that have almost all of the weight, which link loses most
// in each, and their weights. Rigs that lose nothing are left out.
func (f *Family) heavy(counts []Count, w []float64) (members []int, tops []scenarios.Link, weights []float64) {
	limit := 0.0
	for _, x := range w {
		limit = max(limit, x/1000)
	}
	for k, x := range w {
		if x < limit {
			continue
		}
		if top, lost := topOf(f.lostOf(counts, k)); lost > 0 {
			members, tops, weights = append(members, k), append(tops, top), append(weights, x)
		}
	}
	return members, tops, weights
}

func topOf(lost [scenarios.Links]float64) (scenarios.Link, float64) {
	top := scenarios.Link(0)
	for _, l := range losing {
		if lost[l] > lost[top] {
			top = l
		}
	}
	return top, lost[top]
}

// informs returns how much a count test tells about the link: the entropy of what it
// shows, less that of what it shows when the link is known.
func informs(t tempo, all [][drawsACount]outcome, tops []scenarios.Link, weights []float64) *Next {
	n := &Next{Turned: t.turned, Over: t.over}
	sd := misread(t.turned)
	size := 2*t.turned + int(8*sd) + 2
	var by [scenarios.Links][]float64
	var weight, steps [scenarios.Links]float64
	whole := make([]float64, size)
	for i, l := range tops {
		if by[l] == nil {
			by[l] = make([]float64, size)
		}
		for _, o := range all[i] {
			weight[l] += weights[i]
			steps[l] += weights[i] * float64(o.shown)
			at := min(o.shown, 2*t.turned)
			reach := int(4 * sd)
			for d := -reach; d <= reach; d++ {
				if x := at + d; x >= 0 && x < size {
					p := weights[i] * math.Exp(-float64(d*d)/(2*sd*sd))
					by[l][x] += p
					whole[x] += p
				}
			}
		}
	}
	total := sum(whole)
	if total == 0 {
		return n
	}
	n.Bits = entropy(whole)
	for _, l := range losing {
		if by[l] != nil {
			n.Bits -= sum(by[l]) / total * entropy(by[l])
			n.Shows = append(n.Shows, Shows{l, steps[l] / weight[l]})
		}
	}
	return n
}

func sum(x []float64) (s float64) {
	for _, v := range x {
		s += v
	}
	return s
}

// entropy of weights that need not add up to 1, in bits.
func entropy(x []float64) (h float64) {
	total := sum(x)
	for _, v := range x {
		if v > 0 {
			h -= v / total * math.Log2(v/total)
		}
	}
	return h
}
