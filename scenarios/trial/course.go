package trial

import (
	"cmp"

	"dialwright/encoder"
)

// Course follows a number on the screen on its way to a target.
type Course struct {
	Past   int64 // largest excursion past the tolerance, steps, from the side on which the number came
	PastAt int64 // ns, when the number was first past it; 0 if never

	scale              encoder.Scale
	target, value, off int64 // off: how far above the target, counted on round a ring
	side               int   // of the target on which the number last was
	crossed            bool  // and it got there past the target
	inside             bool
	entered            int64
}

// NewCourse returns the course of a number that has not moved yet.
func NewCourse(s encoder.Scale, start, target int64) Course {
	off := -s.Distance(start, target)
	return Course{scale: s, target: target, value: start, off: off, side: cmp.Compare(off, 0)}
}

// To takes the number at an instant to a value. An excursion counts from wide on, the
// target is reached within the tolerance.
func (c *Course) To(at, value, wide, tolerance int64) {
	c.off += c.scale.Distance(c.value, value)
	c.value = value
	if c.scale.Wrap && 2*max(c.off, -c.off) > c.scale.Count {
		// More than half of the ring past the target is short of it: from here
		// on the person approaches from the other side.
		c.off = -c.scale.Distance(value, c.target)
		c.side, c.crossed = cmp.Compare(c.off, 0), false
	}
	if past := outside(c.off, wide); past != 0 {
		if cmp.Compare(past, 0) != c.side {
			c.side, c.crossed = cmp.Compare(past, 0), true
			if c.PastAt == 0 {
				c.PastAt = at
			}
		}
		if c.crossed {
			c.Past = max(c.Past, past, -past)
		}
	}
	if in := outside(c.off, tolerance) == 0; in && !c.inside {
		c.entered, c.inside = at, true
	} else if !in {
		c.inside = false
	}
}

// Reached returns when the number last came within the tolerance, and whether it is
// there.
func (c *Course) Reached() (at int64, ok bool) { return c.entered, c.inside }

// Off returns how far the number lies above the target, steps; below it is less than 0.
func (c *Course) Off() int64 { return c.off }

// outside returns by how many steps, signed, a number that is off the target lies
// outside the tolerance.
func outside(off, tolerance int64) int64 {
	return off - min(max(off, -tolerance), tolerance)
}
