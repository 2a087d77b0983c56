package encoder

import (
	"fmt"
	"math"
	"time"

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

	// What the setup fixes. Times are in ns.
	rig                       *Rig
	ringPurpose               draw.Purpose
	scale                     Scale
	perDetent                 int     // quarter steps
	detentThousandths         divisor // thousandths of a quarter step in a detent
	late                      int64   // thousandths of a quarter step that odd edges come late
	bounce                    int64
	debounce, countsPerDetent int
	settled                   int64 // an edge that stands alone is accepted at most so long after it; never if chatter may be
	decoder                   Decoder
	output                    Output
	on, off, holdFor          int64
	coarseBelow               int64 // interval under which pulses go to the coarse pair; 0: no pair
	coarseSteps               int64
	queue                     int
	overflow                  Overflow
	reversal                  Reversal
	unitsPerCount, axisMax    int64
	reports                   Reports
	latency                   int64
	repeats                   bool // the system's key repeat reaches the number
	repeatDelay, repeatPeriod int64
	sampling                  Sampling
	maxPerFrame               int
	dropExcess                bool
	holdDelay, holdPeriod     int64
	displayLatency            int64
	firmwareGain, programGain *accel.Gain
	onPolls, onRest           int64 // whole polls that a pulse lasts, and what is left of it
	onlyLevels                bool  // nothing repeats, and polls and frames look at levels

	// Stage 1 and 2: contacts, decoder.
	scan                      clock
	chatterNoise, longChatter draw.Stream
	contacts                  [2]contact
	dueAny                    int64 // earliest acceptance that is known
	walkingAny                bool
	asleep                    bool // while detents stand alone, and contacts say nothing
	lone                      lone
	edges, position           int64
	lastDetent                int64
	gray                      int8
	quarters                  int
	detents                   []detent
	lacks                     [2]int

	// Stage 3: output.
	lastEmission      int8
	lastEmissionAt    int64
	gainState         accel.State
	asked             int64 // the firmware's own count of task steps
	waiting           ring[pulse]
	worstBacklog      int
	pressed           line
	pressedAt         int64
	releaseAt, freeAt int64
	axisPosition      int64
	unsent            tally

	// Stages 4 to 6 where only levels count.
	carries bool // this trial's pulses are taken to their steps at once
	levels  levels

	// Stage 4: USB.
	polls    clock
	pollDue  bool
	nextPoll int64
	sending  pulse // the line that is pressed now
	polled   bool  // a poll has looked at it
	carried  line  // what the last poll found pressed
	changes  ring[change]

	// Stage 5 and 6: system, program.
	frames          frameClock
	frame, frameAt  int64 // the next one that matters
	frameFor        int64 // the instant for whose sake it matters
	down            pulse // the button that is down
	sampled         bool  // a frame has looked at it
	seen            line  // what the last frame found down
	presses         int64
	repeatAt        int64
	holdAt          int64
	actions         ring[action]
	arrived         tally
	axisDelivered   int64
	deliveredPulses int

	// Stage 7 and 8: value.
	value                  int64
	multiple, nextMultiple int64
	multipleAt             int64
	start                  int64
	ran                    int64 // the end of the last RunTo
	shown                  []Change

	account Account
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
	f, g := &r.Firmware, &r.Program
	if err := r.runs(); err != nil {
		return nil, fmt.Errorf("rig %q: %w", r.Name, err)
	}
	p := &Path{
		rig: r, ringPurpose: draw.Rings * draw.Purpose(s.Ring), scale: s.Scale,
		bounce: int64(r.Knob.Bounce), debounce: f.Debounce, countsPerDetent: max(1, f.CountsPerDetent),
		decoder: f.Decoder, output: f.Output,
		on: int64(f.Pulse), off: int64(f.Gap), queue: f.Queue, overflow: f.Overflow, reversal: f.Reversal,
		unitsPerCount: int64(f.Axis.CountsPerDetent),
		reports:       r.USB.Reports, latency: int64(r.System.Latency),
		sampling: g.Sampling, maxPerFrame: g.MaxPerFrame, dropExcess: g.Excess == DropExcess,
		holdDelay: int64(g.Hold.Delay), holdPeriod: int64(g.Hold.Period),
		displayLatency: int64(r.Display.Latency),
	}
	p.perDetent, _ = r.Knob.EdgesPerDetent()
	p.detentThousandths = newDivisor(1000 * int64(p.perDetent))
	if m := r.Knob.MinState; m > 0 && p.perDetent > 1 {
		p.late = 1000 - 4*int64(math.Round(m*1000))
	}
	p.scan, p.polls = newClock(f.Scan), newClock(r.USB.Poll)
	p.settled = never
	if chatter := int64(r.Knob.Bounce); chatter == 0 || chatter/int64(f.Scan)+1 < min(int64(f.Debounce), 33) {
		p.settled = chatter + int64(f.Debounce)*int64(f.Scan)
	}
	if g.Sampling != Immediate {
		p.frames = newFrameClock(g)
	}
	if f.Output.Lines() {
		if p.holdFor = int64(f.Hold); p.holdFor > 0 {
			p.on = p.holdFor
			p.off = 0
		} else if f.Coarse.Above > 0 {
			p.coarseBelow = min(int64(f.Coarse.Above.Period()), int64(400*time.Millisecond))
			p.coarseSteps = int64(f.Coarse.Steps)
		}
	}
	if f.Output == Keys && r.System.Repeat.Rate > 0 && g.Sampling != State && g.Repeats == ApplyRepeats && g.Hold.Period == 0 {
		p.repeats = true
		p.repeatDelay = int64(r.System.Repeat.Delay)
		p.repeatPeriod = int64(r.System.Repeat.Rate.Period())
	}
	p.onPolls, p.onRest = p.on/int64(r.USB.Poll), p.on%int64(r.USB.Poll)
	p.onlyLevels = f.Output.Lines() && p.holdFor == 0 && p.holdPeriod == 0 &&
		p.reports == StateReports && p.sampling == State && !s.Pushes
	if f.Output == AxisOutput {
		if s.Scale.Count < 2 {
			return nil, fmt.Errorf("rig %q: an axis needs a task with a range", r.Name)
		}
		p.axisMax = 1<<f.Axis.Bits - 1
		p.firmwareGain, p.programGain = nil, nil
	} else if s.Gain != nil {
		if s.Home == InFirmware {
			p.firmwareGain = s.Gain
		} else {
			p.programGain = s.Gain
		}
	}
	return p, nil
}

// EdgesPerDetent returns how many quarter steps make one detent (1 on a smooth
// knob, whose unit is the quarter step).
func (p *Path) EdgesPerDetent() int { return p.perDetent }

// Start begins a trial: the knob is at rest, the path empty, and the screen
// shows a number.
func (p *Path) Start(trial draw.Trial, value int64) {
	stream := func(purpose draw.Purpose) draw.Stream { return trial.Stream(p.ringPurpose + purpose) }
	r := p.rig
	p.scan.start(r.Firmware.Phase, stream(scanPhase))
	p.polls.start(r.USB.Phase, stream(pollPhase))
	if p.sampling != Immediate {
		p.frames.start(r.Program.Phase, stream(framePhase))
		p.frames.noise = stream(frameNoise)
	}
	p.chatterNoise, p.longChatter = stream(chatterNoise), stream(longChatter)

	p.contacts = [2]contact{{due: never}, {due: never}}
	p.dueAny, p.walkingAny = never, false
	p.asleep, p.lone.due = false, never
	p.edges, p.position, p.lastDetent = 0, 0, 0
	p.gray, p.quarters = 0, 0
	p.detents = p.detents[:0]
	p.lacks = [2]int{}

	p.lastEmission, p.lastEmissionAt = 0, 0
	p.gainState = accel.State{}
	p.asked = p.scale.Low + value
	p.waiting.reset()
	p.worstBacklog = 0
	p.pressed, p.releaseAt, p.freeAt = noLine, never, math.MinInt64
	p.unsent.reset()

	p.carries = p.onlyLevels && p.Trace == nil
	p.levels = levels{polled: noLine, seen: noLine, pulse: pulse{noLine, nobody}}

	p.pollDue = false
	p.sending, p.polled, p.carried = pulse{noLine, nobody}, true, noLine
	p.changes.reset()

	p.frameAt = never
	p.down, p.sampled, p.seen = pulse{noLine, nobody}, true, noLine
	p.presses = 0
	p.repeatAt, p.holdAt = never, never
	p.actions.reset()
	p.arrived.reset()
	p.deliveredPulses = 0

	p.value, p.start = value, value
	p.multiple, p.nextMultiple, p.multipleAt = 1, 1, never
	p.shown = p.shown[:0]
	p.account = Account{}

	if p.output == AxisOutput {
		span := p.scale.Count - 1
		p.axisPosition = (2*value*p.axisMax + span) / (2 * span)
		p.axisDelivered = p.axisPosition
	}
}

// Detent turns the knob by one detent that is complete at a time; its edges come
// within the 40 ms before, or since the detent before if that is less. Times
// increase strictly and lie after the last RunTo.
func (p *Path) Detent(at int64, dir int8) {
	const spread = int64(40 * time.Millisecond)
	gap := spread
	if len(p.detents) > 0 {
		gap = min(gap, at-p.lastDetent)
	}
	n := p.turn(at, dir)
	before := func(after int64) int64 { // `after` edges still to come
		return at - p.detentThousandths.of((1000*after-p.late*(after&1))*gap)
	}
	after := int64(p.perDetent) - 1
	if p.turnAlone(before(after), before(0), p.detentThousandths.of((1000-p.late)*gap), dir, n) {
		return
	}
	p.wake()
	for ; after >= 0; after-- {
		p.edgeAt(before(after), dir, n)
	}
}

// Turn turns the knob by one detent whose edges come at the given times. They
// never lie before an edge already given nor at or before the last RunTo.
func (p *Path) Turn(dir int8, edges []int64) {
	n := p.turn(edges[len(edges)-1], dir)
	spacing := int64(never)
	for i := 1; i < len(edges); i++ {
		spacing = min(spacing, edges[i]-edges[i-1])
	}
	if p.turnAlone(edges[0], edges[len(edges)-1], spacing, dir, n) {
		return
	}
	p.wake()
	for _, te := range edges {
		p.edgeAt(te, dir, n)
	}
}

// Late returns by how many thousandths of a quarter step those edges come late
// that have an odd number of edges after them in their detent.
func (p *Path) Late() int64 { return p.late }

func (p *Path) turn(at int64, dir int8) int {
	p.lastDetent = at
	p.detents = append(p.detents, detent{at: at, dir: dir})
	n := len(p.detents) - 1
	if p.Trace != nil {
		p.Trace(Event{At: at, Kind: Turned, Dir: dir, Detent: n})
	}
	return n
}

// RunTo lets everything happen up to and at a time. A stage downstream may run
// ahead where nothing that is still to come can touch it.
func (p *Path) RunTo(t int64) {
	if t < never {
		t++
	}
	p.ran = t
	p.readContacts(t)
	p.runOutput(t)
	p.runUSB(t)
	p.runProgram(t)
}

// SetStep makes every step that the program applies from a time on count so many
// task steps (press-for-coarse). The setup must have said that this would come.
func (p *Path) SetStep(at, multiple int64) {
	if p.multipleAt != never {
		p.multiple = p.nextMultiple
	}
	p.multipleAt, p.nextMultiple = at, multiple
}

// Finish runs the path until it is empty and closes the account.
func (p *Path) Finish() {
	p.RunTo(never)
	p.forget()
	p.balance()
}

// Shown returns the number on the screen at a time not later than the last
// RunTo.
func (p *Path) Shown(t int64) int64 {
	for i := len(p.shown) - 1; i >= 0; i-- {
		if p.shown[i].At <= t {
			return p.shown[i].Value
		}
	}
	return p.start
}

// Changes returns every new number on the screen so far, in the order of time.
// The slice is valid until the next Start.
func (p *Path) Changes() []Change { return p.shown }

// Account returns the balance of the trial; it is complete after Finish.
func (p *Path) Account() Account { return p.account }

// DetentAt returns when detent number i was complete and in which direction it
// turned.
func (p *Path) DetentAt(i int) (at int64, dir int8) { return p.detents[i].at, p.detents[i].dir }

// Fate returns what became of detent number i. It is final after Finish and
// without meaning under a firmware hold.
func (p *Path) Fate(i int) Fate { return p.detents[i].fate }

// WorstBacklog returns the most pulses that have waited at once.
func (p *Path) WorstBacklog() int { return p.worstBacklog }

// Empty says whether, after the last RunTo, nothing is on its way to the screen.
func (p *Path) Empty() bool {
	return p.dueAny == never && p.lone.due == never && !p.walkingAny && p.pressed == noLine && p.waiting.len() == 0 &&
		!p.pollDue && p.changes.len() == 0 && p.frameAt == never && p.repeatAt == never && p.holdAt == never &&
		(len(p.shown) == 0 || p.shown[len(p.shown)-1].At < p.ran)
}
