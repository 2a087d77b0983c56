package trial

import (
	"fmt"
	"math"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/hand"
)

// Cell is one box of a comparison: a task on a knob, set as a profile says, in
// the hands of one kind of person.
type Cell struct {
	Task     *scenarios.Task
	Rings    int          // 1 or 2
	Inner    *encoder.Rig // the only rig of a knob with one ring
	Outer    *encoder.Rig // nil: as Inner
	Profile  *scenarios.Profile
	Operator *scenarios.Operator
	Others   float64 // share of the knob's dialings that other tasks have, behind a selector button
}

// Bench is a cell made ready. It is used by one goroutine at a time; Clone makes
// another one for the next worker.
type Bench struct {
	cell   Cell
	people *hand.People
	hand   hand.Hand
	dials  []dial
	others int64 // Cell.Others in 1/draw.Share
	gain   *accel.Gain
	limit  int64
	gaveUp error // of the newest trial

	RunOn bool // Result.RunOn is wanted, which few ask for and every trial would pay

	// Trace is called for everything that the person does, dial by dial; Path,
	// for everything that happens on a dial's path. Nil costs nothing.
	Trace func(dial int, a hand.Act)
	Path  func(dial int, e encoder.Event)
	log   *Log // of Record; nil
}

// dial is a dial of the task and the knob's ring that turns it.
type dial struct {
	scenarios.Dial
	setup encoder.Setup
	run   hand.Dial
}

// maxDials is how many dials a task may have (the digits of a number).
const maxDials = 6

// NewBench makes a cell ready. An error says which setting of the rig, the
// profile or the operator does not go with the others.
func NewBench(c Cell) (*Bench, error) { return (*Grips)(nil).Bench(c) }

// Bench is NewBench with people who may have found out about the knob already.
func (g *Grips) Bench(c Cell) (*Bench, error) {
	people, err := g.peopleOf(c.Operator)
	if err != nil {
		return nil, err
	}
	b := &Bench{cell: c, people: people, others: int64(c.Others * draw.Share), limit: int64(c.Task.Limit)}
	if b.limit == 0 {
		b.limit = int64(scenarios.DefaultLimit)
	}
	if err := scenarios.Fits(c.Profile, c.Task); err != nil {
		return nil, err
	}
	if !c.Profile.Acceleration.Plain() {
		if b.gain, err = c.Profile.Acceleration.Compile(); err != nil {
			return nil, fmt.Errorf("profile %s: %w", c.Profile.Name, err)
		}
	}
	b.hand.People = people
	for i, d := range c.Task.Dials(c.Rings) {
		if i == maxDials {
			return nil, fmt.Errorf("task %s has more than %d digits", c.Task.Name, maxDials)
		}
		given := c.Inner
		if d.Ring == scenarios.Outer && c.Outer != nil {
			given = c.Outer
		}
		rig, err := scenarios.Apply(c.Profile, *given)
		if err != nil {
			return nil, err
		}
		multiple := int64(0)
		if d.Name == "" { // rings and digits are short enough without
			multiple = c.Profile.PressCoarse
		}
		x := dial{Dial: d, setup: encoder.Setup{Rig: &rig, Gain: b.gain, Home: c.Profile.Home, Scale: d.Scale, Ring: i, Pushes: multiple > 1}}
		grip, err := g.of(x.setup, c.Profile.Acceleration, people)
		if err != nil {
			return nil, err
		}
		x.run = hand.Dial{Grip: grip, Scale: d.Scale, Tolerance: d.Tolerance, Multiple: multiple, Limit: b.limit}
		b.dials = append(b.dials, x)
	}
	return b, b.connect()
}

// connect gives every dial a path of its own.
func (b *Bench) connect() (err error) {
	for i := range b.dials {
		if b.dials[i].run.Path, err = encoder.NewPath(b.dials[i].setup); err != nil {
			return err
		}
	}
	return nil
}

// Clone returns a bench for another worker. It shares everything that is only
// read.
func (b *Bench) Clone() *Bench {
	c := *b
	c.hand = hand.Hand{People: b.people}
	c.dials = append([]dial(nil), b.dials...)
	if err := c.connect(); err != nil {
		panic(err) // the same setups have made paths before
	}
	return &c
}

// Dials returns the dials of the task in the order in which they are turned.
func (b *Bench) Dials() []scenarios.Dial {
	ds := make([]scenarios.Dial, len(b.dials))
	for i := range b.dials {
		ds[i] = b.dials[i].Dial
	}
	return ds
}

// Holds says whether a firmware holds its line, so that detents have no fate.
func (b *Bench) Holds() bool { return b.dials[0].setup.Rig.Firmware.Hold > 0 }

// Limit returns the time after which a trial is a timeout.
func (b *Bench) Limit() time.Duration { return time.Duration(b.limit) }

// Source returns the source of all random numbers of a trial.
func (b *Bench) Source(seed uint64, n int) draw.Trial {
	return draw.NewTrial(seed, b.cell.Task.Name, n)
}

// Run does trial number n under a seed.
func (b *Bench) Run(seed uint64, n int) Result {
	source := b.Source(seed, n)
	from, to := b.cell.Task.Draw(source)
	return b.Dialed(source, from, to)
}

// Err says why the newest trial was given up, with an *encoder.Runaway, or is nil. Its
// result is then worth nothing.
func (b *Bench) Err() error { return b.gaveUp }

// Cost is how many events the newest trial has taken on its paths, see
// [encoder.Path.Events], and which keys of a rig are behind most of them.
func (b *Bench) Cost() (events int64, keys []string) {
	most := int64(-1)
	for i := range b.dials {
		p := b.dials[i].run.Path
		n := p.Events()
		if events += n; n > most {
			most, keys = n, p.Behind()
		}
	}
	return events, keys
}

// Dialed does a trial with a start and a target of the caller's choice.
func (b *Bench) Dialed(source draw.Trial, from, to int64) Result {
	b.gaveUp = nil
	w := b.people.Draw(source)
	b.hand.Start(w, source)
	r := Result{Start: from, Target: to}
	at := int64(0)
	if b.others > 0 && source.Stream(draw.Stroke).Unit(selector) < b.others {
		at += w.KeyPress + w.EyeMove
	}
	at += w.Reaction
	began := at
	whole, wasRing := from, scenarios.Inner
	var now [maxDials]int64
	for i := range b.dials {
		now[i] = b.dials[i].Part(from)
	}
	slips := 0 // rings that were taken for the other
	for i := 0; i < len(b.dials); i++ {
		x := &b.dials[i]
		start, target := now[i], x.Part(to)
		distance := x.Scale.Distance(start, target)
		if len(b.dials) > 1 && max(distance, -distance) <= x.Tolerance {
			continue
		}
		if began != at { // not the first dial that is turned
			move := w.KeyPress // on to the next digit
			if x.Ring != wasRing {
				move = w.HandMove
			}
			b.act(i, hand.Act{Kind: hand.HandMove, At: at, Until: at + move})
			at += move
		}
		wasRing = x.Ring
		if slips <= i && b.slips(source, i) {
			slips = i + 1
			other := 1 - i
			y := &b.dials[other]
			b.watch(other, true, now[other], y.Part(to))
			p := y.run.Path
			p.Start(source, now[other])
			done := b.hand.Slip(&x.run, &y.run, at, start, target)
			p.Finish()
			b.add(&r, other, done, p)
			moved := p.Shown(math.MaxInt64)
			whole += (moved - now[other]) * y.Place
			now[other] = moved
			b.act(i, hand.Act{Kind: hand.HandMove, At: done.At, Until: done.At + w.HandMove})
			at = done.At + w.HandMove
		}
		b.watch(i, false, start, target)
		p := x.run.Path
		p.Start(source, start)
		x.run.Strokes = int64(i)<<24 + int64(slips)<<20 // other strokes than those made before
		done := b.hand.Run(&x.run, at, start, target)
		p.Finish()
		at = done.At
		b.add(&r, i, done, p)
		b.measure(&r, i, done, start, target, whole)
		whole += (target - start) * x.Place
		now[i] = target
		if done.Timeout {
			r.Timeout = true
			r.TimeToTarget = b.limit
			break
		}
		if i == 1 && slips == 2 {
			i, slips = -1, 3 // back to the first ring, which was turned for the second
		}
	}
	r.Confirmed = at + w.Confirm
	return r
}

// Indexes, among the strokes' draws, of whether the knob is found on another task,
// and of whether a ring is mistaken for the other (less the number of the dial).
const (
	selector = -1
	slip     = -2
)

// slips says whether the hand takes the other ring for that of dial i.
func (b *Bench) slips(source draw.Trial, i int) bool {
	share := int64(b.cell.Operator.WrongRing * draw.Share)
	return share > 0 && len(b.dials) == 2 && b.dials[0].Ring != b.dials[1].Ring &&
		source.Stream(draw.Stroke).Unit(slip-int64(i)) < share
}

// watch lets what is about to happen on a dial be seen.
func (b *Bench) watch(i int, mistaken bool, start, target int64) {
	x := &b.dials[i]
	x.run.Trace, x.run.Path.Trace = nil, nil
	switch l := b.log; {
	case l != nil:
		l.begin(i, x, mistaken, start, target)
		x.run.Trace, x.run.Path.Trace = l.act, l.event
	default:
		if b.Trace != nil {
			x.run.Trace = func(a hand.Act) { b.Trace(i, a) }
		}
		if b.Path != nil {
			x.run.Path.Trace = func(e encoder.Event) { b.Path(i, e) }
		}
	}
}

func (b *Bench) act(i int, a hand.Act) {
	if b.log != nil {
		b.log.moves = append(b.log.moves, a)
	} else if b.Trace != nil {
		b.Trace(i, a)
	}
}
