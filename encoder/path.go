package encoder

import (
	"fmt"

	"dialwright/accel"
	"dialwright/encoder/draw"
)

// Setup is what the path of one knob is made from.
type Setup struct {
	Rig   *Rig
	Gain  *accel.Gain // nil is gain 1
	Home  Home        // where Gain lives
	Scale Scale       // the numbers that the knob dials
	Ring  int         // further knobs of a trial draw their own numbers

	Pushes bool // SetStep will be called
}

// Change is a new number on the screen.
type Change struct {
	At    int64 // ns, display latency included
	Value int64
}

// Path carries clicks from one knob to the number on the screen. It is used for
// one trial after the other and allocates nothing once it has seen a long one.
// A Path may not be used by two goroutines at once.
type Path struct {
	// Trace is called for everything that happens, stage by stage: within one
	// stage in the order of time, but an early stage may run ahead. Nil costs
	// nothing.
	Trace func(Event)

	// Steps is called for every step that reaches the number, before an acceleration in
	// the program. Nil costs nothing.
	Steps func(Step)

	rig         *Rig
	ringPurpose draw.Purpose

	contacts contacts
	output   output
	levels   levels // stages 4 to 6 where only levels count
	usb      usb
	program  program
	number   number

	detents         []Detent
	lacks           [2]int
	account         Account
	deliveredPulses int

	ran int64 // the end of the last RunTo

	events          int64  // edges, acceptances, polls and frames that were looked at in this trial,
	chattered, kept int64  // events of chatter, and of what leaves steps or pulses behind
	keeps           labour // the newest that leaves steps or pulses behind
	runaway         *Runaway
}

// The streams that a path draws from; Start adds draw.Rings for further rings.
const (
	scanPhase = draw.Path + iota
	pollPhase
	framePhase
	frameNoise
	chatterNoise
	longChatter
)

// NewPath makes a path for a knob. It returns every reason for which the rig
// cannot run.
func NewPath(s Setup) (*Path, error) {
	r := s.Rig
	if err := r.runs(); err != nil {
		return nil, fmt.Errorf("rig %q: %w", r.Name, err)
	}
	if r.Firmware.Output == AxisOutput && s.Scale.Count < 2 {
		return nil, fmt.Errorf("rig %q: an axis needs a task with a range", r.Name)
	}
	p := &Path{
		rig: r, ringPurpose: draw.Rings * draw.Purpose(s.Ring),
		contacts: newContacts(r), output: newOutput(s), usb: newUSB(r), program: newProgram(r), number: newNumber(s),
	}
	p.levels = newLevels(s, &p.output)
	return p, nil
}

// EdgesPerDetent returns how many quarter steps make one detent (1 on a smooth
// knob, whose unit is the quarter step).
func (p *Path) EdgesPerDetent() int { return p.contacts.perDetent }

// Start begins a trial: the knob is at rest, the path empty, and the screen
// shows a number.
func (p *Path) Start(trial draw.Trial, value int64) {
	stream := func(purpose draw.Purpose) draw.Stream { return trial.Stream(p.ringPurpose + purpose) }
	r := p.rig
	p.contacts.scan.start(r.Firmware.Phase, stream(scanPhase))
	p.usb.polls.start(r.USB.Phase, stream(pollPhase))
	if p.program.sampling != Immediate {
		p.program.frames.start(r.Program.Phase, stream(framePhase))
		p.program.frames.noise = stream(frameNoise)
	}
	p.contacts.chatterNoise, p.contacts.longChatter = stream(chatterNoise), stream(longChatter)

	p.detents, p.lacks = p.detents[:0], [2]int{}
	p.account, p.deliveredPulses = Account{}, 0
	p.events, p.chattered, p.kept, p.runaway = 0, 0, 0, nil
	p.number.reset(value)
	p.empty()
}

// empty clears all stages between the knob and the number.
func (p *Path) empty() {
	axis := int64(0)
	if p.output.kind == AxisOutput {
		span := p.number.scale.Count - 1
		axis = (2*p.number.value*p.output.axisMax + span) / (2 * span)
	}
	p.contacts.reset()
	p.output.reset(p.number.scale.Low+p.number.value, axis)
	p.levels.reset(p.Trace != nil)
	p.usb.reset()
	p.program.reset(axis)
}

// Detent turns the knob by one detent that is complete at a time; its edges come
// within the 40 ms before, or since the detent before if that is less. Times
// increase strictly and lie after the last RunTo.
func (p *Path) Detent(at int64, dir int8) {
	gap := longestSpread
	if n := len(p.detents); n > 0 {
		gap = min(gap, at-p.detents[n-1].At)
	}
	p.turn(at, dir)
	n := len(p.detents) - 1
	c := &p.contacts
	s := &c.spread
	if gap < longestSpread {
		quick := c.spreadOver(gap)
		s = &quick
	}
	if p.turnAlone(at-s.first, at-s.before, at, s.spacing, dir, n) {
		return
	}
	p.wake()
	for after := int64(c.perDetent) - 1; after >= 0; after-- {
		p.edgeAt(at-c.ahead(after, gap), dir, n)
	}
}

// Turn turns the knob by one detent whose edges come at the given times. They
// never lie before an edge already given nor at or before the last RunTo.
func (p *Path) Turn(dir int8, edges []int64) {
	last := len(edges) - 1
	p.turn(edges[last], dir)
	n := len(p.detents) - 1
	spacing := int64(never)
	for i := 1; i < len(edges); i++ {
		spacing = min(spacing, edges[i]-edges[i-1])
	}
	if p.turnAlone(edges[0], edges[max(0, last-1)], edges[last], spacing, dir, n) {
		return
	}
	p.wake()
	for _, te := range edges {
		p.edgeAt(te, dir, n)
	}
}

// Late returns by how many thousandths of a quarter step those edges come late
// that have an odd number of edges after them in their detent.
func (p *Path) Late() int64 { return p.contacts.late }

func (p *Path) turn(at int64, dir int8) {
	p.detents = append(p.detents, Detent{At: at, Dir: dir})
	if p.Trace != nil {
		p.traceTurn()
	}
}

func (p *Path) traceTurn() {
	n := len(p.detents) - 1
	p.Trace(Event{At: p.detents[n].At, Kind: Turned, Dir: p.detents[n].Dir, Detent: n})
}

// RunTo lets everything happen up to and at a time. A stage downstream may run
// ahead where nothing that is still to come can touch it.
func (p *Path) RunTo(t int64) {
	if t < never {
		t++
	}
	p.ran = t
	p.readContacts(t)
	if p.levels.taken >= fromCount { // nothing waits for a time to come
		return
	}
	p.runOutput(t)
	p.runUSB(t)
	p.runProgram(t)
}

// SetStep makes every step that the program applies from a time on count so many
// task steps (press-for-coarse). The setup must have said that this would come.
func (p *Path) SetStep(at, multiple int64) {
	if p.number.multipleAt != never {
		p.number.multiple = p.number.nextMultiple
	}
	p.number.multipleAt, p.number.nextMultiple = at, multiple
}

// Finish runs the path until it is empty and closes the account.
func (p *Path) Finish() {
	p.RunTo(never)
	if v := &p.levels; v.unseen { // nothing can prolong the last press any more
		v.unseen = false
		p.settle(v.frameAt, v.owner, FrameMissed)
	}
	p.balance()
}

// Shown returns the number on the screen at a time not later than the last
// RunTo.
func (p *Path) Shown(t int64) int64 { return p.number.at(t) }

// Changes returns every new number on the screen so far, in the order of time.
// The slice is valid until the next Start.
func (p *Path) Changes() []Change { return p.number.shown }

// Account returns the balance of the trial; it is complete after Finish.
func (p *Path) Account() Account { return p.account }

// Detents returns every detent of the trial so far. The slice is valid until the next
// Start.
func (p *Path) Detents() []Detent { return p.detents }

// Err returns a *Runaway if the trial was given up: what the path says of it is then
// worth nothing. Whoever runs a trial asks this after Finish.
func (p *Path) Err() error {
	if p.runaway == nil {
		return nil
	}
	return p.runaway
}

// Events returns what the trial has cost so far: its detents, and the edges,
// acceptances, words of readings, pulses, polls, frames, repeats that had to be looked
// at one by one.
func (p *Path) Events() int64 { return int64(len(p.detents)) + p.events + p.chattered + p.kept }

// WorstBacklog returns the most pulses that have waited at once.
func (p *Path) WorstBacklog() int { return p.output.worstBacklog }

// Empty says whether, after the last RunTo, nothing is on its way to the screen.
func (p *Path) Empty() bool {
	c, o, m := &p.contacts, &p.output, &p.program
	return c.dueAny == never && c.lone.due == never && !c.walkingAny &&
		o.pressed == noLine && o.waiting.len() == 0 && o.lastStart < p.ran &&
		!p.usb.due && m.frameAt == never && m.repeatAt == never && m.holdAt == never &&
		(len(p.number.shown) == 0 || p.number.shown[len(p.number.shown)-1].At < p.ran)
}
