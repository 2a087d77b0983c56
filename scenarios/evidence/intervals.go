package evidence

import (
	"context"
	"math"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/trial"
)

// histogram counts inter-notch intervals in bins of equal logarithmic width, ten a
// decade from 1 ms.
type histogram struct {
	count [40]int
	total int
}

func (h *histogram) add(ns int64) {
	i := int(math.Floor(10*math.Log10(float64(ns)/1e6) + 1e-9))
	h.count[min(max(i, 0), len(h.count)-1)]++
	h.total++
}

// from is the lower end of a bin, in seconds.
func (h *histogram) from(bin int) float64 { return math.Pow(10, float64(bin)/10) / 1000 }

// dip returns the middles of the two modes and of the valley between them, in
// seconds. The valley is the run of lowest bins that leaves the higher modes on
// both of its sides.
func (h *histogram) dip() (low, valley, high float64) {
	best, at := 0, 0
	var left, right int
	for v := range h.count {
		a, b := v, v
		for i := range h.count {
			if i < v && h.count[i] > h.count[a] {
				a = i
			}
			if i > v && h.count[i] > h.count[b] {
				b = i
			}
		}
		if depth := min(h.count[a], h.count[b]) - h.count[v]; depth > best {
			best, left, at, right = depth, a, v, b
		}
	}
	end := at
	for end+1 < right && h.count[end+1] == h.count[at] {
		end++
	}
	middle := func(first, last int) float64 { return math.Sqrt(h.from(first) * h.from(last+1)) }
	return middle(left, left), middle(at, end), middle(right, right)
}

// wheelIntervals collects the intervals between notches of the same direction over
// all cells of the wheel study.
func wheelIntervals(ctx context.Context, o scenarios.Operator, seed uint64, trials int) (h histogram, err error) {
	o = o.OnWheel()
	rig := wheelRig()
	for _, p := range []scenarios.Profile{wheelConstant(), wheelAccelerated()} {
		for _, d := range wheelDistances {
			for _, w := range wheelWidths {
				b, err := trial.NewBench(trial.Cell{Task: wheelTask(d, w), Rings: 1, Inner: &rig, Profile: &p, Operator: &o})
				if err != nil {
					return h, err
				}
				before, dir := int64(0), int8(0)
				b.Path = func(_ int, e encoder.Event) {
					if e.Kind != encoder.Turned {
						return
					}
					if e.Dir == dir {
						h.add(e.At - before)
					}
					before, dir = e.At, e.Dir
				}
				for n := range trials {
					if ctx.Err() != nil {
						return h, ctx.Err()
					}
					dir = 0
					b.Run(seed, n)
				}
			}
		}
	}
	return h, nil
}
