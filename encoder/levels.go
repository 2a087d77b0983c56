package encoder

// levels carries pulses through polls and frames that look only at what is down
// (state reports, state sampling, nothing that repeats). Of such a pulse four
// things decide: the first polls after its start and after its end, and the first
// frames after these. So it is taken from its start to its step at once, without
// the polls and frames between, and without keeping their events in order.
type levels struct {
	// What the setup fixes.
	longest         shortcut
	onPolls, onRest int64 // whole polls that a pulse lasts, and what is left of it

	taken shortcut // in this trial

	polled   line  // of the last pulse that a poll saw,
	gone     int64 // and the number of the first poll that saw it no more
	pulse          // the press that the program knows of
	release  int64 // its release is delivered then
	frameAt  int64 // the first frame after it is delivered
	frame    int64
	unseen   bool  // and that frame comes after the release
	seen     line  // of the last press before that a frame saw,
	released int64 // and when its release was delivered
}

// shortcut is the way on which pulses are taken at once; each is longer than the one
// before it.
type shortcut uint8

const (
	noShortcut shortcut = iota
	fromStart           // polls and frames look at levels, and nothing repeats
	fromCount           // and no pulse that waits can be thrown away: when it starts is known as it arrives
	oneForOne           // and each count is one pulse of the fine pair
)

func newLevels(s Setup, o *output) levels {
	r := s.Rig
	v := levels{onPolls: o.on / int64(r.USB.Poll), onRest: o.on % int64(r.USB.Poll)}
	switch {
	case o.kind > Keys || o.holdFor > 0 || r.Program.Hold.Period > 0 ||
		r.USB.Reports != StateReports || r.Program.Sampling != State || s.Pushes:
		v.longest = noShortcut
	case o.reversal == ClearWaiting || o.overflow == DropOld && o.queue > 0:
		v.longest = fromStart
	case o.coarseBelow > 0 || o.gain != nil || o.countsPerDetent > 1:
		v.longest = fromCount
	default:
		v.longest = oneForOne
	}
	return v
}

// reset begins a trial; every event of a traced one is wanted.
func (v *levels) reset(traced bool) {
	v.taken = v.longest
	if traced {
		v.taken = noShortcut
	}
	v.polled, v.seen, v.pulse = noLine, noLine, pulse{noLine, nobody}
	v.gone, v.release, v.frameAt, v.frame, v.unseen, v.released = 0, 0, 0, 0, false, 0
}

// startAhead takes pulses that counts at the given times ask for to the number. Nothing
// that is still to come can touch one that waits: those before it start one after the
// other, so it is known now when it will. The first pulse is on account of its detent,
// each further one on account of one so many later.
func (p *Path) startAhead(counts []int64, q pulse, later int) {
	o, v, n := &p.output, &p.levels, &p.number
	polls, frames := &p.usb.polls, &p.program.frames
	q.owner -= later
	for _, at := range counts {
		q.owner += later
		if at < o.freeAt { // the line is busy: the pulse waits, or is refused
			waiting := 0
			if o.lastStart > at {
				waiting = int(o.onOff.of(o.lastStart-at-1)) + 1
			}
			if waiting >= o.queue {
				p.settle(at, q.owner, QueueDropped)
				continue
			}
			o.worstBacklog = max(o.worstBacklog, waiting+1)
			at = o.freeAt
		}
		o.lastStart = at
		o.freeAt = at + o.onOff.by

		// What the polls make of it.
		first := polls.first(at)
		gone := first + v.onPolls
		if v.onRest > polls.tick(first)-at {
			gone++
		}
		if first == gone {
			p.settle(at, q.owner, PollMissed)
			continue
		}
		if first == v.gone && q.line == v.polled { // one long press
			p.settle(at, q.owner, MergedAtPoll)
			v.gone = gone
			v.release = polls.tick(gone) + p.usb.latency
		} else {
			if v.unseen {
				p.settle(v.frameAt, v.owner, FrameMissed)
			} else if v.line != noLine {
				v.seen, v.released = v.line, v.release
			}
			v.polled, v.gone = q.line, gone
			v.pulse = q
			v.release = polls.tick(gone) + p.usb.latency
			v.frame, v.frameAt = frames.first(polls.tick(first) + p.usb.latency)
			v.unseen = true
		}

		// What the first frame after the press makes of it.
		if !v.unseen || v.frameAt >= v.release {
			continue
		}
		v.unseen = false
		if v.line == v.seen && frames.before(v.frame-1, v.released) {
			p.settle(v.frameAt, v.owner, MergedAtFrame)
			continue
		}
		if v.owner == nobody || v.line >= coarseUp {
			p.apply(v.frameAt, v.frameAt, v.pulse, ByDetent)
			continue
		}
		// What apply does with it, where nothing is traced or pushed.
		p.detents[v.owner].Fate = Delivered
		p.deliveredPulses++
		p.account.Steps++
		dir := v.line.dir()
		n.move(v.frameAt, n.scale.Add(n.value, int64(dir)*p.programSteps(v.frameAt, v.frameAt, dir)))
	}
}
