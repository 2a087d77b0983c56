package encoder

import "dialwright/accel"

// action is a press, or repeats of it, that frames have yet to apply.
type action struct {
	pulse
	at    int64 // its delivery
	press int64 // number of the press that it is or repeats
	more  int64 // repeats that follow it, a period apart
	cause Cause
}

// program is the system's key repeat and the program that looks at its buttons or
// takes presses (stages 5 and 6).
type program struct {
	// What the rig fixes. Times are in ns.
	repeats                   bool // the system's key repeat reaches the number
	repeatDelay, repeatPeriod int64
	sampling                  Sampling
	maxPerFrame               int
	dropExcess                bool
	holdDelay, holdPeriod     int64
	frames                    frameClock

	frame, frameAt int64 // the next one that matters
	frameFor       int64 // the instant for whose sake it matters
	down           pulse // the button that is down
	sampled        bool  // a frame has looked at it
	seen           line  // what the last frame found down
	presses        int64
	repeatAt       int64
	holdAt         int64
	actions        fifo[action]
	arrived        tally
	axisDelivered  int64
}

func newProgram(r *Rig) program {
	g := &r.Program
	m := program{
		sampling: g.Sampling, maxPerFrame: g.MaxPerFrame, dropExcess: g.Excess == DropExcess,
		holdDelay: int64(g.Hold.Delay), holdPeriod: int64(g.Hold.Period),
	}
	if g.Sampling != Immediate {
		m.frames = newFrameClock(g)
	}
	if r.Firmware.Output == Keys && r.System.Repeat.Rate > 0 && g.Sampling != State && g.Repeats == ApplyRepeats && g.Hold.Period == 0 {
		m.repeats = true
		m.repeatDelay = int64(r.System.Repeat.Delay)
		m.repeatPeriod = int64(r.System.Repeat.Rate.Period())
	}
	return m
}

func (m *program) reset(axisPosition int64) {
	m.frameAt = never
	m.down, m.sampled, m.seen = pulse{noLine, nobody}, true, noLine
	m.presses = 0
	m.repeatAt, m.holdAt = never, never
	m.actions.reset()
	m.arrived.reset()
	m.axisDelivered = axisPosition
}

// nextAction takes the oldest press or repeat.
func (m *program) nextAction() action {
	first := m.actions.front()
	if first.more == 0 {
		return m.actions.pop()
	}
	a := *first
	first.more--
	first.at += m.repeatPeriod
	return a
}

// number is what the program dials, and the screen that shows it (stages 7 and 8).
type number struct {
	// What the setup fixes.
	scale          Scale
	gain           *accel.Gain
	coarseSteps    int64
	displayLatency int64 // ns

	gainState              accel.Memory
	start, value           int64
	multiple, nextMultiple int64 // of the task's step
	multipleAt             int64
	shown                  []Change
}

func newNumber(s Setup) number {
	n := number{scale: s.Scale, coarseSteps: int64(s.Rig.Firmware.Coarse.Steps), displayLatency: int64(s.Rig.Display.Latency)}
	if s.Home != InFirmware && s.Rig.Firmware.Output != AxisOutput {
		n.gain = s.Gain
	}
	return n
}

func (n *number) reset(start int64) {
	n.gainState = accel.Memory{}
	n.start, n.value = start, start
	n.multiple, n.nextMultiple, n.multipleAt = 1, 1, never
	n.shown = n.shown[:0]
}

// deliver brings a change of the lines to the program: a release, a press, or
// both, in this order.
func (p *Path) deliver(at int64, released line, pressed pulse) {
	p.runProgram(at)
	if released != noLine {
		if p.program.sampling == State && !p.program.sampled {
			p.settle(at, p.program.down.owner, FrameMissed)
		}
		p.program.down = pulse{noLine, nobody}
		p.program.sampled = true
		p.program.repeatAt = never
		if p.program.sampling != State {
			p.program.holdAt = never
		}
	}
	if pressed.line != noLine {
		p.program.down = pressed
		p.program.sampled = false
		p.program.presses++
		if p.program.repeats {
			p.program.repeatAt = at + p.program.repeatDelay
		}
		if p.Trace != nil {
			p.Trace(Event{At: at, Kind: Delivery, Dir: pressed.line.dir(), Detent: pressed.owner, Line: int(pressed.line)})
		}
	}
	switch p.program.sampling {
	case State:
		p.needFrame(at)
	case Events:
		if pressed.line != noLine {
			p.program.actions.push(action{pulse: pressed, at: at, press: p.program.presses, cause: ByDetent})
			p.needFrame(at)
		}
	case Immediate:
		if pressed.line != noLine {
			p.apply(at, at, pressed, ByDetent)
			p.startHold(at)
		}
	}
}

// deliverUnits brings what a poll carries of a relative sum or an axis.
func (p *Path) deliverUnits(at int64) {
	if p.usb.unsent.empty() {
		return
	}
	p.runProgram(at)
	for _, s := range p.usb.unsent.standing {
		p.program.axisDelivered += int64(s.dir) * s.units
		p.cancelled(at, p.program.arrived.add(s.owner, s.dir, s.units), MergedAtFrame)
	}
	p.usb.unsent.reset()
	if p.program.sampling == Immediate {
		p.applyUnits(at-p.usb.polls.period.by, at)
		return
	}
	p.needFrame(at)
}

// needFrame makes sure that the first frame at or after t is not passed over.
func (p *Path) needFrame(t int64) {
	if p.program.frameAt == never || t < p.program.frameFor {
		p.program.frameFor = t
		p.program.frame, p.program.frameAt = p.program.frames.first(t)
	}
}

// runProgram carries the system's key repeat, the program's own repeat and its
// frames through everything before limit, in the order of time; at one instant
// in this order.
func (p *Path) runProgram(limit int64) {
	for {
		at := min(p.program.repeatAt, p.program.frameAt)
		if p.program.sampling == Immediate {
			at = min(p.program.repeatAt, p.program.holdAt)
		}
		switch {
		case at >= limit:
			return
		case at == p.program.repeatAt:
			p.repeatKey(at)
		case p.program.sampling == Immediate:
			p.applyHold(at)
		default:
			p.runFrame(at)
		}
	}
}

// repeatKey is one repeat of the key that is down.
func (p *Path) repeatKey(at int64) {
	m := &p.program
	m.repeatAt += m.repeatPeriod
	if !p.spend(1, repeating) {
		return
	}
	if m.sampling == Immediate {
		p.apply(at, at, m.down, ByRepeat)
		return
	}
	if newest := m.actions.back(); newest != nil && newest.cause == ByRepeat && newest.press == m.presses {
		newest.more++
	} else {
		m.actions.push(action{pulse: m.down, at: at, press: m.presses, cause: ByRepeat})
	}
	p.needFrame(at)
}

// runFrame is one pass of the program's main loop that has something to do.
func (p *Path) runFrame(at int64) {
	p.events++
	p.program.frameAt = never
	if p.Trace != nil {
		p.Trace(Event{At: at, Kind: Framed, Detent: nobody})
	}
	switch {
	case p.usb.units:
		p.applyUnits(p.program.frames.tick(p.program.frame-1), at)
		return
	case p.program.sampling == State:
		p.lookAtButtons(at)
	default:
		p.takeActions(at)
	}
	for p.program.holdAt <= at {
		p.applyHold(at)
	}
	if p.program.holdAt != never {
		p.needFrame(p.program.holdAt)
	}
	if p.program.actions.len() > 0 {
		p.needFrame(at + 1)
	}
}

// lookAtButtons is a frame under state sampling.
func (p *Path) lookAtButtons(at int64) {
	if p.program.down.line == p.program.seen {
		if !p.program.sampled { // the frame before found it down already
			p.program.sampled = true
			p.settle(at, p.program.down.owner, MergedAtFrame)
		}
		return
	}
	p.program.seen = p.program.down.line
	p.program.holdAt = never
	if p.program.seen != noLine {
		p.program.sampled = true
		p.apply(at, at, p.program.down, ByDetent)
		p.startHold(at)
	}
}

// takeActions is a frame under event sampling: it applies what was delivered up
// to its instant, oldest first, as many as a frame may.
func (p *Path) takeActions(at int64) {
	for n := 0; p.program.actions.len() > 0 && p.program.actions.front().at <= at; n++ {
		if p.program.maxPerFrame > 0 && n == p.program.maxPerFrame {
			if p.program.dropExcess {
				for p.program.actions.len() > 0 && p.program.actions.front().at <= at {
					if a := p.program.nextAction(); a.cause == ByDetent {
						p.settle(at, a.owner, FrameMissed)
					}
				}
			}
			return
		}
		a := p.program.nextAction()
		p.apply(at, a.at, a.pulse, a.cause)
		if a.cause == ByDetent && a.press == p.program.presses && p.program.down.line != noLine {
			p.startHold(at)
		}
	}
}

// startHold starts the program's own repeat of a press that was applied now.
func (p *Path) startHold(at int64) {
	if p.program.holdPeriod > 0 {
		p.program.holdAt = at + p.program.holdDelay
	}
}

// applyHold applies at an instant the step of the program's own repeat that is due.
func (p *Path) applyHold(at int64) {
	due := p.program.holdAt
	p.program.holdAt += p.program.holdPeriod
	if p.spend(1, holding) {
		p.apply(at, due, p.program.down, ByHold)
	}
}

// apply adds one step to the number. The program knows it by the time `known`,
// from which an acceleration takes its rate.
func (p *Path) apply(at, known int64, q pulse, cause Cause) {
	dir := q.line.dir()
	count := p.number.coarseSteps
	if q.line < coarseUp {
		count = p.programSteps(at, known, dir)
	} else if p.Steps != nil {
		p.Steps(Step{At: at, Known: known, Count: int32(count), Dir: dir})
	}
	if cause == ByDetent {
		p.deliveredPulses++
	}
	p.add(at, dir, count, q.owner, cause)
}

// programSteps is what the acceleration in the program makes of a step.
func (p *Path) programSteps(at, known int64, dir int8) int64 {
	if p.number.gain == nil && p.Steps == nil {
		return 1
	}
	return p.accelerated(at, known, dir)
}

func (p *Path) accelerated(at, known int64, dir int8) int64 {
	if p.Steps != nil {
		p.Steps(Step{At: at, Known: known, Dir: dir})
	}
	return p.number.steps(known, dir)
}

// add moves the number and keeps the account of the step.
func (p *Path) add(at int64, dir int8, count int64, owner int, cause Cause) {
	if p.number.multipleAt <= at {
		p.number.multiple, p.number.multipleAt = p.number.nextMultiple, never
	}
	count *= p.number.multiple
	cause = p.credit(owner, cause)
	p.show(at, dir, count, p.number.scale.Add(p.number.value, int64(dir)*count), owner, cause)
}

// credit settles a detent whose step is applied, and counts a step that belongs
// to none.
func (p *Path) credit(owner int, cause Cause) Cause {
	if cause == ByDetent && owner == nobody && p.output.holdFor == 0 {
		cause = ByBounce
	}
	switch cause {
	case ByDetent:
		p.settle(0, owner, Delivered)
	case ByRepeat:
		p.account.Extra.Repeat++
	case ByHold:
		p.account.Extra.Hold++
	case ByBounce:
		p.account.Extra.Bounce++
	}
	p.account.Steps++
	return cause
}

// show makes a number the program's and puts it on the screen after the
// display's latency.
func (p *Path) show(at int64, dir int8, count, value int64, owner int, cause Cause) {
	if p.Trace != nil {
		p.Trace(Event{At: at, Kind: Stepped, Dir: dir, Detent: owner, Count: count, Value: value, Cause: cause})
	}
	p.number.move(at, value)
}

// applyUnits applies the relative counts or the axis position of a frame; before
// is the time of the frame before.
func (p *Path) applyUnits(before, at int64) {
	if p.output.kind == AxisOutput {
		p.applyAxis(at)
		return
	}
	n := int64(0)
	for _, s := range p.program.arrived.standing {
		n += s.units
	}
	i := int64(0)
	for _, s := range p.program.arrived.standing {
		for range s.units {
			i++
			p.add(at, s.dir, p.programSteps(at, before+(at-before)*i/n, s.dir), s.owner, ByDetent)
		}
	}
	p.program.arrived.reset()
}

// applyAxis sets the number that belongs to the delivered position.
func (p *Path) applyAxis(at int64) {
	if p.program.arrived.empty() {
		return
	}
	cause := ByBounce
	for _, s := range p.program.arrived.standing {
		if p.credit(s.owner, ByDetent) == ByDetent {
			cause = ByDetent
		}
	}
	dir := p.program.arrived.standing[0].dir
	owner := p.program.arrived.standing[0].owner
	p.program.arrived.reset()
	value := p.axisValue(p.program.axisDelivered)
	count := max(value-p.number.value, p.number.value-value)
	if p.Steps != nil && count > 0 {
		way := int8(1)
		if value < p.number.value {
			way = -1
		}
		p.Steps(Step{At: at, Known: at, Count: int32(count), Dir: way})
	}
	p.show(at, dir, count, value, owner, cause)
}

// axisValue returns the number at an axis position, halves rounded up.
func (p *Path) axisValue(position int64) int64 {
	return (2*position*(p.number.scale.Count-1) + p.output.axisMax) / (2 * p.output.axisMax)
}
