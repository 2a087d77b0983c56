package encoder

// change is a press or a release of a line on its way through queued reports.
type change struct {
	pulse
	press bool
}

// usbPress tells the bus that a line is pressed at an instant.
func (p *Path) usbPress(at int64, q pulse) {
	if p.reports == QueuedReports {
		p.usbQueue(at, change{q, true})
		return
	}
	p.usbChanged(at)
	p.sending = q
	p.polled = false
}

// usbRelease tells the bus that a line is released at an instant.
func (p *Path) usbRelease(at int64, l line) {
	if p.reports == QueuedReports {
		p.usbQueue(at, change{pulse{l, nobody}, false})
		return
	}
	p.usbChanged(at)
	if !p.polled {
		p.settle(at, p.sending.owner, PollMissed)
	}
	p.sending = pulse{noLine, nobody}
	p.polled = true
}

// usbChanged notes that the next poll has something to look at.
func (p *Path) usbChanged(at int64) {
	if p.pollDue {
		if p.nextPoll >= at {
			return
		}
		p.poll()
	}
	p.pollDue = true
	p.nextPoll = p.polls.tick(p.polls.first(at))
}

func (p *Path) usbQueue(at int64, c change) {
	p.runUSB(at)
	p.changes.push(c)
	if !p.pollDue {
		p.pollDue = true
		p.nextPoll = p.polls.tick(p.polls.first(at))
	}
}

// runUSB carries the bus through all polls before limit that carry anything.
func (p *Path) runUSB(limit int64) {
	for p.pollDue && p.nextPoll < limit {
		p.poll()
	}
}

// poll is the next USB transfer that has something to look at.
func (p *Path) poll() {
	at := p.nextPoll
	p.pollDue = false
	if p.Trace != nil {
		p.Trace(Event{At: at, Kind: Polled, Detent: nobody})
	}
	switch {
	case !p.output.Lines():
		p.deliverUnits(at + p.latency)
	case p.reports == QueuedReports:
		c := p.changes.pop()
		if p.pollDue = p.changes.len() > 0; p.pollDue {
			p.nextPoll += p.polls.period.by
		}
		if c.press {
			p.deliver(at+p.latency, noLine, c.pulse)
		} else {
			p.deliver(at+p.latency, c.line, pulse{noLine, nobody})
		}
	case p.sending.line != p.carried:
		released := p.carried
		p.carried = p.sending.line
		p.polled = true
		p.deliver(at+p.latency, released, p.sending)
	case !p.polled: // the poll before found this line down already
		p.polled = true
		p.settle(at, p.sending.owner, MergedAtPoll)
	}
}
