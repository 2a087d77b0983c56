package encoder

// levels carries pulses through polls and frames that look only at what is down
// (state reports, state sampling, nothing that repeats). Of such a pulse four
// things decide: the first polls after its start and after its end, and the first
// frames after these. So it is taken from its start to its step at once, without
// the polls and frames between, and without keeping their events in order.
type levels struct {
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

// carry takes a pulse that starts now to the number.
func (p *Path) carry(at int64, q pulse) {
	v := &p.levels
	first := p.polls.first(at)
	gone := first + p.onPolls
	if p.onRest > p.polls.tick(first)-at {
		gone++
	}
	switch {
	case first == gone:
		p.settle(at, q.owner, PollMissed)
		return
	case first == v.gone && q.line == v.polled: // one long press
		p.settle(at, q.owner, MergedAtPoll)
		v.gone = gone
		v.release = p.polls.tick(gone) + p.latency
		if v.unseen && v.frameAt < v.release {
			p.see()
		}
		return
	}
	p.forget()
	v.polled, v.gone = q.line, gone
	v.pulse = q
	v.release = p.polls.tick(gone) + p.latency
	v.frame, v.frameAt = p.frames.first(p.polls.tick(first) + p.latency)
	v.unseen = true
	if v.frameAt < v.release {
		p.see()
	}
}

// see lets the first frame after a press look at it.
func (p *Path) see() {
	v := &p.levels
	v.unseen = false
	if v.line == v.seen && p.frames.before(v.frame-1, v.released) {
		p.settle(v.frameAt, v.owner, MergedAtFrame)
		return
	}
	p.apply(v.frameAt, v.frameAt, v.pulse, ByDetent)
}

// forget ends what the program knows of a press: no pulse can prolong it any more.
func (p *Path) forget() {
	v := &p.levels
	if v.unseen {
		v.unseen = false
		p.settle(v.frameAt, v.owner, FrameMissed)
	} else if v.line != noLine {
		v.seen, v.released = v.line, v.release
	}
}
