package recording

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"time"
)

// Capture records what one knob of a device does, and nothing else: events of
// other controls are dropped as they come, and what is typed while the knob is
// being learned is counted by key, to tell it from the knob, and forgotten.
type Capture struct {
	Knob   Knob         // the zero Knob is learned first
	Guided bool         // go through the Steps of a session, and end after them
	Most   int64        // ns of recording after which the capture ends; 0 means no end
	Notice func(Notice) // told after every event, and ten times a second on a running device; may be nil
	Live   bool         // the source is a running device: time passes between events too
}

// Notice is how a capture stands.
type Notice struct {
	Lesson  Lesson   // Learned once the recording runs
	Again   bool     // the last turn or step is asked for again
	Knob    Knob     // as far as it is known
	Step    Step     // what is asked for; the zero Step without a guided session and after its end
	Done    []Turned // the steps done
	Counts  int64    // moved since the recording began, clockwise positive
	Travel  int64    // moved since the recording began, whichever way
	Rate    int64    // counts in the last second
	Length  int64    // ns since the first event that was recorded
	Dropped int      // times that the device lost events
	Events  int      // recorded
	Others  int      // events of other controls since the knob was known; nothing else is kept of them
}

// capturing is a capture under way.
type capturing struct {
	*Capture
	to      *Writer
	learner Learner
	session *Session
	meter   Meter
	dropped int
	events  int
	others  int
	began   bool
	origin  int64   // time of the first event that is recorded
	faults  []error // a fault does not stop a capture, 20 do
}

// Run records from a device, or from anything that a Reader reads, until the
// source or the session ends, or Most has passed, or ctx ends; then it returns the
// cause of ctx. It finishes the writer in every case, with [Writer.Partial] where
// something was recorded and then broke off. What it knows of the device comes
// from the reader. Times in the recording start at its first event. When ctx ends,
// a read of the source may still be waiting; it ends when the caller closes the
// source.
func (c *Capture) Run(ctx context.Context, from *Reader, to *Writer) error {
	r := &capturing{Capture: c, to: to}
	if c.Knob != (Knob{}) {
		r.learn(c.Knob)
	}
	err := r.run(ctx, from)
	if why := r.brokeOff(ctx, err); why != "" && r.began {
		to.Partial(why)
	} else {
		to.End()
	}
	flush := to.Flush()
	if errors.Is(err, flush) {
		flush = nil // said already
	}
	return errors.Join(append(r.faults, err, flush)...)
}

// brokeOff says why the recording is not all that was asked for, if it is not.
func (r *capturing) brokeOff(ctx context.Context, err error) string {
	switch {
	case err != nil && ctx.Err() != nil:
		return "interrupted"
	case err != nil:
		return err.Error()
	case len(r.faults) == mostFaults:
		return fmt.Sprintf("given up after %d faults in the source", mostFaults)
	case r.session != nil && !r.session.over():
		return fmt.Sprintf("ended after %d of %d steps", len(r.session.Done), len(r.session.steps))
	}
	return ""
}

// read is one outcome of Reader.Next, and what the Reader then knew of the device.
type read struct {
	Event
	Device
	err error
}

// mostFaults is how many faults of a source a capture takes.
const mostFaults = 20

func (r *capturing) run(ctx context.Context, from *Reader) error {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	events := make(chan read, 256)
	go func() {
		defer close(events)
		for {
			e, err := from.Next()
			select {
			case events <- read{e, from.Device, err}:
			case <-ctx.Done():
				return
			}
			if final(err) {
				return
			}
		}
	}()

	var tick <-chan time.Time
	if r.Live {
		t := time.NewTicker(100 * time.Millisecond)
		defer t.Stop()
		tick = t.C
	}
	// The clock of the device is not asked: what matters is the time since its
	// newest event, which any clock tells.
	var newest, now int64
	arrived := time.Now()
	r.tell(0)
	for {
		select {
		case <-ctx.Done():
			return context.Cause(ctx)
		case <-tick:
			now = newest + time.Since(arrived).Nanoseconds()
			r.pass(now)
			r.tell(now)
			if err := r.show(); err != nil {
				return err
			}
		case in := <-events:
			switch {
			case in.err != nil && ctx.Err() != nil: // whoever wrote was interrupted too
				return context.Cause(ctx)
			case in.err == io.EOF:
				r.pass(math.MaxInt64)
				r.tell(newest)
				return nil
			case final(in.err):
				return in.err
			case in.err != nil:
				if r.faults = append(r.faults, in.err); len(r.faults) == mostFaults {
					return nil
				}
				continue
			}
			now, newest, arrived = in.Time, in.Time, time.Now()
			if !r.began && in.Device != (Device{}) {
				r.to.device = in.Device
			}
			if err := r.take(in.Event); err != nil {
				return err
			}
			r.tell(in.Time)
		}
		if r.over(now) {
			return nil
		}
	}
}

// over tells whether the session, if there is one, is done, or the time is up.
func (r *capturing) over(now int64) bool {
	return r.began && r.Most > 0 && now-r.origin > r.Most || r.session != nil && r.session.over()
}

// show passes on what was recorded, so that who reads along sees it soon.
func (r *capturing) show() error {
	if !r.began {
		return nil
	}
	return r.to.Flush()
}

// learn ends the learning.
func (r *capturing) learn(k Knob) {
	r.learner = Learner{Knob: k, Lesson: Learned}
	if r.Guided {
		r.session = NewSession(k)
	}
}

// pass tells the learner or the session the time.
func (r *capturing) pass(now int64) {
	if r.learner.Lesson != Learned {
		if r.learner.Tick(now); r.learner.Lesson == Learned {
			r.learn(r.learner.Knob)
		}
	} else if r.session != nil {
		r.session.Tick(now)
	}
}

// take learns from an event, or records it if it is the knob's.
func (r *capturing) take(e Event) error {
	if e.Kind == Dropped {
		r.dropped++
	}
	r.pass(e.Time)
	if r.learner.Lesson != Learned {
		r.learner.Take(e)
		return nil
	}
	knob := r.learner.Knob
	if r.over(e.Time) {
		return nil
	}
	if !knob.Uses(e.Control) && (e.Kind != Dropped || !r.began) {
		if e.Kind != Dropped {
			r.others++
		}
		return nil
	}
	if !r.began {
		r.began, r.origin = true, e.Time
	}
	if r.session != nil {
		if mark, begins := r.session.Take(e); begins {
			mark.Time -= r.origin
			if err := r.to.Write(mark); err != nil {
				return err
			}
		}
	}
	if n := knob.Move(e); n != 0 {
		r.meter.Move(e.Time, n)
	}
	r.events++
	e.Time -= r.origin
	return r.to.Write(e)
}

// tell gives notice of how the capture stands.
func (r *capturing) tell(now int64) {
	if r.Notice == nil {
		return
	}
	n := Notice{Lesson: r.learner.Lesson, Again: r.learner.Again, Knob: r.learner.Knob,
		Counts: r.meter.Counts, Travel: r.meter.Travel, Rate: r.meter.Rate(now), Dropped: r.dropped, Events: r.events, Others: r.others}
	if r.began {
		n.Length = now - r.origin
	}
	if s := r.session; s != nil {
		n.Step, _ = s.Next()
		n.Done, n.Again = s.Done, s.Again
	}
	r.Notice(n)
}
