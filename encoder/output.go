package encoder

import (
	"math"
	"time"

	"dialwright/accel"
)

// line is one of the firmware's output lines: up and down, then up and down of
// the coarse pair.
type line int8

const (
	noLine line = iota - 1
	up
	down
	coarseUp
	coarseDown
)

func lineOf(dir int8, coarse bool) line {
	l := up
	if dir < 0 {
		l = down
	}
	if coarse {
		l += coarseUp
	}
	return l
}

func (l line) dir() int8 { return 1 - 2*int8(l&1) }

// nobody owns a count that belongs to no detent.
const nobody = -1

// pulse is one press and release of a line, on account of a detent.
type pulse struct {
	line  line
	owner int
}

// output is what the firmware makes of counts (stage 3).
type output struct {
	// What the setup fixes. Times are in ns.
	kind                   Output
	countsPerDetent        int
	gain                   *accel.Gain
	on, off, holdFor       int64
	onOff                  divisor // on + off
	coarseBelow            int64   // interval under which pulses go to the coarse pair; 0: no pair
	queue                  int
	overflow               Overflow
	reversal               Reversal
	unitsPerCount, axisMax int64

	lastEmission      int8
	lastEmissionAt    int64
	gainState         accel.Memory
	asked             int64 // the firmware's own count of task steps
	waiting           fifo[pulse]
	worstBacklog      int
	pressed           line
	pressedAt         int64
	releaseAt, freeAt int64
	lastStart         int64 // of the newest pulse whose start was known as it arrived; it may lie ahead
	axisPosition      int64
}

func newOutput(s Setup) output {
	f := &s.Rig.Firmware
	o := output{
		kind: f.Output, countsPerDetent: max(1, f.CountsPerDetent),
		on: int64(f.Pulse), off: int64(f.Gap), queue: f.Queue, overflow: f.Overflow, reversal: f.Reversal,
	}
	if s.Home == InFirmware {
		o.gain = s.Gain
	}
	switch {
	case f.Output == AxisOutput:
		o.gain, o.countsPerDetent = nil, 1
		o.unitsPerCount, o.axisMax = int64(f.Axis.CountsPerDetent), 1<<f.Axis.Bits-1
	case f.Output == Relative:
	case f.Hold > 0:
		o.holdFor = int64(f.Hold)
	case f.Coarse.Above > 0:
		o.coarseBelow = min(int64(f.Coarse.Above.Period()), int64(400*time.Millisecond))
	}
	o.onOff = newDivisor(max(1, o.on+o.off))
	return o
}

// reset empties the output of a firmware that counts task steps from asked on.
func (o *output) reset(asked, axisPosition int64) {
	o.lastEmission, o.lastEmissionAt = 0, 0
	o.gainState = accel.Memory{}
	o.asked, o.axisPosition = asked, axisPosition
	o.waiting.reset()
	o.worstBacklog = 0
	o.pressed, o.releaseAt = noLine, never
	o.freeAt, o.lastStart = math.MinInt64, math.MinInt64
}

// emit takes an emission of the decoder: it finds the detent that it belongs to.
func (p *Path) emit(at int64, dir int8, completed int) {
	p.count(at, dir, p.ownerOf(dir, completed))
}

// count hands the counts of an emission to the output.
func (p *Path) count(at int64, dir int8, owner int) {
	if p.Trace != nil {
		p.Trace(Event{At: at, Kind: Counted, Dir: dir, Detent: owner})
	}
	o := &p.output
	if o.kind == AxisOutput {
		p.usbChanged(at)
		p.moveAxis(at, dir, owner)
		return
	}
	if o.holdFor > 0 {
		p.extendHold(at, lineOf(dir, false))
		return
	}
	coarse := o.coarseBelow > 0 && o.lastEmission == dir && at-o.lastEmissionAt < o.coarseBelow
	o.lastEmission, o.lastEmissionAt = dir, at
	counts := o.countsPerDetent
	if o.gain != nil {
		m := int(o.gain.Detent(&o.gainState, o.gain.Ticks(at), int(dir), o.asked))
		o.asked += int64(dir) * int64(m)
		counts *= m
	}
	if counts > 1 && !p.spend(int64(counts)-1, counting) {
		return
	}
	if o.kind == Relative {
		p.usbChanged(at)
		p.cancelled(at, p.usb.unsent.add(owner, dir, int64(counts)), MergedAtPoll)
		return
	}
	q := pulse{lineOf(dir, coarse), owner}
	if p.levels.taken >= fromCount {
		p.account.Pulses += counts
		for range counts {
			p.startAhead([]int64{at}, q, 0)
		}
		return
	}
	p.runOutput(at + 1)
	for range counts {
		p.arrive(at, q)
	}
}

// arrive takes a pulse that a count asks for: it starts at once, waits, or is
// refused.
func (p *Path) arrive(at int64, q pulse) {
	p.account.Pulses++
	o := &p.output
	if o.reversal == ClearWaiting && o.waiting.len() > 0 && o.waiting.front().line.dir() != q.line.dir() {
		for o.waiting.len() > 0 {
			p.settle(at, o.waiting.pop().owner, Cleared)
		}
	}
	switch {
	case o.pressed == noLine && at >= o.freeAt && o.waiting.len() == 0:
		p.press(at, q)
		return
	case o.waiting.len() < o.queue:
		o.waiting.push(q)
		if p.Trace != nil {
			p.Trace(Event{At: at, Kind: Waits, Dir: q.line.dir(), Detent: q.owner})
		}
	case o.overflow == DropOld && o.queue > 0:
		p.settle(at, o.waiting.pop().owner, QueueDropped)
		o.waiting.push(q)
	default:
		p.settle(at, q.owner, QueueDropped)
	}
	o.worstBacklog = max(o.worstBacklog, o.waiting.len())
}

// runOutput carries the lines through all releases and starts before limit.
func (p *Path) runOutput(limit int64) {
	for {
		switch {
		case p.output.pressed != noLine && p.output.releaseAt < limit:
			p.release(p.output.releaseAt)
		case p.output.pressed == noLine && p.output.waiting.len() > 0 && p.output.freeAt < limit:
			p.press(p.output.freeAt, p.output.waiting.pop())
		default:
			return
		}
	}
}

func (p *Path) press(at int64, q pulse) {
	if p.levels.taken >= fromStart {
		p.startAhead([]int64{at}, q, 0)
		return
	}
	p.output.pressed, p.output.pressedAt = q.line, at
	p.output.releaseAt = at + p.output.on
	p.output.freeAt = p.output.releaseAt + p.output.off
	if p.Trace != nil {
		p.Trace(Event{At: at, Kind: Pressed, Dir: q.line.dir(), Detent: q.owner, Line: int(q.line)})
	}
	p.usbPress(at, q)
}

func (p *Path) release(at int64) {
	if p.Trace != nil {
		p.Trace(Event{At: at, Kind: Released, Dir: p.output.pressed.dir(), Detent: nobody, Line: int(p.output.pressed)})
	}
	l := p.output.pressed
	p.output.pressed = noLine
	if p.output.holdFor > 0 {
		p.account.Held += at - p.output.pressedAt
	}
	p.usbRelease(at, l)
}

// extendHold is the output with a firmware hold: the line stays pressed while
// counts of its direction keep coming.
func (p *Path) extendHold(at int64, l line) {
	p.runOutput(at)
	if p.output.pressed != l {
		if p.output.pressed != noLine {
			p.release(at)
		}
		p.press(at, pulse{l, nobody})
		p.account.Presses++
	}
	p.output.releaseAt = at + p.output.holdFor
}

// moveAxis moves the absolute position by a count, as far as there is room.
func (p *Path) moveAxis(at int64, dir int8, owner int) {
	room := p.output.axisPosition
	if dir > 0 {
		room = p.output.axisMax - p.output.axisPosition
	}
	units := min(p.output.unitsPerCount, room)
	if units == 0 {
		p.settle(at, owner, Clipped)
		return
	}
	p.output.axisPosition += int64(dir) * units
	p.cancelled(at, p.usb.unsent.add(owner, dir, units), MergedAtPoll)
}
