package fit

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"sync"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/trial"
)

// Family is the rigs that a count test chooses from. Nobody has counted what rigs
// people have; the ranges are ours, wide enough for what is sold and built at home.
// Times and rates are spread evenly on a logarithmic scale.
//
//	part       bounce 0.3–4 ms, shortest state 0.1–0.25, 2 or 4 quarter steps a detent
//	firmware   scan 0.05–5 ms, debounce 1–8, decoder table
//	output     buttons 60 %, keys 20 %, relative counts 20 %
//	pulses     pulse and gap 5–100 ms each, queue 0, 1, 2, 4, 8, 16, 32 or 64
//	USB        poll 1, 2, 4, 8, 8, 10, 16 or 32 ms; of pulses 3 in 4 report levels
//	system     key repeat as Windows, or none
//	program    12–120 frames per s; levels 50 %, events 30 % (half of them one a
//	           frame, the excess carried or dropped), immediate 20 %
//
// An acceleration, a firmware hold, an axis and the edge decoder are not in it. Half
// of the rigs are turned in strokes and half in an unbroken spin, since a count does
// not say which.
type Family struct {
	rigs []encoder.Rig

	mu   sync.Mutex
	done map[tempo][][drawsACount]outcome
}

// Sizes of the family; ours.
const (
	familySize  = 6000
	drawsACount = 4 // times that each rig does a count test
)

// NewFamily draws the rigs. Settings that are known already are the same in all of
// them.
func NewFamily(seed uint64, known ...scenarios.Setting) (*Family, error) {
	f := &Family{done: map[tempo][][drawsACount]outcome{}}
	for n := range familySize {
		r := member(draw.NewTrial(seed, "family", n).Stream(familyDraw))
		if len(known) > 0 {
			var err error
			if r, err = scenarios.With(r, known); err != nil {
				return nil, fmt.Errorf("family: %w", err)
			}
		}
		f.rigs = append(f.rigs, r)
	}
	return f, nil
}

func member(s draw.Stream) encoder.Rig {
	i := int64(0)
	unit := func() float64 { i++; return float64(s.Unit(i)) / draw.Share }
	wide := func(low, high float64) float64 { return low * math.Pow(high/low, unit()) }
	of := func(n int) int { i++; return int(s.Below(i, int64(n))) }
	ms := func(low, high float64) time.Duration {
		return time.Duration(wide(low, high) * 1e6).Round(time.Microsecond)
	}
	r := encoder.Default()
	r.Knob.Bounce = ms(0.3, 4)
	r.Knob.MinState = math.Round(1000*(0.1+0.15*unit())) / 1000
	r.Knob.Cycles = []int{24, 12}[of(2)]
	r.Firmware.Scan, r.Firmware.Debounce = ms(0.05, 5), 1+of(8)
	r.Firmware.Output = []encoder.Output{encoder.Buttons, encoder.Buttons, encoder.Buttons, encoder.Keys, encoder.Relative}[of(5)]
	r.Firmware.Pulse, r.Firmware.Gap = ms(5, 100), ms(5, 100)
	r.Firmware.Queue = []int{0, 1, 2, 4, 8, 16, 32, 64}[of(8)]
	r.Firmware.Overflow = encoder.Overflow(of(2))
	r.USB.Poll = []time.Duration{1, 2, 4, 8, 8, 10, 16, 32}[of(8)] * time.Millisecond
	if of(4) == 0 {
		r.USB.Reports = encoder.QueuedReports
	}
	if of(2) == 0 {
		r.System.Repeat.Rate = 0
	}
	r.Program.Frames = encoder.PerSecond(math.Round(10*wide(12, 120)) / 10)
	switch k := of(10); {
	case k < 3:
		r.Program.Sampling = encoder.Events
		r.Program.MaxPerFrame = of(2)
		r.Program.Excess = encoder.Excess(of(2))
	case k < 5:
		r.Program.Sampling = encoder.Immediate
	}
	return r
}

// outcomes does a count test on every rig, once and for all.
func (f *Family) outcomes(ctx context.Context, t tempo) ([][drawsACount]outcome, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if all, ok := f.done[t]; ok {
		return all, nil
	}
	everyone := make([]int, len(f.rigs))
	for k := range everyone {
		everyone[k] = k
	}
	all, err := f.try(ctx, t, everyone)
	if err == nil {
		f.done[t] = all
	}
	return all, err
}

// try does a count test on some of the rigs.
func (f *Family) try(ctx context.Context, t tempo, members []int) ([][drawsACount]outcome, error) {
	all, errs := make([][drawsACount]outcome, len(members)), make([]error, len(members))
	err := trial.Each(ctx, 0, len(members), func(i int) {
		k := members[i]
		path, err := encoder.NewPath(encoder.Setup{Rig: &f.rigs[k]})
		if err != nil {
			errs[i] = fmt.Errorf("family: %w", err)
			return
		}
		for n := range drawsACount {
			source := draw.NewTrial(uint64(k), fmt.Sprintf("count %d in %d", t.turned, t.over), n)
			all[i][n] = tried(path, t, source, k%2 == 1)
		}
	})
	return all, cmp.Or(append(errs, err)...)
}
