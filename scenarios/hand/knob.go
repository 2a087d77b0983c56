package hand

import (
	"cmp"
	"math/bits"
	"sync"

	"dialwright/encoder"
	"dialwright/encoder/draw"
)

// Knob is a knob on a path as people of one operator turn it: what their strokes deliver
// to the program, before an acceleration there. One knob serves for every such
// acceleration. It is used by any number of goroutines.
type Knob struct {
	*motion
	setup encoder.Setup // without an acceleration in the program

	single []turned   // single detents, by phase
	full   []turned   // full strokes, by pace
	tried  [][]turned // strokes of experience: rates for each length, by sample

	all sync.Once // of what was tried
	err error     // why it was given up
}

// turned is what the path delivered of something that was turned.
type turned struct {
	steps []encoder.Step
	at    int64 // ns, when it began,
	last  int64 // and its last edge
}

// NewKnob turns single detents and full strokes of a knob. What else is asked for is
// turned when it is.
func NewKnob(s encoder.Setup, people *People) (*Knob, error) {
	if s.Rig.Firmware.Output != encoder.AxisOutput {
		s.Scale.Count = 0 // no end shall cut a stroke short
	}
	if s.Home == encoder.InProgram {
		s.Gain = nil
	}
	path, err := encoder.NewPath(s)
	if err != nil {
		return nil, err
	}
	k := &Knob{motion: newMotion(s.Rig, path, people), setup: s}
	t := newTurner(k, path)
	for phase := range feltPhases {
		k.single = append(k.single, t.singles(phase))
	}
	reach := k.reach(people.reach.mean)
	for p := range paces {
		class := 0 // the slowest people at slow paces, the quickest at quick ones
		if p >= paces/2 {
			class = speedClasses - 1
		}
		k.full = append(k.full, t.turn(reach, k.noisy(k.detent[class][p], p, paces), p, 0))
	}
	return k, t.err
}

// How often single detents are felt on an idle path: in so many phases, so many
// detents, so far apart that the knob is at rest whatever an acceleration takes for
// a rest. Not a round time, so that the detents meet all phases of a clock.
const (
	feltPhases  = 8
	feltDetents = 8
	feltApart   = 2_510_011_003 // ns
)

// turner turns a knob and keeps what the path delivers.
type turner struct {
	*Knob
	path  *encoder.Path
	steps []encoder.Step
	ends  []int64 // of the newest stroke's detents
	edges []int64
	kept  int64 // steps of all strokes
	spent int64 // what all strokes cost, see encoder.Path.Events
	err   error // why the knob was given up
}

// What strokes may bring and cost, ours: those of one length, of which fewer are turned
// where they bring or cost more, and those of a knob, which is given up where even that
// does not do. A knob of 96 detents that chatters for 2 ms and is read every microsecond
// costs half as much as one length may, at most. Steps fill memory (50 MB), events take
// time (a second or two).
const (
	manySteps  = 1 << 15
	manyEvents = 1 << 21
	mostSteps  = 1 << 21
	mostEvents = 1 << 27
)

func newTurner(k *Knob, path *encoder.Path) *turner {
	t := &turner{Knob: k, path: path}
	path.Steps = func(s encoder.Step) { t.steps = append(t.steps, s) }
	return t
}

// take finishes what has been turned since a number of steps.
func (t *turner) take(at, last int64) turned {
	t.path.Finish()
	t.err = cmp.Or(t.err, t.path.Err())
	t.kept += int64(len(t.steps))
	t.spent += t.path.Events()
	if t.err == nil && (t.kept > mostSteps || t.spent > mostEvents) {
		most := int64(mostSteps)
		if t.spent > mostEvents {
			most = mostEvents
		}
		t.err = &encoder.Runaway{Rig: t.setup.Rig.Name, Of: "getting to know the knob", Events: most, Keys: t.path.Behind()}
	}
	steps := t.steps[:len(t.steps):len(t.steps)]
	t.steps = t.steps[len(t.steps):]
	if cap(t.steps) < 128 {
		t.steps = make([]encoder.Step, 0, 1024)
	}
	return turned{steps, at, last}
}

// singles turns single detents, feltApart from one another.
func (t *turner) singles(phase int) turned {
	t.path.Start(draw.NewTrial(0, "one detent", phase), t.middle())
	for k := range int64(feltDetents) {
		t.path.Detent((k+1)*feltApart, +1)
		t.path.RunTo((k+2)*feltApart - 1)
	}
	return t.take(feltApart, feltDetents*feltApart)
}

// turn turns one stroke from rest, after a quick one of so many detents that may have
// left a fraction of a step behind.
func (t *turner) turn(n int, detent int64, phase, before int) turned {
	if t.err != nil {
		return turned{}
	}
	t.path.Start(draw.NewTrial(0, "one stroke", phase), t.middle())
	at := int64(2e9)
	if before > 0 {
		t.stroke(at, before, t.noisy(t.detent[speedClasses/2][paces-2], phase, samples))
		at += 5e9
		t.path.RunTo(at - 1)
	}
	t.stroke(at, n, detent)
	return t.take(at, t.ends[n-1])
}

// stroke turns n detents.
func (t *turner) stroke(at int64, n int, detent int64) {
	s := swing{at, t.people.delays[begin].mean + int64(n)*detent, int64(n)}
	t.ends = t.motion.ends(t.ends, s)
	t.edges = t.motion.turn(t.path, s, +1, t.ends, t.edges)
}

// experience turns the strokes of experience, the first time that somebody asks.
func (k *Knob) experience() ([][]turned, error) {
	k.all.Do(func() {
		path, err := encoder.NewPath(k.setup)
		if err != nil {
			k.err = err
			return
		}
		t := newTurner(k, path)
		k.tried = make([][]turned, 0, len(k.lengths)*rates)
		often := samples
		for _, n := range k.lengths {
			lists := t.atAllRates(n, min(often, k.turns(n)))
			often = len(lists[0])
			k.tried = append(k.tried, lists...)
		}
		k.err = t.err
	})
	return k.tried, k.err
}

// atAllRates turns strokes of n detents at all rates, so often or as often as may be, a
// power of two.
func (t *turner) atAllRates(n, often int) [][]turned {
	lists := make([][]turned, rates)
	kept, spent := t.kept, t.spent
	for s := range often {
		for r := range lists {
			lists[r] = append(lists[r], t.turn(n, t.noisy(t.rate[r], s, often), s, s%2*(2+s/2%4)))
		}
		if s > 0 || often == 1 {
			continue
		}
		if most := min(manySteps/max(1, t.kept-kept), manyEvents/max(1, t.spent-spent)); int64(often) > max(1, most) {
			return t.atAllRates(n, 1<<max(0, bits.Len64(uint64(most))-1))
		}
	}
	return lists
}

// samples is how often a short stroke is turned at a rate: with so many deviates of
// the pace, equally likely, each in another phase of the path. Of longer ones fewer
// do: they differ less, and take longer.
const samples = 32

// turns returns how often a stroke of n detents is turned. What a smooth knob's
// quarter steps bring differs less.
func (m *motion) turns(n int) int {
	if m.Smooth {
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
func (m *motion) longer(n int) int {
	switch {
	case m.Smooth && 8*n > 3*m.most:
		return m.most
	case m.Smooth && n <= 32:
		return n + max(1, n/2)
	case m.Smooth:
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

// middle is where the number starts when a knob is tried.
func (k *Knob) middle() int64 { return k.setup.Scale.Count / 2 }
