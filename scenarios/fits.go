package scenarios

import "fmt"

// Fits refuses a profile that cannot reach a task's targets: its slow detents
// pass ⌊base/2⌋ steps beside some number at best, and the tolerance is smaller.
// (A flat curve's gain counts into the base: it is what a slow detent makes.)
// Landing gets there where every target is near enough to a multiple of the slow
// detent's steps. Press-for-coarse gets there with base 1: without the push a
// detent makes the base, and with it a multiple, so a larger base stays too large
// in both modes. An error is a Fault.
func Fits(p *Profile, t *Task) error {
	base := int64(max(1, p.Acceleration.Base))
	if c := p.Acceleration.Curve; c != nil && c.Of(0) >= 1 {
		base = int64(float64(base) * c.Of(0))
	}
	off, tolerance := base/2, t.ToleranceSteps()
	if tolerance >= off {
		return nil
	}
	if landing := int64(p.Acceleration.Landing); landing > 0 && base > landing && t.onMultiples(base, tolerance) {
		return nil
	}
	return Fault{
		"acceleration.base",
		fmt.Sprintf("a slow detent of %s makes %d steps and may end %d steps beside a target of %s, whose tolerance is %d", Shown(p.Name), base, off, Shown(t.Name), tolerance),
		fmt.Sprintf("a base of at most %d (with press-for-coarse for the long way), or landing on the targets, would do", 2*tolerance+1),
	}
}

// onMultiples reports whether every target lies within the tolerance of a
// multiple of so many steps.
func (t *Task) onMultiples(steps, tolerance int64) bool {
	if len(t.Digits) > 0 {
		return false
	}
	low := t.Scale().Low
	near := func(a Amount) bool {
		i, ok := t.Index(a)
		past := ((low+i)%steps + steps) % steps
		return ok && min(past, steps-past) <= tolerance
	}
	d := t.Target
	switch {
	case d.Pairs != nil:
		for _, p := range d.Pairs {
			if !near(p.To) {
				return false
			}
		}
		return true
	case d.List != nil:
		for _, a := range d.List {
			if !near(a) {
				return false
			}
		}
		return true
	case d.Near.SD > 0, d.Move.To > 0, d.MultiplesOf <= 0, d.Share < 1:
		return false
	}
	for m := -floorDiv(-t.At(0), d.MultiplesOf); m <= floorDiv(t.At(t.Count()-1), d.MultiplesOf); m++ {
		if !near(m * d.MultiplesOf) {
			return false
		}
	}
	return true
}
