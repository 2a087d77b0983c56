package tune

import (
	"cmp"
	"context"
	"math"
	"slices"

	"dialwright/scenarios"
)

// Levels of overshoot, shares of dialings, at which it is said what can be had.
var levels = []float64{0.05, 0.10, 0.20, 0.30}

// levelsTo are the levels up to a cap on overshoot that may be beyond all of them.
func levelsTo(most float64) []float64 {
	if n := len(levels); most > levels[n-1] {
		return append(levels[:n:n], most)
	}
	return levels
}

// Level is the least time that was found with at most a share of overshoots.
type Level struct {
	Most            float64            // share of dialings
	Profile         *scenarios.Profile // nil: nothing that was tried is so calm
	Seconds         float64            // mean, s
	Overshoot, Lost float64            // shares
}

// tradeOff measures what can be had at each level of overshoot, use by use, with
// whatever settings.
func (f *field) tradeOff(ctx context.Context, p *pool) error {
	var all []*try
	for i := range f.board.uses {
		for _, level := range levelsTo(f.MaxOvershoot) {
			var list []*try
			for _, t := range p.order {
				if t.use == i && t.trials() >= scoutTrials && p.score(t).overshoot <= level+noise(level, moveTrials) && p.score(t).lost <= f.lost[i]+calmWithin {
					list = append(list, t)
				}
			}
			slices.SortStableFunc(list, func(a, b *try) int { return cmp.Compare(p.score(a).seconds, p.score(b).seconds) })
			for _, t := range list[:min(2, len(list))] {
				all = append(all, f.try(i, t.profile))
			}
		}
	}
	if err := f.measure(ctx, contestTrials, all...); err != nil {
		return err
	}
	for range 2 { // the best of them is one that may be chosen
		all = nil
		for i := range f.board.uses {
			for _, l := range f.levels(i) {
				if l.Profile != nil {
					all = append(all, f.try(i, l.Profile))
				}
			}
		}
		if err := f.measure(ctx, choiceTrials, all...); err != nil {
			return err
		}
	}
	return nil
}

// levels are the best of a use's tries at each level.
func (f *field) levels(use int) (list []Level) {
	for _, level := range levelsTo(f.MaxOvershoot) {
		best := Level{Most: level, Seconds: math.Inf(1)}
		for _, t := range f.order {
			if x := f.score(t); t.use == use && t.trials() >= contestTrials && f.guarded(t) <= level && x.lost <= f.lost[use] && x.seconds < best.Seconds {
				best = Level{level, t.profile, x.seconds, x.overshoot, x.lost}
			}
		}
		list = append(list, best)
	}
	return list
}
