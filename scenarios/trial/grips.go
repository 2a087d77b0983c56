package trial

import (
	"fmt"
	"sync"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/hand"
)

// Grips are knobs that kinds of people have found out about. A study that meets the same
// knob with several tasks, or again later, lets them find out once; the trials are the
// same. It is used by any number of goroutines. The zero value is ready; a nil one
// remembers nothing.
type Grips struct {
	mutex  sync.Mutex
	people map[*scenarios.Operator]*known[*hand.People]
	grips  map[string]*known[*hand.Grip]
}

// known is what is found out once, whoever asks first.
type known[T any] struct {
	once sync.Once
	is   T
	err  error
}

func (k *known[T]) get(find func() (T, error)) (T, error) {
	k.once.Do(func() { k.is, k.err = find() })
	return k.is, k.err
}

// entry is that of a map that several ask at the same time.
func entry[K comparable, T any](mutex *sync.Mutex, of *map[K]*known[T], key K) *known[T] {
	mutex.Lock()
	defer mutex.Unlock()
	if *of == nil {
		*of = map[K]*known[T]{}
	}
	if (*of)[key] == nil {
		(*of)[key] = new(known[T])
	}
	return (*of)[key]
}

// peopleOf are the people of an operator.
func (g *Grips) peopleOf(o *scenarios.Operator) (*hand.People, error) {
	if g == nil {
		return hand.NewPeople(*o)
	}
	return entry(&g.mutex, &g.people, o).get(func() (*hand.People, error) { return hand.NewPeople(*o) })
}

// of is the knob of a setup, whose gain an acceleration makes, in the hands of people.
func (g *Grips) of(s encoder.Setup, a accel.Acceleration, people *hand.People) (*hand.Grip, error) {
	if g == nil {
		return hand.NewGrip(s, people)
	}
	low, count := int64(0), int64(0)
	if s.Gain == nil {
		s.Home = encoder.InProgram
	}
	if a.Landing > 0 {
		low = s.Scale.Low
	}
	if s.Rig.Firmware.Output == encoder.AxisOutput {
		count = s.Scale.Count
	}
	key := fmt.Sprintf("%p %#v %#v %d %d %v %d %d", people, *s.Rig, a, s.Home, s.Ring, s.Pushes, low, count)
	return entry(&g.mutex, &g.grips, key).get(func() (*hand.Grip, error) { return hand.NewGrip(s, people) })
}
