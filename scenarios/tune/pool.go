package tune

import (
	"context"
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"math"
	"slices"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/trial"
)

// pool is what was tried on a board with the same people.
type pool struct {
	*search
	board *board
	block uint64
	tries map[string]*try
	order []*try // as they came
}

// try is a profile for one of a board's uses, and its trials with every rig and person
// that is asked for.
type try struct {
	use      int
	profile  *scenarios.Profile
	settings string // what all uses of a board share, besides the home
	seats    []*trial.Seat
	sample   sample.Panel
	err      error // why it cannot be tried
	shown    shown
	soFar    score
	print    uint64 // of what its first trials came to; 0: not known yet
}

// score is what some trials come to, over rigs and people.
type score struct {
	trials                   int
	seconds, overshoot, lost float64
}

func (s *search) pool(b *board, stage string) *pool {
	if b.seats == nil {
		b.seats = map[string][]*trial.Seat{}
	}
	return &pool{search: s, board: b, block: s.block(stage, 0), tries: map[string]*try{}}
}

// fewBoards is how many boards keep their people while they wait for the others; of more
// the people leave, and find out again about what they are asked to dial once more.
const fewBoards = 4

// leave lets go of the people before what was tried, who are most of what is kept. The
// trials stay.
func (p *pool) leave() {
	for _, t := range p.order {
		clear(t.seats)
	}
	p.board.forget(nil)
}

// shared names what all uses of a board have in common, besides the home.
func shared(p *scenarios.Profile) string { return fmt.Sprint(p.Settings) }

// try returns what was tried, or is to be. Without an acceleration the home is one.
func (p *pool) try(use int, with *scenarios.Profile) *try {
	home := encoder.InProgram
	if !with.Acceleration.Plain() {
		home = with.Home
	}
	name := fmt.Sprintf("%d %v %v %#v %d", use, shared(with), home, with.Acceleration, with.PressCoarse)
	t := p.tries[name]
	if t == nil {
		t = &try{use: use, profile: with, settings: shared(with), seats: p.board.seats[name]}
		if t.seats == nil { // no other people of the board have tried it
			t.seats = make([]*trial.Seat, len(p.board.uses[use].spots))
			p.board.seats[name] = t.seats
		}
		p.tries[name] = t
		p.order = append(p.order, t)
	}
	return t
}

// at says whether a try can be part of a point with such a home.
func (t *try) at(home scenarios.Home) bool {
	return t.profile.Home == home || t.profile.Acceleration.Plain()
}

// of are the tries of a point, use by use.
func (p *pool) of(x point) []*try {
	list := make([]*try, len(x))
	for i, with := range x {
		list[i] = p.try(i, with)
	}
	return list
}

// measure continues tries to so many trials. Work is split by try, rig and person, and
// again by trial, so that nobody waits for the last of a few; no number depends on the
// workers.
func (p *pool) measure(ctx context.Context, trials int, all ...*try) error {
	type job struct {
		t     *try
		combo int
	}
	var jobs []job
	in := map[*try]bool{}
	for _, t := range all {
		if in[t] || t.err != nil || t.trials() >= trials {
			continue
		}
		in[t] = true
		if t.sample == nil {
			p.evaluations.Add(1)
			n := len(p.board.uses[t.use].spots)
			t.sample = make(sample.Panel, n)
		}
		for i := range t.sample {
			jobs = append(jobs, job{t, i})
		}
	}
	failed := make([]error, len(jobs))
	err := trial.Each(ctx, max(1, p.Workers), len(jobs), func(n int) {
		t, i := jobs[n].t, jobs[n].combo
		spot := p.board.uses[t.use].spots[i]
		seat := t.seats[i]
		if seat == nil {
			var err error
			if seat, err = p.grips.Seat(spot.Served, t.profile, spot.operator); err != nil {
				failed[n] = err
				return
			}
			t.seats[i] = seat
		}
		if t.sample[i] == nil {
			t.sample[i] = sample.Of(seat)
		}
		t.sample[i].Grow(trials)
		did, err := trial.Batch(ctx, seat.Bench, p.block, t.sample[i].Len(), trials, p.Workers, t.sample[i].Take)
		p.trials.Add(int64(did))
		p.done.Add(int64(did))
		failed[n] = err
	})
	if err != nil {
		return err
	}
	for n, f := range failed {
		if t := jobs[n].t; t.err == nil {
			t.err = f
		}
	}
	p.say("")
	return nil
}

// trials is how many a try has done with every rig and person.
func (t *try) trials() int {
	if t.err != nil || t.sample == nil {
		return 0
	}
	n := math.MaxInt
	for _, s := range t.sample {
		if s == nil { // interrupted
			return 0
		}
		n = min(n, s.Len())
	}
	return n
}

// score is what a try's trials come to: the mean over rigs and people, or the slowest
// where that is wanted.
func (p *pool) score(t *try) score {
	if n := t.trials(); n == 0 || t.soFar.trials == n {
		return t.soFar
	}
	t.soFar = p.first(t, t.trials())
	return t.soFar
}

// first is the score of a try's first trials.
func (p *pool) first(t *try, n int) score {
	x := score{trials: n}
	slowest := 0.0
	for _, s := range t.sample {
		sum, over, detents, lost := 0.0, 0, 0, 0
		for i := range n {
			sum += min(s.Seconds[i], s.Limit)
			if s.Past[i] > 0 {
				over++
			}
			detents += s.Detents[i]
			lost += s.Lost[i]
		}
		slowest = max(slowest, sum/float64(n))
		x.seconds += sum / float64(n) / float64(len(t.sample))
		x.overshoot += float64(over) / float64(n) / float64(len(t.sample))
		x.lost += float64(lost) / float64(max(1, detents)) / float64(len(t.sample))
	}
	if p.For == Worst {
		x.seconds = slowest
	}
	x.seconds, x.overshoot, x.lost = billionths(x.seconds), billionths(x.overshoot), billionths(x.lost)
	return x
}

// billionths rounds what decides which of two is better, so that the last bit of a
// processor does not.
func billionths(x float64) float64 { return math.Round(x*1e9) / 1e9 }

// does tells what a try's first trials came to: tries that do the same have one number,
// as pulses of 35 ms with gaps of 45 ms and such of 40 ms with gaps of 40 ms. It is 0
// where there are fewer.
func (t *try) does() uint64 {
	if t.print != 0 || t.trials() < lookTrials {
		return t.print
	}
	sum := fnv.New64a()
	for _, s := range t.sample {
		for i := range lookTrials {
			if err := binary.Write(sum, binary.LittleEndian, [...]uint64{math.Float64bits(s.Seconds[i]), uint64(s.Past[i])}); err != nil {
				panic(err) // a hash takes everything
			}
		}
	}
	t.print = sum.Sum64()
	return t.print
}

// distinct are the first few of some tries that do not all do the same.
func distinct(list []*try, few int) (kept []*try) {
	for _, t := range list {
		if len(kept) == few {
			break
		}
		if d := t.does(); d == 0 || !slices.ContainsFunc(kept, func(o *try) bool { return o.does() == d }) {
			kept = append(kept, t)
		}
	}
	return kept
}

// less returns the mean of trials less a share of the same trials with other settings.
func less(a, b sample.Panel, share float64, seed uint64) paired.Average {
	return a.Less(share, b, draw.NewTrial(seed, "tune against", -1))
}
