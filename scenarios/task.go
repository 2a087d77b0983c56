package scenarios

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"dialwright/encoder"
)

// Task is a number to dial: what numbers there are, where it starts, where it
// should end and how near is near enough.
//
// Inside the program a number is its index: how many steps it lies above the
// first number of the range.
type Task struct {
	Name      string
	Title     string        // one line for lists and tables
	Source    string        // where range and step come from, and whose the distributions are
	Unit      string        // "deg", "ft", "kHz", …
	From, To  Amount        // the range, both ends included
	Step      Amount        // what one detent at gain 1 adds; 0 is one unit
	Wrap      bool          // beyond To comes From
	Named     []Amount      // the numbers, rising, where they are not From, From+Step, …: channel names in kHz
	Called    string        // what one of the Named numbers is called; "" is a setting
	Tolerance Amount        // ± around the target; 0 where the numbers are named
	Limit     time.Duration // 0 means DefaultLimit
	Start     Distribution
	Target    Distribution
	Effect    Effect // what being a step off does, where the unit does not say it

	// PerOuter is how many numbers one detent of the outer ring passes where a
	// knob has two rings; the inner ring then dials what is left, and wraps. It
	// divides Count. 0: the task is dialed with one ring.
	PerOuter int64
	// Digits is, in the order in which they are dialed, which digits of the
	// number are dialed one by one, 0 being the rightmost; a key press moves on
	// to the next. Each has Base values and wraps. Empty: the number is dialed
	// as a whole.
	Digits []int
	Base   int64
	// Alarms are runs of numbers that must not be passed through (transponder).
	Alarms []Alarm
}

// Alarm is a run of numbers (indexes, both ends included) not to pass through.
type Alarm struct{ From, To int64 }

// DefaultLimit is the time after which a trial is given up as a timeout.
const DefaultLimit = 300 * time.Second

// Heading names the task, with its title if it has one.
func (t *Task) Heading() string {
	if t.Title == "" {
		return t.Name
	}
	return t.Name + ": " + t.Title
}

// Count returns how many numbers there are.
func (t *Task) Count() int64 {
	switch {
	case len(t.Digits) > 0:
		n := int64(1)
		for range t.Digits {
			n *= t.Base
		}
		return n
	case t.Named != nil:
		return int64(len(t.Named))
	}
	return int64((t.To-t.From)/t.step()) + 1
}

func (t *Task) step() Amount {
	if t.Step == 0 {
		return Unity
	}
	return t.Step
}

// Index returns the index of a number, or false where the task has no such
// number.
func (t *Task) Index(a Amount) (int64, bool) {
	if t.Named != nil {
		i, ok := slices.BinarySearch(t.Named, a)
		return int64(i), ok
	}
	if len(t.Digits) > 0 { // the decimal digits of a are those of the number
		n, place := int64(0), int64(1)
		for d := int64(a / Unity); d > 0; d /= 10 {
			if d%10 >= t.Base {
				return 0, false
			}
			n += d % 10 * place
			place *= t.Base
		}
		return n, a >= 0 && a%Unity == 0 && n < t.Count()
	}
	i := int64((a - t.From) / t.step())
	return i, a >= t.From && a <= t.To && (a-t.From)%t.step() == 0
}

// At returns the number with an index.
func (t *Task) At(i int64) Amount {
	if t.Named != nil {
		return t.Named[i]
	}
	if len(t.Digits) > 0 {
		n, place := int64(0), int64(1)
		for ; i > 0; i /= t.Base {
			n += i % t.Base * place
			place *= 10
		}
		return Amount(n) * Unity
	}
	return t.From + Amount(i)*t.step()
}

// beside returns the number that lies a distance in units from number i, the
// nearest there is, or false where that is beyond an end of the range.
func (t *Task) beside(i int64, units float64) (int64, bool) {
	if t.Named != nil {
		a := t.At(i) + Amount(math.Round(units*float64(Unity)))
		n := int64(len(t.Named))
		if a < t.Named[0] || a > t.Named[n-1] {
			return 0, false
		}
		j, _ := slices.BinarySearch(t.Named, a)
		if j > 0 && a-t.Named[j-1] < t.Named[j]-a {
			j--
		}
		return int64(j), true
	}
	steps := int64(math.Round(units / t.step().Float()))
	if to := i + steps; !t.Wrap && (to < 0 || to >= t.Count()) {
		return 0, false
	}
	return t.Scale().Add(i, steps), true
}

// Format writes the number with an index and its unit: "118.025 MHz" is left to
// tables, this is "118025 kHz"; a code keeps its leading zeros.
func (t *Task) Format(i int64) string {
	if len(t.Digits) > 0 {
		return fmt.Sprintf("%0*d", len(t.Digits), int64(t.At(i)/Unity))
	}
	return withUnit(t.At(i), t.Unit)
}

// Travel writes a distance of so many steps in the task's own unit: "75 kHz".
// Named numbers are counted, because they do not lie equally far apart: "3
// channel names".
func (t *Task) Travel(steps int64) string {
	switch {
	case t.Named != nil:
		s := fmt.Sprintf("%d %s", steps, cmp.Or(t.Called, "setting"))
		if steps != 1 && steps != -1 {
			s += "s"
		}
		return s
	case len(t.Digits) > 0:
		return fmt.Sprint(steps)
	}
	a, unit := Amount(steps)*t.step(), t.Unit
	for _, larger := range []struct{ of, is string }{{"Hz", "kHz"}, {"kHz", "MHz"}} {
		if unit == larger.of && max(a, -a) >= 1000*Unity && a%(Unity/1000) == 0 {
			a, unit = a/1000, larger.is
		}
	}
	return withUnit(a, unit)
}

func withUnit(a Amount, unit string) string {
	switch unit {
	case "":
		return a.String()
	case "deg":
		return a.String() + "°"
	}
	return a.String() + " " + unit
}

// Effect says what a wrong setting does, in another unit than the task's: an
// altimeter that is set 0.01 inHg too high shows 10 ft too much.
type Effect struct {
	PerStep Amount
	Unit    string // "" is no effect to speak of
	Nearest Amount // > 0: the effect of a step is not a round number, it is told to the nearest so many
}

// Of writes the effect of so many steps, "30 ft" or "about 60 ft", and ""
// where there is none.
func (e Effect) Of(steps int64) string {
	if e.Unit == "" {
		return ""
	}
	a := Amount(steps) * e.PerStep
	if e.Nearest == 0 {
		return withUnit(a, e.Unit)
	}
	half := e.Nearest / 2
	if a < 0 {
		half = -half
	}
	return "about " + withUnit((a+half)/e.Nearest*e.Nearest, e.Unit)
}

// Scale returns the task's numbers as the path knows them.
func (t *Task) Scale() encoder.Scale {
	s := encoder.Scale{Count: t.Count(), Wrap: t.Wrap}
	if t.Named == nil && len(t.Digits) == 0 && t.From%t.step() == 0 {
		s.Low = int64(t.From / t.step())
	}
	return s
}

// Moves says what is wrong with a task whose number is right before it is dialed,
// whatever is drawn: a tolerance as wide as the range, or starts that lie within the
// tolerance of every target. The error is a Fault.
func (t *Task) Moves() error {
	within, farthest := t.ToleranceSteps(), t.Count()-1
	if t.Wrap {
		farthest = t.Count() / 2
	}
	if farthest <= within {
		return Fault{Field: "tolerance", Found: fmt.Sprintf("every number lies within %s of every other one", withUnit(t.Tolerance, t.Unit)), Would: "a smaller tolerance or a wider range would do"}
	}
	far := func(start, target Amount) bool {
		i, iok := t.Index(start)
		j, jok := t.Index(target)
		d := t.Scale().Distance(i, j)
		return iok && jok && max(d, -d) > within
	}
	switch {
	case t.Start.Pairs != nil && t.Target.Pairs != nil:
		if !slices.ContainsFunc(t.Target.Pairs, func(p Pair) bool { return far(p.From, p.To) }) {
			return Fault{Field: "target.pairs", Found: "no pair has a target away from its start", Would: "one pair or more would do"}
		}
	case t.Start.List != nil && t.Target.List != nil:
		if !t.apart(far) {
			return Fault{Field: "target.list", Found: "no target lies away from a start", Would: "one that does would do"}
		}
	}
	return nil
}

// apart looks for a start and a target that are far from each other. Of long lists,
// which hold different numbers as a rule, it looks at the first alone.
func (t *Task) apart(far func(start, target Amount) bool) bool {
	const first = 1000
	for _, a := range t.Start.List[:min(first, len(t.Start.List))] {
		for _, b := range t.Target.List[:min(first, len(t.Target.List))] {
			if far(a, b) {
				return true
			}
		}
	}
	return len(t.Start.List) > first || len(t.Target.List) > first
}

// ToleranceSteps returns how many steps the number may be off.
func (t *Task) ToleranceSteps() int64 {
	if t.Named != nil || len(t.Digits) > 0 {
		return 0
	}
	return int64(t.Tolerance / t.step())
}
