package trial

import (
	"fmt"
	"slices"
	"sync"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/hand"
)

// Grips are knobs that kinds of people have found out about. A study that meets the same
// knob with several tasks or accelerations, or again later, lets them find out once; the
// trials are the same. It is used by any number of goroutines. The zero value is ready;
// a nil one remembers nothing.
type Grips struct {
	people memory[*scenarios.Operator, *hand.People]
	knobs  memory[string, *hand.Knob]
	grips  memory[string, *hand.Grip]
}

// How many knobs and grips are remembered: the newest ones. A knob takes 0.5 MB, a grip
// 0.2 MB (24 detents; smooth ones three times that).
const (
	fewKnobs  = 32
	manyGrips = 256
)

// memory keeps what was found out for the newest keys.
type memory[K comparable, T any] struct {
	mutex sync.Mutex
	known map[K]*finding[T]
	asked int // how often
}

// finding is what is found out once, whoever asks first.
type finding[T any] struct {
	once  sync.Once
	is    T
	err   error
	asked int // when the last time
}

// get returns what belongs to a key. It forgets what was not asked for lately where it
// would remember more than most.
func (m *memory[K, T]) get(key K, most int, find func() (T, error)) (T, error) {
	m.mutex.Lock()
	if m.known == nil {
		m.known = map[K]*finding[T]{}
	}
	f := m.known[key]
	if f == nil {
		f = new(finding[T])
		if len(m.known) >= most {
			m.forget()
		}
		m.known[key] = f
	}
	m.asked++
	f.asked = m.asked
	m.mutex.Unlock()
	f.once.Do(func() { f.is, f.err = find() })
	return f.is, f.err
}

// forget drops the older half.
func (m *memory[K, T]) forget() {
	var asked []int
	for _, f := range m.known {
		asked = append(asked, f.asked)
	}
	slices.Sort(asked)
	for k, f := range m.known {
		if f.asked < asked[len(asked)/2] {
			delete(m.known, k)
		}
	}
}

// peopleOf are the people of an operator.
func (g *Grips) peopleOf(o *scenarios.Operator) (*hand.People, error) {
	if g == nil {
		return hand.NewPeople(*o)
	}
	return g.people.get(o, manyGrips, func() (*hand.People, error) { return hand.NewPeople(*o) })
}

// of is the knob of a setup, whose gain an acceleration makes, in the hands of people.
func (g *Grips) of(s encoder.Setup, a accel.Acceleration, people *hand.People) (*hand.Grip, error) {
	if g == nil {
		return hand.NewGrip(s, people)
	}
	count := int64(0)
	if s.Gain == nil {
		s.Home = encoder.InProgram
	}
	if a.Landing == 0 { // where the numbers begin is all the same
		s.Scale.Low = 0
	}
	if s.Rig.Firmware.Output == encoder.AxisOutput {
		count = s.Scale.Count
	}
	rig := *s.Rig
	rig.Display = encoder.Display{} // what strokes deliver does not depend on it
	knob := fmt.Sprintf("%p %#v %d %d %v %d %d", people, rig, s.Home, s.Ring, s.Pushes, s.Scale.Low, count)
	curve, late := fmt.Sprintf("%#v", a), s.Rig.Display.Latency
	return g.grips.get(fmt.Sprint(knob, curve, late), manyGrips, func() (*hand.Grip, error) {
		if s.Home == encoder.InFirmware {
			knob += curve
		}
		k, err := g.knobs.get(knob, fewKnobs, func() (*hand.Knob, error) { return hand.NewKnob(s, people) })
		if err != nil {
			return nil, err
		}
		return k.Grip(s.Gain, late)
	})
}
