package encoder

// Step is what reaches the number of a program: a step, of which an acceleration in the
// program may still make more, or a move of a known size.
type Step struct {
	At    int64 // ns, when it is applied
	Known int64 // ns, from when on the program knows of it
	Count int32 // task steps of a coarse pair's pulse or of an axis; 0 is a step for the acceleration
	Dir   int8
}

// Number is the end of a path alone: the program's acceleration, its number and the
// screen. It makes of the steps of a path what the path itself would show, whatever
// acceleration in the program the path had, as long as nothing is pushed.
type Number struct{ number }

// NewNumber makes the end of a setup's path. An acceleration in the firmware is not its
// part.
func NewNumber(s Setup) *Number { return &Number{newNumber(s)} }

// Start shows a number; nothing has been turned.
func (n *Number) Start(value int64) { n.reset(value) }

// Take applies a step. Steps come in the order in which the path applied them.
func (n *Number) Take(s Step) {
	count := int64(s.Count)
	if count == 0 {
		count = n.steps(s.Known, s.Dir)
	}
	n.move(s.At, n.scale.Add(n.value, int64(s.Dir)*count))
}

// Changes returns every new number on the screen so far, in the order of time. The
// slice is valid until the next Start.
func (n *Number) Changes() []Change { return n.shown }

// Shown returns the number on the screen at a time.
func (n *Number) Shown(t int64) int64 { return n.at(t) }

// at returns the number on the screen at a time.
func (n *number) at(t int64) int64 {
	for i := len(n.shown) - 1; i >= 0; i-- {
		if n.shown[i].At <= t {
			return n.shown[i].Value
		}
	}
	return n.start
}

// steps is what the acceleration in the program makes of a step of which it knows from a
// time on.
func (n *number) steps(known int64, dir int8) int64 {
	if n.gain == nil {
		return 1
	}
	return n.gain.Detent(&n.gainState, n.gain.Ticks(known), int(dir), n.scale.Low+n.value)
}

// move puts a number on the screen, after the display's latency.
func (n *number) move(at, value int64) {
	if value != n.value {
		n.value = value
		n.shown = append(n.shown, Change{At: at + n.displayLatency, Value: value})
	}
}
