package scenarios

import (
	"testing"

	"pgregory.net/rapid"

	"dialwright/encoder/draw"
)

// C4, FAA AIM 4-1-20: 7500, 7600 to 7677, 7700 to 7777 of 4096 octal codes.
func TestAlarmCodes(t *testing.T) {
	task := Transponder()
	if task.Count() != 4096 || task.Format(0) != "0000" || task.Format(4095) != "7777" {
		t.Errorf("%d codes from %s to %s", task.Count(), task.Format(0), task.Format(4095))
	}
	alarms := 0
	for i := range task.Count() {
		if task.Alarmed(i) {
			alarms++
		}
	}
	if alarms != 1+64+64 {
		t.Errorf("%d alarm codes, want 129", alarms)
	}
	for s, want := range map[Amount]bool{7500: true, 7501: false, 7477: false, 7600: true, 7677: true, 7700: true, 7777: true, 7577: false, 1200: false} {
		i, ok := task.Index(s * Unity)
		if got := task.Alarmed(i); !ok || got != want {
			t.Errorf("%d asks for help: %v, want %v", s, got, want)
		}
	}
	for n := range 20_000 {
		from, to := task.Draw(draw.NewTrial(8, task.Name, n))
		if task.Alarmed(from) || task.Alarmed(to) {
			t.Fatalf("trial %d goes from %s to %s", n, task.Format(from), task.Format(to))
		}
	}
}

func TestCrossedCountsTheCodesOnTheWay(t *testing.T) {
	task := Transponder()
	for _, test := range []struct {
		from  Amount
		turns []DigitTurn
		want  int
	}{
		{7477, nil, 0},
		{7477, []DigitTurn{{2, 2}}, 0},          // 7577, 7677 at the end
		{7477, []DigitTurn{{2, 3}}, 1},          // 7577, 7677, 7777 at the end
		{7477, []DigitTurn{{2, 4}}, 1},          // 7677 and 7777 in one go, then 7077
		{7077, []DigitTurn{{2, -3}}, 1},         // 7777 and 7677, then 7577
		{7501, []DigitTurn{{0, -2}}, 1},         // 7500, then 7507
		{7501, []DigitTurn{{0, -1}}, 0},         // to 7500, which is the end
		{7501, []DigitTurn{{0, -1}, {1, 1}}, 1}, // 7500 on the way to 7510
		{7500, []DigitTurn{{0, 1}}, 0},          // from 7500
		{6600, []DigitTurn{{3, 1}, {3, 1}}, 1},  // 7600, then 0600
		{6600, []DigitTurn{{3, 2}}, 1},
		{6612, []DigitTurn{{3, 1}, {1, 2}}, 2}, // 7612, 7622 with another digit, then 7632
	} {
		from, _ := task.Index(test.from * Unity)
		if got := task.Crossed(from, test.turns); got != test.want {
			t.Errorf("from %04d by %v: %d crossed, want %d", test.from, test.turns, got, test.want)
		}
	}
}

// C4: for every pair of codes that are no alarms themselves, all 3967² of them,
// the suggested turns lead from one to the other and pass none.
func TestSafeTurnsCrossNoAlarmForEveryPairOfCodes(t *testing.T) {
	task := Transponder()
	alarmed := make([]bool, task.Count())
	for i := range alarmed {
		alarmed[i] = task.Alarmed(int64(i))
	}
	place := [...]int64{1, 8, 64, 512}
	pairs, inOrder := 0, 0
	stride := int64(1)
	if testing.Short() {
		stride = 37 // no multiple of a digit's place
	}
	for from := int64(0); from < task.Count(); from += stride {
		for to := range task.Count() {
			if alarmed[from] || alarmed[to] {
				continue
			}
			turns, crossed := task.SafeTurns(from, to)
			// Walk the way with arithmetic of our own.
			at, last, natural := from, 4, true
			for _, turn := range turns {
				p := place[turn.Digit]
				digit := at >> (3 * turn.Digit) & 7
				for range max(turn.Clicks, -turn.Clicks) {
					at -= digit * p
					if turn.Clicks > 0 {
						digit = (digit + 1) & 7
					} else {
						digit = (digit - 1) & 7
					}
					at += digit * p
					if alarmed[at] {
						t.Fatalf("%04o to %04o by %v passes %04o", from, to, turns, at)
					}
				}
				natural = natural && turn.Digit < last
				last = turn.Digit
			}
			if at != to || crossed != 0 {
				t.Fatalf("%04o to %04o by %v ends at %04o, %d crossed", from, to, turns, at, crossed)
			}
			pairs++
			if natural {
				inOrder++
			}
		}
	}
	if want := 3967 * 3967; stride == 1 && pairs != want {
		t.Errorf("%d pairs, want %d", pairs, want)
	}
	t.Logf("%d pairs, of which %d need another order than from left to right", pairs, pairs-inOrder)
}

// SafeTurns turns each digit at most once, by less than a full turn, whatever
// the two codes are, and no other such way is better.
func TestNoOtherTurnsAreBetter(t *testing.T) {
	task := Transponder()
	rapid.Check(t, func(t *rapid.T) {
		// Half of the codes begin with 7, where the alarms are.
		code := func(label string) int64 {
			c := rapid.Int64Range(0, 4095).Draw(t, label)
			if rapid.Bool().Draw(t, label+" at 7") {
				c |= 0o7000
			}
			return c
		}
		from, to := code("from"), code("to")
		turns, crossed := task.SafeTurns(from, to)
		if c := task.Crossed(from, turns); c != crossed {
			t.Fatalf("%v crosses %d, said %d", turns, c, crossed)
		}
		clicks, seen := int64(0), map[int]bool{}
		for _, turn := range turns {
			n := max(turn.Clicks, -turn.Clicks)
			if seen[turn.Digit] || n == 0 || n > 7 {
				t.Fatalf("%04o to %04o by %v", from, to, turns)
			}
			seen[turn.Digit] = true
			clicks += n
		}
		for range 50 { // any order, any directions
			var other []DigitTurn
			otherClicks := int64(0)
			for _, d := range rapid.Permutation([]int{0, 1, 2, 3}).Draw(t, "order") {
				up := (to>>(3*d) - from>>(3*d)) & 7
				if up == 0 {
					continue
				}
				if rapid.Bool().Draw(t, "down") {
					up -= 8
				}
				other = append(other, DigitTurn{d, up})
				otherClicks += max(up, -up)
			}
			if c := task.Crossed(from, other); c < crossed || c == crossed && otherClicks < clicks {
				t.Fatalf("%04o to %04o: %v crosses %d in %d clicks, %v crosses %d in %d",
					from, to, turns, crossed, clicks, other, c, otherClicks)
			}
		}
	})
}
