package recording

import "fmt"

// Step is one thing that a guided session asks for.
type Step struct {
	Name  string // the label of its mark in the recording: "slow turn", "fast turn clockwise 2", "dial and stop 7"
	Ask   string // one sentence for the person at the knob
	Way   int64  // 1 clockwise, −1 counter-clockwise, 0 either
	Least int64  // counts below which it was a touch only
	Rest  int64  // ns without a movement that end it
}

// Steps is the guided session: one slow turn of the whole knob, whose counts are
// the truth because slow detents are not lost; three fast turns each way, one
// whole turn each, which lose what the path loses; and ten times dialing some way
// and stopping, as one does it at work.
func Steps() []Step {
	steps := []Step{{
		Name: "slow turn",
		Ask:  "Turn the knob one whole turn clockwise, slowly, click by click, then let go.",
		Way:  1, Least: 4, Rest: 2500e6,
	}}
	for i := range 6 {
		name, way := "clockwise", int64(1)
		if i%2 == 1 {
			name, way = "counter-clockwise", -1
		}
		steps = append(steps, Step{
			Name: fmt.Sprintf("fast turn %s %d", name, i/2+1),
			Ask:  fmt.Sprintf("Turn it one whole turn %s as fast as you can, then let go.", name),
			Way:  way, Least: 4, Rest: 1200e6,
		})
	}
	for i := range 10 {
		steps = append(steps, Step{
			Name:  fmt.Sprintf("dial and stop %d", i+1),
			Ask:   "Dial some way as you would at work, either way, then stop and let go.",
			Least: 1, Rest: 1200e6,
		})
	}
	return steps
}

// Turned is what came of a step.
type Turned struct {
	Step
	Start, End int64 // first and last movement, ns
	Counts     int64 // moved, clockwise positive
	Travel     int64 // moved, whichever way
}

// Session follows a guided session through the events of a knob. It is driven by
// the times of events, and by Tick where nothing may come for long.
type Session struct {
	Knob  Knob
	Done  []Turned // the steps done so far
	Now   Turned   // the step that is going on; Travel 0 before its first movement
	Again bool     // the last try went the wrong way, or was a touch only, and is asked for again

	steps []Step
}

// NewSession returns the session of [Steps] for a knob.
func NewSession(k Knob) *Session { return &Session{Knob: k, steps: Steps()} }

// Next returns the step that is asked for, or false when all are done.
func (s *Session) Next() (Step, bool) {
	if s.over() {
		return Step{}, false
	}
	return s.steps[len(s.Done)], true
}

// over tells whether all steps are done.
func (s *Session) over() bool { return len(s.Done) == len(s.steps) }

// Take takes an event. When it is the first movement of a step, Take returns the
// mark that goes before it into the recording. A step that is done again has its
// mark twice; the last one counts.
func (s *Session) Take(e Event) (mark Event, begins bool) {
	s.Tick(e.Time)
	n := s.Knob.Move(e)
	step, more := s.Next()
	if n == 0 || !more {
		return Event{}, false
	}
	if begins = s.Now.Travel == 0; begins {
		s.Now = Turned{Step: step, Start: e.Time}
		mark = Event{Time: e.Time, Control: step.Name, Kind: Mark}
	}
	s.Now.End = e.Time
	s.Now.Counts += n
	s.Now.Travel += max(n, -n)
	return mark, begins
}

// Tick tells the time, ns of the recording's clock, which ends a step.
func (s *Session) Tick(now int64) {
	if s.Now.Travel > 0 && now-s.Now.End >= s.Now.Rest {
		s.Finish()
	}
}

// Finish ends the step that is going on now.
func (s *Session) Finish() {
	t := s.Now
	s.Now = Turned{}
	if t.Travel == 0 {
		return
	}
	if s.Again = t.Travel < t.Least || t.Counts*t.Way < 0; !s.Again {
		s.Done = append(s.Done, t)
	}
}

// Meter tells the speed of a knob while it is turned: the movement of the last
// second, to a tenth. It keeps ten numbers.
type Meter struct {
	Counts int64 // moved in all, clockwise positive
	Travel int64 // moved in all, whichever way
	tenths [10]int64
	latest int64 // the tenth of a second that the newest of them is
}

// Move adds a movement of n counts at a time.
func (m *Meter) Move(now, n int64) {
	m.Rate(now)
	m.Counts += n
	m.Travel += max(n, -n)
	m.tenths[m.latest%10] += max(n, -n)
}

// Rate returns the counts of the last second. The time must not go back.
func (m *Meter) Rate(now int64) int64 {
	t := max(now/1e8, m.latest)
	for range min(t-m.latest, 10) {
		m.latest++
		m.tenths[m.latest%10] = 0
	}
	m.latest = t
	var sum int64
	for _, n := range m.tenths {
		sum += n
	}
	return sum
}
