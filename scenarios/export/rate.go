package export

import (
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios/follow"
)

// slowRate is a detent of a person who looks at every one, detents a second.
const slowRate = 2

// speeds are the speeds of a quick turn, detents a second, the quickest that a hand
// keeps up for a turn first (ours).
var speeds = []int{25, 20, 16, 12, 10, 8, 6, 5, 4, 3, slowRate}

// A path lets a speed through when it loses no more than this share of the detents
// beyond what it loses of slow ones, and the number stands this long after the last.
const (
	sparedShare = 0.04
	standsAfter = 300 * time.Millisecond
	turnDetents = 24 // detents
	turnsASpeed = 8
)

// passes returns the quickest of the speeds that a path lets through, detents a second.
func passes(s encoder.Setup, plain bool) int {
	if plain {
		s.Gain = nil
	}
	least, _, ok := loses(s, slowRate)
	if !ok {
		return speeds[0] // detents have no fate there
	}
	for _, rate := range speeds {
		if lost, late, ok := loses(s, rate); ok && lost <= least+sparedShare && late <= standsAfter {
			return rate
		}
	}
	return slowRate
}

// loses turns the knob at a speed, and returns the share of detents without a step and
// how long after the last detent the number still moved.
func loses(s encoder.Setup, rate int) (share float64, late time.Duration, ok bool) {
	lost, over := 0, time.Duration(turnDetents)*time.Second/time.Duration(rate)
	for n := range turnsASpeed {
		t, err := follow.Run(s, draw.NewTrial(1, "card", n), 0, follow.Even(turnDetents, over))
		if err != nil || len(t.Fates) == 0 {
			return 0, 0, false
		}
		for _, f := range t.Fates {
			if f != encoder.Delivered {
				lost++
			}
		}
		if n := len(t.Steps); n > 0 {
			late = max(late, t.Steps[n-1].At-over)
		}
	}
	return float64(lost) / (turnDetents * turnsASpeed), late, true
}
