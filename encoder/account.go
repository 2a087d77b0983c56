package encoder

// Fate is what became of a detent. With several pulses the furthest counts.
type Fate uint8

// The fates, in the order of the path.
const (
	Illegal       Fate = iota // no count belongs to it
	QueueDropped              // its pulse was refused or pushed out of the queue
	Cleared                   // its waiting pulse was thrown away at a reversal
	Clipped                   // no room for it at an end of the axis
	PollMissed                // no poll fell into its pulse
	MergedAtPoll              // a poll took it for a part of the press before, or an opposite count cancelled it
	FrameMissed               // no frame fell into its press, or its press was discarded
	MergedAtFrame             // a frame took it for a part of the press before, or an opposite count cancelled it
	Delivered                 // a step was applied on its account
)

var fateNames = [...]string{"illegal", "queue-dropped", "cleared", "clipped", "poll-missed", "merged", "frame-missed", "merged", "delivered"}

// String returns the fate as the account names it; both merged fates are
// "merged".
func (f Fate) String() string { return fateNames[f] }

// Cause says why a step was applied.
type Cause uint8

// The causes of a step. ByBounce is any count without an owner.
const (
	ByDetent Cause = iota
	ByRepeat
	ByHold
	ByBounce
)

var causeNames = [...]string{"detent", "repeat", "hold", "bounce"}

// String returns the name of the cause.
func (c Cause) String() string { return causeNames[c] }

// Account is the balance of a trial. The fates add up to Detents, except under a
// firmware hold, where detents have no fate and Presses, Held and Steps tell the
// story.
type Account struct {
	Detents int

	Delivered, Merged, QueueDropped, Cleared, Illegal, PollMissed, FrameMissed, Clipped int

	Pulses     int // all that counts asked for; 0 for Relative and Axis
	PulsesLost int // those of which no step was applied
	Extra      Extra
	Steps      int   // all that the program applied, extra ones included
	Presses    int   // under a firmware hold
	Held       int64 // ns that a line was pressed under a firmware hold

	IllegalTransitions int
}

// Extra counts the steps that belong to no detent.
type Extra struct{ Repeat, Hold, Bounce int }

// Sum returns all extra steps.
func (e Extra) Sum() int { return e.Repeat + e.Hold + e.Bounce }

// Lost returns the detents that had no step.
func (a Account) Lost() int { return a.Detents - a.Delivered }

// Add adds another account to this one.
func (a *Account) Add(b Account) {
	a.Detents += b.Detents
	a.Delivered += b.Delivered
	a.Merged += b.Merged
	a.QueueDropped += b.QueueDropped
	a.Cleared += b.Cleared
	a.Illegal += b.Illegal
	a.PollMissed += b.PollMissed
	a.FrameMissed += b.FrameMissed
	a.Clipped += b.Clipped
	a.Pulses += b.Pulses
	a.PulsesLost += b.PulsesLost
	a.Extra.Repeat += b.Extra.Repeat
	a.Extra.Hold += b.Extra.Hold
	a.Extra.Bounce += b.Extra.Bounce
	a.Steps += b.Steps
	a.Presses += b.Presses
	a.Held += b.Held
	a.IllegalTransitions += b.IllegalTransitions
}

// Detent is a click of the knob and what has become of it so far.
type Detent struct {
	At      int64 // ns, its last edge
	Dir     int8
	counted bool
	Fate    Fate // final after Finish, and without meaning under a firmware hold
}

// ownerOf returns the detent that an emission belongs to: the one whose edge
// completed it, or the newest earlier one of its direction that lacks its count.
func (p *Path) ownerOf(dir int8, completed int) int {
	d := &p.detents[completed]
	if d.Dir == dir && !d.counted {
		d.counted = true
		return completed
	}
	// All detents of this direction before lacks[…] have their counts.
	lacks := &p.lacks[(dir+1)/2]
	for i := completed - 1; i >= *lacks; i-- {
		if d := &p.detents[i]; d.Dir == dir && !d.counted {
			d.counted = true
			return i
		}
	}
	*lacks = completed
	return nobody
}

// settle notes how far something of a detent came.
func (p *Path) settle(at int64, owner int, f Fate) {
	if owner == nobody {
		return
	}
	d := &p.detents[owner]
	d.Fate = max(d.Fate, f)
	if p.Trace != nil && f != Delivered {
		p.Trace(Event{At: at, Kind: Lost, Dir: d.Dir, Detent: owner, Fate: f})
	}
}

// cancelled settles what opposite counts took from each other.
func (p *Path) cancelled(at int64, gone []share, f Fate) {
	for _, s := range gone {
		p.settle(at, s.owner, f)
	}
}

// balance closes the account.
func (p *Path) balance() {
	a := &p.account
	a.Detents = len(p.detents)
	if p.output.holdFor > 0 {
		return
	}
	a.PulsesLost = a.Pulses - p.deliveredPulses
	n := p.fates()
	a.Illegal = n[Illegal]
	a.QueueDropped = n[QueueDropped]
	a.Cleared = n[Cleared]
	a.Clipped = n[Clipped]
	a.PollMissed = n[PollMissed]
	a.Merged = n[MergedAtPoll] + n[MergedAtFrame]
	a.FrameMissed = n[FrameMissed]
	a.Delivered = n[Delivered]
}

// fates counts the detents of each fate. Most have the same: counts in memory would wait
// for one another, so they stand side by side in a word, as many at a time as fit.
func (p *Path) fates() (n [Delivered + 1]int) {
	const width, most = 7, 1<<7 - 1 // bits of a count, and how far it goes
	for left := p.detents; len(left) > 0; {
		d := left[:min(most, len(left))]
		left = left[len(d):]
		word := uint64(0)
		for i := range d {
			word += 1 << (width * d[i].Fate & 63)
		}
		for f := range n {
			n[f] += int(word >> (width * f) & most)
		}
	}
	return n
}
