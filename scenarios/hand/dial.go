package hand

import (
	"dialwright/encoder"
	"dialwright/encoder/draw"
)

// Dial is one number to be dialed on one path by one person: the whole number of
// a task, what one of two rings dials, or one digit.
type Dial struct {
	Path      *encoder.Path
	Grip      *Grip
	Scale     encoder.Scale
	Tolerance int64 // steps either side
	Multiple  int64 // task steps that a step counts after a push (press-for-coarse); 0 is off
	Strokes   int64 // number of the first stroke, index of its draws
	Limit     int64 // ns
	Surprise  int64 // how much further the knob carries than the person believes, in 1/draw.One of that; 0 is no more

	// Trace is called for everything that the person does; nil costs nothing.
	Trace func(Act)
}

// Done is what a person did to dial a number.
type Done struct {
	At       int64 // ns, when the number was confirmed, or the limit
	Timeout  bool
	Strokes  int
	Detents  int
	Regrips  int
	Travel   int64 // ns until the first stroke that was planned to end at the target was over
	Pushes   int
	FineFrom int64 // ns, when the last push back to the task's step came; 0 without one
	First    int64 // steps by which the first stroke that was planned to end at the target was off, > 0 past it, in its own direction
}

// Act is one thing that a person does.
type Act struct {
	Kind      ActKind
	At, Until int64 // ns
	Seen      int64 // Look: the number as it was read, steps above the start of the range
	Missing   int64 // Look, Stroke: signed distance to the target as believed, 1/256 steps
	Planned   int64 // Stroke: detents
	Turned    int64 // Stroke: detents, signed: + is clockwise
	Travel    int64 // Stroke: signed travel as believed, 1/256 steps
	Fair      int64 // Stroke: signed travel that the planned detents bring on average, 1/256 steps
	Standing  bool  // Look: at a number that stood
	Pace      int   // Stroke: 0 click by click to 5, a flick
}

// ActKind says what an Act is.
type ActKind uint8

// The kinds of acts.
const (
	Look ActKind = iota
	Stroke
	Regrip
	Push
	Confirm
	HandMove
)

// String returns the word for the kind.
func (k ActKind) String() string {
	return [...]string{"look", "stroke", "regrip", "push", "confirm", "hand move"}[k]
}

// Hand is a person at the knob. It keeps its memory between dials and is used by
// one goroutine at a time.
type Hand struct {
	People *People
	Person

	known      []*plans // one for each knob and width of target that this hand has met
	plans      *plans
	reach      int   // longest stroke, detents
	farthest   int64 // its travel as believed, 1/fine steps
	lag        int64 // believed, ns: after that long an own detent should show
	due        int64 // believed, ns: after that long the newest one has shown
	learned    bool  // the first own detent of this dial was seen to show
	dial       *Dial
	wanted     int64       // task steps that the person believes a step counts,
	pushed     int64       // and what it counts
	luck       draw.Stream // what the strokes make of the plans
	arc        int64       // thousandths of a degree from the counter-clockwise end
	now        int64       // the hand is free from here on
	ran        int64       // the path has run to here
	from       int64       // when the last stroke began to move
	last       int64       // last own detent
	dir        int8        // of the last stroke
	turnedBack int         // reversals in this dial; each after the first makes the hand slower
	target     int64
	read       int64 // the number as it was read last,
	readAt     int64 // at this instant
	turned     []own
	ends       []int64 // of the detents of the newest stroke
	edges      []int64
	done       Done
}

// own is a detent that the person remembers: when it was turned, how much later
// than the lag it should show because others are still being worked off, and what it
// should bring.
type own struct{ at, late, brings int64 }

// Start takes a person to the knob for a trial; the arm starts somewhere within
// its arc.
func (h *Hand) Start(w Person, trial draw.Trial) {
	h.Person = w
	h.luck = trial.Stream(draw.Stroke)
	h.arc = w.Reach * (w.Arc >> 16) >> 16
}

// Run dials a number: it is shown from time `at` on, where the person looks first.
// It returns what was done; the path has not been finished.
func (h *Hand) Run(d *Dial, at, start, target int64) Done {
	h.begin(d, at, start, target)
	h.wanted, h.pushed = 1, 1
	h.take(d.Tolerance, 1)
	if d.Multiple > 1 && h.coarsePays(start) {
		h.push(d.Multiple)
		h.take(max(d.Tolerance, d.Multiple/2), d.Multiple)
		if !h.approach(d.Multiple) {
			return h.done
		}
		h.push(1)
		h.done.FineFrom = h.now
		h.take(d.Tolerance, 1)
	}
	h.approach(1)
	return h.done
}

// begin forgets the dial before.
func (h *Hand) begin(d *Dial, at, start, target int64) {
	h.dial, h.target = d, target
	h.now, h.ran, h.from, h.last = at, at, -1, -1
	h.dir, h.turnedBack = 0, 0
	h.turned = h.turned[:0]
	h.read, h.readAt = start, at
	h.lag = d.Grip.IdleLag * h.Familiarity >> 20
	h.due, h.learned = h.lag, false
	h.done = Done{}
}

// Slip makes the first stroke of a dial, from start towards target, on another
// ring by mistake. Done.At is when the person has noticed; the path that was turned
// has not been finished. Whoever calls it moves the hand.
func (h *Hand) Slip(meant, on *Dial, at, start, target int64) Done {
	h.begin(meant, at, start, target)
	h.take(meant.Tolerance, 1)
	missing := meant.Scale.Distance(start, target) * fine
	dir := int8(1)
	if missing < 0 {
		dir = -1
	}
	s := h.plans.best(&h.Person, abs(missing), min(h.reach, on.Grip.most), paces-1)
	h.dial = on
	h.turn(s, dir, at, missing)
	h.done.At = max(h.now, h.last+on.Grip.IdleLag) + h.Perceive + h.Decide + h.Act
	return h.done
}

// coarsePays says whether pushing twice and dialing the rest is expected to be
// quicker than turning all the way at the task's step.
func (h *Hand) coarsePays(start int64) bool {
	d := h.dial
	miss := abs(d.Scale.Distance(start, h.target))
	rest := min(miss%d.Multiple, d.Multiple-miss%d.Multiple)
	coarse := h.plansFor(max(d.Tolerance, d.Multiple/2), d.Multiple)
	straight := h.plans.needs(&h.Person, miss*fine)
	pushed := 2*h.People.delays[keyPress].mean + coarse.needs(&h.Person, miss*fine)
	if rest > d.Tolerance {
		pushed += h.plans.needs(&h.Person, rest*fine)
	}
	return pushed < straight
}

// take sets the mind on a target of one width.
func (h *Hand) take(tolerance, multiple int64) {
	h.plans = h.plansFor(tolerance, multiple)
	h.reach = h.dial.Grip.reach(h.Reach)
	h.farthest = 0
	for p := range paces {
		h.farthest = max(h.farthest, h.plans.travel(h.Speed, h.Error, p, h.reach))
	}
}

func (h *Hand) plansFor(tolerance, multiple int64) *plans {
	for _, p := range h.known {
		if p.grip == h.dial.Grip && p.within == tolerance*fine && p.multiple == multiple {
			return p
		}
	}
	h.known = append(h.known, h.dial.Grip.plansFor(tolerance, multiple))
	return h.known[len(h.known)-1]
}

func (h *Hand) push(multiple int64) {
	h.act(Act{Kind: Push, At: h.now, Until: h.now + h.KeyPress})
	h.now += h.KeyPress
	index := pushes + 2*int64(h.done.Pushes)
	h.done.Pushes++
	of := &h.People.operator
	if h.luck.Unit(index) < int64(of.PushTurns*draw.Share) { // the push turns the knob
		dir := h.dir
		if dir == 0 {
			dir = 1
		}
		at := max(h.now, h.ran+1, h.last+1)
		h.edges = h.dial.Grip.edgeTimes(h.edges[:0], swing{at, h.KeyPress, 1}, 0)
		h.dial.Path.Turn(dir, h.edges)
		h.last = h.edges[len(h.edges)-1]
		h.now = max(h.now, h.last)
	}
	if h.wanted != multiple && h.luck.Unit(index+1) < int64(of.WrongMode*draw.Share) {
		h.wanted = multiple
		return // forgotten; the first number that stands will tell
	}
	h.wanted = multiple
	h.pushed = multiple
	h.dial.Path.SetStep(h.now, multiple)
}

// pushes is where, among the draws of a trial's strokes, those of its pushes begin.
const pushes = 1 << 40

// approach turns until the number stands within the tolerance and is confirmed.
// It returns false on a timeout.
func (h *Hand) approach(multiple int64) bool {
	first, moved := true, false // first stroke from rest; a correction on the move was made
	seen := h.now               // the instant that the person knows of
	stands, judged := true, false
	near := false // a stroke that could end at the target was made
	for {
		if seen >= h.dial.Limit {
			h.done.At, h.done.Timeout = h.dial.Limit, true
			return false
		}
		missing := h.look(seen, stands)
		size := max(missing, -missing)
		if stands && h.done.Travel > 0 && !judged {
			h.done.First, judged = -int64(h.dir)*missing/fine, true
		}
		if !first && !stands {
			// Far out: turn on. The stroke that may end at the target waits, and so
			// does every one after it; nobody turns back from a number that moves.
			reachable := h.farthest
			if !h.dial.Grip.Smooth {
				reachable += h.plans.base() + abs(h.underWay(seen))*h.Noise>>20
			}
			if near = near || size <= reachable || int64(h.dir)*missing < 0; near {
				onTheMove := h.dial.Grip.Smooth && !moved && size > wideFour*(2*h.plans.within+fine)
				if !onTheMove {
					seen, stands = h.wait(seen), true
					continue
				}
				moved = true
			}
		}
		if stands && !first && h.pushed != h.wanted {
			h.now = max(h.now, seen+h.Perceive+h.Decide+h.Act)
			h.push(h.wanted)
			seen = max(seen, h.now)
			continue
		}
		if stands && size <= h.plans.within {
			if again, ok := h.confirm(seen); !ok {
				seen, stands = h.wait(again), true
				continue
			}
			return true
		}
		ready := h.now
		if !first || seen > h.now {
			ready = seen + h.Perceive + h.Decide + h.Act
		}
		if !first && stands && h.plans.narrow {
			ready += h.Fixation
		}
		dir := int8(1)
		if missing < 0 {
			dir = -1
		}
		if dir != h.dir {
			moved = false
			if !first {
				h.turnedBack++
			}
		}
		fastest := max(0, paces-max(1, h.turnedBack))
		// Whoever thinks that the knob carries less turns as for a longer way.
		s := h.plans.best(&h.Person, size+size*h.dial.Surprise>>20, h.reach, fastest)
		s.travel = s.travel * draw.One / (draw.One + h.dial.Surprise)
		h.turn(s, dir, ready, missing)
		first = false
		// The next look is timed so that the next stroke may start as the
		// regrip ends.
		seen = max(h.ran, h.readAt+h.Perceive, h.now+h.Regrip-h.Perceive-h.Decide-h.Act)
		stands = false
	}
}

// look reads the number as it was at an instant and returns what is missing to
// the target, own detents counted that should not have shown by then.
func (h *Hand) look(seen int64, stands bool) int64 {
	p := h.dial.Path
	h.runTo(seen)
	v := p.Shown(seen)
	if !stands {
		v = h.readable(v, seen)
	}
	missing := h.dial.Scale.Distance(v, h.target) * fine
	h.missLag(seen)
	missing -= h.underWay(seen)
	h.read, h.readAt = v, seen
	if h.dial.Trace != nil {
		h.dial.Trace(Act{Kind: Look, At: seen, Seen: v, Missing: missing, Standing: stands})
	}
	return missing
}

// underWay is what own detents that should not have shown at an instant should still
// bring, 1/fine steps.
func (h *Hand) underWay(seen int64) (brings int64) {
	for i := len(h.turned) - 1; i >= 0 && h.turned[i].at+h.turned[i].late > seen-h.lag; i-- {
		brings += h.turned[i].brings
	}
	return brings
}

// expected returns the number that the person expects to see at an instant: what
// was read last and the own detents that should have shown since.
func (h *Hand) expected(seen int64) int64 {
	brings := int64(0)
	for i := len(h.turned) - 1; i >= 0 && h.turned[i].at+h.turned[i].late > h.readAt-h.lag; i-- {
		if h.turned[i].at+h.turned[i].late <= seen-h.lag {
			brings += h.turned[i].brings
		}
	}
	return h.dial.Scale.Add(h.read, (brings+fine/2)/fine)
}

// readable returns what a person makes of a number that is v at an instant and has
// moved within the time that perceiving takes: the digits that change at most once in
// it are read, and the others are what is expected, as far as those that are read
// allow it.
func (h *Hand) readable(v, seen int64) int64 {
	moved := abs(h.dial.Scale.Distance(h.dial.Path.Shown(seen-h.Perceive), v))
	if moved <= 1 {
		return v
	}
	place := int64(10)
	for place < moved {
		place *= 10
	}
	cut := (h.dial.Scale.Low + v) % place
	if cut < 0 {
		cut += place
	}
	off := h.dial.Scale.Distance(v-cut, h.expected(seen))
	return h.dial.Scale.Add(v-cut, min(max(off, 0), place-1))
}

// wait returns the earliest instant at which all own detents should be on the
// display and the number stands: with detents for a while, on a smooth knob as soon
// as it is not seen to move.
func (h *Hand) wait(seen int64) int64 {
	p := h.dial.Path
	quiet := int64(standing)
	if h.dial.Grip.Smooth {
		quiet = h.Perceive // what has not changed for so long is not seen to move
	}
	newest := h.last
	if i := len(h.turned) - 1; i >= 0 {
		newest += h.turned[i].late
	}
	seen = max(seen, newest+h.due)
	for {
		h.runTo(seen)
		changed := int64(-1)
		c := p.Changes()
		for i := len(c) - 1; i >= 0; i-- {
			if c[i].At <= seen {
				changed = c[i].At
				break
			}
		}
		h.learnLag(seen)
		stands := max(changed, newest+h.due) + quiet
		moved := changed >= h.from
		if !moved { // since the stroke began
			stands = max(stands, h.now+h.dial.Grip.believed())
			for _, x := range c {
				if x.At > seen && x.At < stands {
					stands = x.At + quiet
					break
				}
			}
		}
		if stands <= seen {
			if !moved {
				h.turned = h.turned[:0] // it is lost, and says nothing of the lag
			}
			return seen
		}
		if seen > h.dial.Limit {
			return seen
		}
		seen = min(stands, seen+quiet) // look again before: it may start to move
	}
}

// showed returns when the first own detent of the dial was seen to show.
func (h *Hand) showed(seen int64) (at int64, ok bool) {
	if len(h.turned) == 0 {
		return 0, false
	}
	for _, c := range h.dial.Path.Changes() {
		if c.At > seen {
			break
		}
		if c.At >= h.turned[0].at {
			return c.At, true
		}
	}
	return 0, false
}

// learnLag takes the lag from the first own detent of the dial that has shown.
func (h *Hand) learnLag(seen int64) {
	if h.learned {
		return
	}
	if at, ok := h.showed(seen); ok {
		h.learned = true
		h.due = max(h.due, at-h.turned[0].at)
		h.lag = h.due
	}
}

// missLag notices that the first own detent has not shown yet: all that was turned
// since is still on its way.
func (h *Hand) missLag(seen int64) {
	if h.learned || len(h.turned) == 0 || h.dial.Grip.Smooth {
		return
	}
	if since := seen - h.turned[0].at; since > h.lag {
		if _, ok := h.showed(seen); !ok {
			h.lag = min(since, h.dial.Grip.believed()) + 1
			h.due = max(h.due, h.lag)
		}
	}
}

// confirm makes sure of a number that was right at an instant. It returns false
// and the instant of the change where the number changed meanwhile.
func (h *Hand) confirm(seen int64) (changed int64, ok bool) {
	p := h.dial.Path
	end := seen + h.Perceive + h.Decide + h.Act
	if h.plans.narrow {
		end += h.Fixation
	}
	h.act(Act{Kind: Confirm, At: seen, Until: end})
	for until := end; ; until += standing {
		h.runTo(until)
		for _, c := range p.Changes() {
			if c.At > seen && c.At <= until {
				return c.At, false
			}
		}
		if p.Empty() {
			break
		}
	}
	h.now = max(h.now, end)
	h.done.At = end
	return 0, true
}

func (h *Hand) runTo(t int64) {
	if t > h.ran {
		h.dial.Path.RunTo(t)
		h.ran = t
	}
}

func (h *Hand) act(a Act) {
	if h.dial.Trace != nil {
		h.dial.Trace(a)
	}
}
