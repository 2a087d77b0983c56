package scenarios

import "math"

// A code that a transponder shows for a moment is a code that it may send.
// While one is dialed digit by digit, some orders lead through the codes that
// ask for help and others do not.

// DigitTurn is one digit turned from one value to another in one go.
type DigitTurn struct {
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
func (t *Task) Crossed(from int64, turns []DigitTurn) int {
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
func (t *Task) SafeTurns(from, to int64) (turns []DigitTurn, crossed int) {
	shorter := make([]DigitTurn, 0, len(t.Digits))
	for _, d := range t.Digits {
		place := t.place(d)
		up := (to/place%t.Base - from/place%t.Base + t.Base) % t.Base
		switch {
		case up == 0:
		case 2*up <= t.Base:
			shorter = append(shorter, DigitTurn{d, up})
		default:
			shorter = append(shorter, DigitTurn{d, up - t.Base})
		}
	}
	if t.Crossed(from, shorter) == 0 { // nearly always
		return shorter, 0
	}
	way := make([]DigitTurn, len(shorter))
	crossed = math.MaxInt
	fewest := int64(0)
	// A bit of longer turns one digit the longer way. Four digits make 16
	// choices, and 24 orders of each.
	for longer := range 1 << len(shorter) {
		clicks := int64(0)
		for i, turn := range shorter {
			switch {
			case longer>>i&1 == 0:
			case turn.Clicks > 0:
				turn.Clicks -= t.Base
			default:
				turn.Clicks += t.Base
			}
			way[i] = turn
			clicks += max(turn.Clicks, -turn.Clicks)
		}
		if crossed == 0 && clicks >= fewest {
			continue
		}
		orders(way, func() bool {
			if c := t.Crossed(from, way); c < crossed || c == crossed && clicks < fewest {
				crossed, fewest = c, clicks
				turns = append(turns[:0], way...)
			}
			return crossed > 0
		})
	}
	return turns, crossed
}

// orders gives way each of its orders in turn, by lexicographic order of its
// places, and calls f until it returns false. It leaves way in its first order
// unless f ended it.
func orders(way []DigitTurn, f func() bool) bool {
	var from func(fixed int) bool
	from = func(fixed int) bool {
		if fixed == len(way) {
			return f()
		}
		for i := fixed; i < len(way); i++ {
			first := way[i]
			copy(way[fixed+1:i+1], way[fixed:i])
			way[fixed] = first
			if !from(fixed + 1) {
				return false
			}
			copy(way[fixed:i], way[fixed+1:i+1])
			way[i] = first
		}
		return true
	}
	return from(0)
}
