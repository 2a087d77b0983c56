package encoder

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

// emit takes an emission of the decoder: it finds the detent that it belongs to
// and hands its counts to the output.
func (p *Path) emit(at int64, dir int8, completed int) {
	owner := p.ownerOf(dir, completed)
	if p.Trace != nil {
		p.Trace(Event{At: at, Kind: Counted, Dir: dir, Detent: owner})
	}
	counts := p.countsPerDetent
	if p.output == AxisOutput {
		p.usbChanged(at)
		p.moveAxis(at, dir, owner)
		return
	}
	if p.holdFor > 0 {
		p.extendHold(at, lineOf(dir, false))
		return
	}
	coarse := p.coarseBelow > 0 && p.lastEmission == dir && at-p.lastEmissionAt < p.coarseBelow
	p.lastEmission, p.lastEmissionAt = dir, at
	if p.firmwareGain != nil {
		m := int(p.firmwareGain.Detent(&p.gainState, p.firmwareGain.Ticks(at), int(dir), p.asked))
		p.asked += int64(dir) * int64(m)
		counts *= m
	}
	if p.output == Relative {
		p.usbChanged(at)
		p.cancelled(at, p.unsent.add(owner, dir, int64(counts)), MergedAtPoll)
		return
	}
	p.runOutput(at + 1)
	l := lineOf(dir, coarse)
	for range counts {
		p.arrive(at, pulse{l, owner})
	}
}

// arrive takes a pulse that a count asks for: it starts at once, waits, or is
// refused.
func (p *Path) arrive(at int64, q pulse) {
	p.account.Pulses++
	if p.reversal == ClearWaiting && p.waiting.len() > 0 && p.waiting.front().line.dir() != q.line.dir() {
		for p.waiting.len() > 0 {
			p.settle(at, p.waiting.pop().owner, Cleared)
		}
	}
	switch {
	case p.pressed == noLine && at >= p.freeAt && p.waiting.len() == 0:
		p.press(at, q)
		return
	case p.waiting.len() < p.queue:
		p.waiting.push(q)
		if p.Trace != nil {
			p.Trace(Event{At: at, Kind: Waits, Dir: q.line.dir(), Detent: q.owner})
		}
	case p.overflow == DropOld && p.queue > 0:
		p.settle(at, p.waiting.pop().owner, QueueDropped)
		p.waiting.push(q)
	default:
		p.settle(at, q.owner, QueueDropped)
	}
	p.worstBacklog = max(p.worstBacklog, p.waiting.len())
}

// runOutput carries the lines through all releases and starts before limit.
func (p *Path) runOutput(limit int64) {
	for {
		switch {
		case p.pressed != noLine && p.releaseAt < limit:
			p.release(p.releaseAt)
		case p.pressed == noLine && p.waiting.len() > 0 && p.freeAt < limit:
			p.press(p.freeAt, p.waiting.pop())
		default:
			return
		}
	}
}

func (p *Path) press(at int64, q pulse) {
	if p.carries {
		p.freeAt = at + p.on + p.off
		p.carry(at, q)
		return
	}
	p.pressed, p.pressedAt = q.line, at
	p.releaseAt = at + p.on
	p.freeAt = p.releaseAt + p.off
	if p.Trace != nil {
		p.Trace(Event{At: at, Kind: Pressed, Dir: q.line.dir(), Detent: q.owner, Line: int(q.line)})
	}
	p.usbPress(at, q)
}

func (p *Path) release(at int64) {
	if p.Trace != nil {
		p.Trace(Event{At: at, Kind: Released, Dir: p.pressed.dir(), Detent: nobody, Line: int(p.pressed)})
	}
	l := p.pressed
	p.pressed = noLine
	if p.holdFor > 0 {
		p.account.Held += at - p.pressedAt
	}
	p.usbRelease(at, l)
}

// extendHold is the output with a firmware hold: the line stays pressed while
// counts of its direction keep coming.
func (p *Path) extendHold(at int64, l line) {
	p.runOutput(at)
	if p.pressed != l {
		if p.pressed != noLine {
			p.release(at)
		}
		p.press(at, pulse{l, nobody})
		p.account.Presses++
	}
	p.releaseAt = at + p.holdFor
}

// moveAxis moves the absolute position by a count, as far as there is room.
func (p *Path) moveAxis(at int64, dir int8, owner int) {
	room := p.axisPosition
	if dir > 0 {
		room = p.axisMax - p.axisPosition
	}
	units := min(p.unitsPerCount, room)
	if units == 0 {
		p.settle(at, owner, Clipped)
		return
	}
	p.axisPosition += int64(dir) * units
	p.cancelled(at, p.unsent.add(owner, dir, units), MergedAtPoll)
}
