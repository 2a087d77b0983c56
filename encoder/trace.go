package encoder

// Event is something that happened on the path, for a Trace.
type Event struct {
	At     int64 // ns
	Kind   Kind
	Dir    int8  // +1 clockwise, −1 counter-clockwise, 0 none
	Detent int   // number of the detent it belongs to, −1 for none
	Line   int   // of Pressed, Released, Delivery: 0 up, 1 down, 2 and 3 of the coarse pair
	Count  int64 // of Stepped: task steps
	Value  int64 // of Stepped: the number after it
	Cause  Cause // of Stepped
	Fate   Fate  // of Lost
}

// Kind says what an Event is.
type Kind uint8

// The kinds, in the order of the path.
const (
	Turned            Kind = iota // a detent's last edge
	IllegalTransition             // both contacts changed between two readings
	Counted                       // the decoder emitted
	Pressed                       // an output line
	Waits                         // a pulse joined the queue
	Released                      // an output line
	Polled                        // a poll that had something to look at
	Delivery                      // a press reached the program
	Framed                        // a frame that had something to look at
	Stepped                       // the program applied a step
	Lost                          // something of a detent went no further
)
