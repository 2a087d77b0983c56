package encoder

// change is a press or a release of a line on its way through queued reports.
type change struct {
	pulse
	press bool
}

// usb is the bus (stage 4) and the system's latency behind it.
type usb struct {
	reports Reports
	units   bool  // polls carry relative counts or an axis, not lines
	latency int64 // ns
	polls   clock

	due     bool
	next    int64 // the next poll that matters
	sending pulse // the line that is pressed now
	polled  bool  // a poll has looked at it
	carried line  // what the last poll found pressed
	changes fifo[change]
	unsent  tally
}

func newUSB(r *Rig) usb {
	return usb{
		reports: r.USB.Reports, units: r.Firmware.Output >= Relative,
		latency: int64(r.System.Latency), polls: newClock(r.USB.Poll),
	}
}

func (u *usb) reset() {
	u.due = false
	u.sending, u.polled, u.carried = pulse{noLine, nobody}, true, noLine
	u.changes.reset()
	u.unsent.reset()
}

// usbPress tells the bus that a line is pressed at an instant.
func (p *Path) usbPress(at int64, q pulse) {
	if p.usb.reports == QueuedReports {
		p.usbQueue(at, change{q, true})
		return
	}
	p.usbChanged(at)
	p.usb.sending = q
	p.usb.polled = false
}

// usbRelease tells the bus that a line is released at an instant.
func (p *Path) usbRelease(at int64, l line) {
	if p.usb.reports == QueuedReports {
		p.usbQueue(at, change{pulse{l, nobody}, false})
		return
	}
	p.usbChanged(at)
	if !p.usb.polled {
		p.settle(at, p.usb.sending.owner, PollMissed)
	}
	p.usb.sending = pulse{noLine, nobody}
	p.usb.polled = true
}

// usbChanged notes that the next poll has something to look at.
func (p *Path) usbChanged(at int64) {
	if p.usb.due {
		if p.usb.next >= at {
			return
		}
		p.poll()
	}
	p.usb.due = true
	p.usb.next = p.usb.polls.tick(p.usb.polls.first(at))
}

func (p *Path) usbQueue(at int64, c change) {
	p.runUSB(at)
	p.usb.changes.push(c)
	if !p.usb.due {
		p.usb.due = true
		p.usb.next = p.usb.polls.tick(p.usb.polls.first(at))
	}
}

// runUSB carries the bus through all polls before limit that carry anything.
func (p *Path) runUSB(limit int64) {
	for p.usb.due && p.usb.next < limit {
		p.poll()
	}
}

// poll is the next USB transfer that has something to look at.
func (p *Path) poll() {
	p.events++
	at := p.usb.next
	p.usb.due = false
	if p.Trace != nil {
		p.Trace(Event{At: at, Kind: Polled, Detent: nobody})
	}
	switch {
	case p.usb.units:
		p.deliverUnits(at + p.usb.latency)
	case p.usb.reports == QueuedReports:
		c := p.usb.changes.pop()
		if p.usb.due = p.usb.changes.len() > 0; p.usb.due {
			p.usb.next += p.usb.polls.period.by
		}
		if c.press {
			p.deliver(at+p.usb.latency, noLine, c.pulse)
		} else {
			p.deliver(at+p.usb.latency, c.line, pulse{noLine, nobody})
		}
	case p.usb.sending.line != p.usb.carried:
		released := p.usb.carried
		p.usb.carried = p.usb.sending.line
		p.usb.polled = true
		p.deliver(at+p.usb.latency, released, p.usb.sending)
	case !p.usb.polled: // the poll before found this line down already
		p.usb.polled = true
		p.settle(at, p.usb.sending.owner, MergedAtPoll)
	}
}
