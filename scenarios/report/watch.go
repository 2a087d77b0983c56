package report

import (
	"context"
	"sync/atomic"

	"dialwright/encoder"
	"dialwright/scenarios/trial"
)

// RateStep is the width of a bin of turning rates, detents a second.
const RateStep = 2.5

// rateBins is how many bins there are; what is quicker than 100 detents a second
// counts in the last one, which few hands reach.
const rateBins = 40

// longestGap is the time in ns after which a detent no longer follows the one before.
const longestGap = 400e6

// Watched is what was seen of every click of a task's trials.
type Watched struct {
	Sizes map[int64]int // steps of the dial that went furthest past → trials, overshoots only

	// Rates is the clicks by turning rate, from the time since the click before; the
	// first one after a rest or in another direction stands at 0.
	Rates [rateBins]Clicks
}

// Clicks counts detents, and those of them that had no step of their own.
type Clicks struct{ Detents, Lost int }

// rateBin is the bin of a detent that came so many nanoseconds after the one
// before.
func rateBin(gap int64) int {
	const slowest = 1e9 / RateStep
	return int(min(slowest/max(gap, 1), rateBins-1))
}

// watch looks at every click of all trials, before and after. An error is the context's.
func (r *Result) watch(ctx context.Context) error {
	var ways []*Way
	for _, d := range r.Dialings {
		ways = append(ways, &d.Before)
		if d.Changed {
			ways = append(ways, &d.After)
		}
	}
	var done atomic.Int64
	_ = trial.Each(ctx, max(1, r.Study.Workers), len(ways), func(i int) {
		ways[i].watch(ctx, r.Study.Seed)
		r.Study.say(watching, int(done.Add(1)), len(ways))
	})
	for _, d := range r.Dialings {
		if !d.Changed {
			d.After.Watched = d.Before.Watched
		}
	}
	return ctx.Err()
}

// watch does the trials again and looks at every click, until the context ends.
func (w *Way) watch(ctx context.Context, seed uint64) {
	seen := &w.Watched
	seen.Sizes = map[int64]int{}
	var log trial.Log
	var fates []encoder.Fate
	for n := range w.Trials.Seconds {
		if ctx.Err() != nil {
			return
		}
		if w.seat.Record(&log, seed, n); log.Overshot() {
			seen.Sizes[log.Overshoot]++
		}
		for i := range log.Runs {
			r := &log.Runs[i]
			fates = r.Fates(fates[:0])
			was, dir, detent := int64(0), int8(0), 0
			for _, e := range r.Events {
				if e.Kind != encoder.Turned {
					continue
				}
				bin := 0
				if e.Dir == dir && e.At-was < longestGap {
					bin = rateBin(e.At - was)
				}
				was, dir = e.At, e.Dir
				seen.Rates[bin].Detents++
				if fates[detent] != encoder.Delivered && !w.seat.Holds() { // under a hold clicks have no fate
					seen.Rates[bin].Lost++
				}
				detent++
			}
		}
	}
}
