package scenarios

import (
	"cmp"
	"math"
)

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

// Passing counts the alarms that come to the screen while one digit is turned, or a
// number dialed as a whole: those that follow each other at once are one. The numbers
// from which and to which the task goes are not passed: a code that is asked for may be
// shown.
type Passing struct {
	Alarms   int
	task     *Task
	from, to int64
	alarmed  bool
}

// Passing returns the count of a turn on the way from one number to another.
func (t *Task) Passing(from, to int64) Passing { return Passing{task: t, from: from, to: to} }

// Show takes the next number on the screen.
func (p *Passing) Show(i int64) {
	now := p.task.Alarmed(i)
	if now && !p.alarmed && i != p.from && i != p.to {
		p.Alarms++
	}
	p.alarmed = now
}

// Crossed returns how many alarms are passed when the number from is changed by turns,
// one after the other.
func (t *Task) Crossed(from int64, turns []DigitTurn) (alarms int) {
	to := from
	for _, turn := range turns {
		to = t.turned(to, turn.Digit, turn.Clicks)
	}
	i := from
	for _, turn := range turns {
		way, click := t.Passing(from, to), int64(cmp.Compare(turn.Clicks, 0))
		place := t.place(turn.Digit)
		digit := i / place % t.Base
		others := i - digit*place
		for range max(turn.Clicks, -turn.Clicks) {
			switch digit += click; digit {
			case t.Base:
				digit = 0
			case -1:
				digit = t.Base - 1
			}
			i = others + digit*place
			way.Show(i)
		}
		alarms += way.Alarms
	}
	return alarms
}

// turned returns a number whose digit was turned by clicks.
func (t *Task) turned(i int64, digit int, clicks int64) int64 {
	place := t.place(digit)
	was := i / place % t.Base
	now := ((was+clicks)%t.Base + t.Base) % t.Base
	return i + (now-was)*place
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
