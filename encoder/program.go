package encoder

// action is a press or a repeat that a frame has yet to apply.
type action struct {
	pulse
	at    int64 // its delivery
	press int64 // number of the press that it is or repeats
	cause Cause
}

// deliver brings a change of the lines to the program: a release, a press, or
// both, in this order.
func (p *Path) deliver(at int64, released line, pressed pulse) {
	p.runProgram(at)
	if released != noLine {
		if p.sampling == State && !p.sampled {
			p.settle(at, p.down.owner, FrameMissed)
		}
		p.down = pulse{noLine, nobody}
		p.sampled = true
		p.repeatAt = never
		if p.sampling != State {
			p.holdAt = never
		}
	}
	if pressed.line != noLine {
		p.down = pressed
		p.sampled = false
		p.presses++
		p.repeatAt = never
		if p.repeats {
			p.repeatAt = at + p.repeatDelay
		}
		if p.Trace != nil {
			p.Trace(Event{At: at, Kind: Delivery, Dir: pressed.line.dir(), Detent: pressed.owner, Line: int(pressed.line)})
		}
	}
	switch p.sampling {
	case State:
		p.needFrame(at)
	case Events:
		if pressed.line != noLine {
			p.actions.push(action{pressed, at, p.presses, ByDetent})
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
	if p.unsent.empty() {
		return
	}
	p.runProgram(at)
	for _, s := range p.unsent.standing {
		p.axisDelivered += int64(s.dir) * s.units
		p.cancelled(at, p.arrived.add(s.owner, s.dir, s.units), MergedAtFrame)
	}
	p.unsent.reset()
	if p.sampling == Immediate {
		p.applyUnits(at-p.polls.period.by, at)
		return
	}
	p.needFrame(at)
}

// needFrame makes sure that the first frame at or after t is not passed over.
func (p *Path) needFrame(t int64) {
	if p.frameAt == never || t < p.frameFor {
		p.frameFor = t
		p.frame, p.frameAt = p.frames.first(t)
	}
}

// runProgram carries the system's key repeat, the program's own repeat and its
// frames through everything before limit, in the order of time; at one instant
// in this order.
func (p *Path) runProgram(limit int64) {
	for {
		at := min(p.repeatAt, p.frameAt)
		if p.sampling == Immediate {
			at = min(p.repeatAt, p.holdAt)
		}
		switch {
		case at >= limit:
			return
		case at == p.repeatAt:
			p.repeatKey(at)
		case p.sampling == Immediate:
			p.apply(at, at, p.down, ByHold)
			p.holdAt += p.holdPeriod
		default:
			p.runFrame(at)
		}
	}
}

// repeatKey is one repeat of the key that is down.
func (p *Path) repeatKey(at int64) {
	p.repeatAt += p.repeatPeriod
	if p.sampling == Immediate {
		p.apply(at, at, p.down, ByRepeat)
		return
	}
	p.actions.push(action{p.down, at, p.presses, ByRepeat})
	p.needFrame(at)
}

// runFrame is one pass of the program's main loop that has something to do.
func (p *Path) runFrame(at int64) {
	p.frameAt = never
	if p.Trace != nil {
		p.Trace(Event{At: at, Kind: Framed, Detent: nobody})
	}
	switch {
	case !p.output.Lines():
		p.applyUnits(p.frames.tick(p.frame-1), at)
		return
	case p.sampling == State:
		p.lookAtButtons(at)
	default:
		p.takeActions(at)
	}
	for p.holdAt <= at {
		p.apply(at, p.holdAt, p.down, ByHold)
		p.holdAt += p.holdPeriod
	}
	if p.holdAt != never {
		p.needFrame(p.holdAt)
	}
	if p.actions.len() > 0 {
		p.needFrame(at + 1)
	}
}

// lookAtButtons is a frame under state sampling.
func (p *Path) lookAtButtons(at int64) {
	if p.down.line == p.seen {
		if !p.sampled { // the frame before found it down already
			p.sampled = true
			p.settle(at, p.down.owner, MergedAtFrame)
		}
		return
	}
	p.seen = p.down.line
	p.holdAt = never
	if p.seen != noLine {
		p.sampled = true
		p.apply(at, at, p.down, ByDetent)
		p.startHold(at)
	}
}

// takeActions is a frame under event sampling: it applies what was delivered up
// to its instant, oldest first, as many as a frame may.
func (p *Path) takeActions(at int64) {
	for n := 0; p.actions.len() > 0 && p.actions.front().at <= at; n++ {
		if p.maxPerFrame > 0 && n == p.maxPerFrame {
			if p.dropExcess {
				for p.actions.len() > 0 && p.actions.front().at <= at {
					if a := p.actions.pop(); a.cause == ByDetent {
						p.settle(at, a.owner, FrameMissed)
					}
				}
			}
			return
		}
		a := p.actions.pop()
		p.apply(at, a.at, a.pulse, a.cause)
		if a.cause == ByDetent && a.press == p.presses && p.down.line != noLine {
			p.startHold(at)
		}
	}
}

// startHold starts the program's own repeat of a press that was applied now.
func (p *Path) startHold(at int64) {
	if p.holdPeriod > 0 {
		p.holdAt = at + p.holdDelay
	}
}

// apply adds one step to the number. The program knows it by the time `known`,
// from which an acceleration takes its rate.
func (p *Path) apply(at, known int64, q pulse, cause Cause) {
	dir := q.line.dir()
	count := p.coarseSteps
	if q.line < coarseUp {
		count = p.programSteps(known, dir)
	}
	if cause == ByDetent {
		p.deliveredPulses++
	}
	p.add(at, dir, count, q.owner, cause)
}

// programSteps is what the acceleration in the program makes of a step.
func (p *Path) programSteps(known int64, dir int8) int64 {
	if p.programGain == nil {
		return 1
	}
	return p.programGain.Detent(&p.gainState, p.programGain.Ticks(known), int(dir), p.scale.Low+p.value)
}

// add moves the number and keeps the account of the step.
func (p *Path) add(at int64, dir int8, count int64, owner int, cause Cause) {
	if p.multipleAt <= at {
		p.multiple, p.multipleAt = p.nextMultiple, never
	}
	count *= p.multiple
	cause = p.credit(owner, cause)
	p.show(at, dir, count, p.scale.Add(p.value, int64(dir)*count), owner, cause)
}

// credit settles a detent whose step is applied, and counts a step that belongs
// to none.
func (p *Path) credit(owner int, cause Cause) Cause {
	if cause == ByDetent && owner == nobody && p.holdFor == 0 {
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
	if value != p.value {
		p.value = value
		p.shown = append(p.shown, Change{At: at + p.displayLatency, Value: value})
	}
}

// applyUnits applies the relative counts or the axis position of a frame; before
// is the time of the frame before.
func (p *Path) applyUnits(before, at int64) {
	if p.output == AxisOutput {
		p.applyAxis(at)
		return
	}
	n := int64(0)
	for _, s := range p.arrived.standing {
		n += s.units
	}
	i := int64(0)
	for _, s := range p.arrived.standing {
		for range s.units {
			i++
			p.add(at, s.dir, p.programSteps(before+(at-before)*i/n, s.dir), s.owner, ByDetent)
		}
	}
	p.arrived.reset()
}

// applyAxis sets the number that belongs to the delivered position.
func (p *Path) applyAxis(at int64) {
	if p.arrived.empty() {
		return
	}
	cause := ByBounce
	for _, s := range p.arrived.standing {
		if p.credit(s.owner, ByDetent) == ByDetent {
			cause = ByDetent
		}
	}
	dir := p.arrived.standing[0].dir
	owner := p.arrived.standing[0].owner
	p.arrived.reset()
	value := p.axisValue(p.axisDelivered)
	p.show(at, dir, max(value-p.value, p.value-value), value, owner, cause)
}

// axisValue returns the number at an axis position, halves rounded up.
func (p *Path) axisValue(position int64) int64 {
	return (2*position*(p.scale.Count-1) + p.axisMax) / (2 * p.axisMax)
}
