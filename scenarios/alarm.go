package scenarios

// A code that a transponder shows for a moment is a code that it may send.
// While one is dialed digit by digit, some orders lead through the codes that
// ask for help and others do not.

// Turn is one digit turned from one value to another in one go.
type Turn struct {
	Digit  int   // as in Task.Digits: 0 is the rightmost
	Clicks int64 // upwards when positive; 7 is followed by 0 on a dial of Base 8
}

// Alarmed says whether a number (an index) is one not to pass through.
func (t *Task) Alarmed(i int64) bool {
	for _, a := range t.Alarms {
		if i >= a.From && i <= a.To {
			return true
		}
	}
	return false
}

// Crossed returns how many alarms are shown on the way when the number from
// is changed by turns, one after the other. Where the way begins and where it
// ends is not on the way: a code that is asked for is not passed through.
func (t *Task) Crossed(from int64, turns []Turn) int {
	n, i, alarmed := 0, from, false
	for _, turn := range turns {
		place := t.place(turn.Digit)
		digit := i / place % t.Base
		for left := turn.Clicks; left != 0; {
			if alarmed {
				n++
			}
			next := digit + 1
			if left > 0 {
				left--
			} else {
				next = digit + t.Base - 1
				left++
			}
			if next >= t.Base {
				next -= t.Base
			}
			i += (next - digit) * place
			digit = next
			alarmed = t.Alarmed(i)
		}
	}
	return n
}

// SafeTurns returns how to get from one number to another by turning every
// digit at most once: of the ways that pass the fewest alarms one with the
// fewest clicks, and of these the one nearest to the order of Task.Digits. It
// returns the alarms that are passed all the same: none on the task
// transponder, unless one of the two codes is an alarm itself.
func (t *Task) SafeTurns(from, to int64) (turns []Turn, crossed int) {
	for _, d := range t.Digits {
		place := t.place(d)
		up := (to/place%t.Base - from/place%t.Base + t.Base) % t.Base
		switch {
		case up == 0:
		case 2*up <= t.Base:
			turns = append(turns, Turn{d, up})
		default:
			turns = append(turns, Turn{d, up - t.Base})
		}
	}
	crossed = t.Crossed(from, turns)
	if crossed == 0 { // nearly always
		return turns, 0
	}
	best := turns
	clicks := int64(1) << 62
	// A bit of longer turns one digit the longer way. Four digits make 16
	// choices of 24 orders at most.
	for longer := range 1 << len(turns) {
		way := make([]Turn, len(turns))
		n := int64(0)
		for i, turn := range turns {
			if longer>>i&1 == 1 && turn.Clicks > 0 {
				turn.Clicks -= t.Base
			} else if longer>>i&1 == 1 {
				turn.Clicks += t.Base
			}
			way[i] = turn
			n += max(turn.Clicks, -turn.Clicks)
		}
		orders(way, 0, func(way []Turn) {
			c := t.Crossed(from, way)
			if c < crossed || c == crossed && n < clicks {
				crossed, clicks = c, n
				best = append([]Turn(nil), way...)
			}
		})
	}
	return best, crossed
}

// orders calls f with every order of way[fixed:], in lexicographic order.
func orders(way []Turn, fixed int, f func([]Turn)) {
	if fixed == len(way) {
		f(way)
		return
	}
	for i := fixed; i < len(way); i++ {
		first := way[i]
		copy(way[fixed+1:i+1], way[fixed:i])
		way[fixed] = first
		orders(way, fixed+1, f)
		copy(way[fixed:i], way[fixed+1:i+1])
		way[i] = first
	}
}
