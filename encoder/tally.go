package encoder

// share is a number of units (relative counts, axis positions) that stand on
// account of a detent.
type share struct {
	owner int
	dir   int8
	units int64
}

// tally adds up units until they are carried on. Opposite ones cancel, each
// against the newest that still stands, so all that stand have one direction.
type tally struct {
	standing []share
	// gone lists what the last call of add cancelled.
	gone []share
}

func (t *tally) reset() { t.standing = t.standing[:0] }

func (t *tally) empty() bool { return len(t.standing) == 0 }

// add adds units and returns those that it cancelled, of both directions. The
// result is valid until the next call.
func (t *tally) add(owner int, dir int8, units int64) []share {
	t.gone = t.gone[:0]
	for units > 0 && len(t.standing) > 0 {
		last := &t.standing[len(t.standing)-1]
		if last.dir == dir {
			break
		}
		n := min(units, last.units)
		t.gone = append(t.gone, share{last.owner, last.dir, n}, share{owner, dir, n})
		units -= n
		if last.units -= n; last.units == 0 {
			t.standing = t.standing[:len(t.standing)-1]
		}
	}
	if units > 0 {
		t.standing = append(t.standing, share{owner, dir, units})
	}
	return t.gone
}
