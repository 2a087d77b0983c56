package encoder

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestFirstTickIsTheFirst(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := newClock(time.Duration(rapid.Int64Range(1, int64(time.Hour)).Draw(t, "period")))
		c.phase = rapid.Int64Range(-1e12, 1e12).Draw(t, "phase")
		at := rapid.Int64Range(-1e12, 1e15).Draw(t, "time")
		if rapid.Bool().Draw(t, "on a tick") {
			at = c.tick(at / c.period.by)
		}
		if k := c.first(at); c.tick(k) < at || c.tick(k-1) >= at {
			t.Errorf("first tick at or after %d of %+v is said to be %d at %d", at, c, k, c.tick(k))
		}
	})
}

func TestFirstFrameIsTheFirst(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Program{Frames: PerSecond(rapid.IntRange(1, 200).Draw(t, "frames")), Jitter: float64(rapid.IntRange(0, 45).Draw(t, "jitter")) / 100}
		for range rapid.IntRange(0, 6).Draw(t, "list") {
			p.FrameList = append(p.FrameList, time.Duration(rapid.Int64Range(1, 1e8).Draw(t, "frame")))
		}
		c := newFrameClock(&p)
		c.phase = rapid.Int64Range(-1e9, 1e9).Draw(t, "phase")
		at := rapid.Int64Range(-1e9, 1e12).Draw(t, "time")
		if rapid.Bool().Draw(t, "on a frame") {
			at = c.tick(at / 1e7)
		}
		k, then := c.first(at)
		if then != c.tick(k) || then < at || c.tick(k-1) >= at {
			t.Errorf("first frame at or after %d is said to be %d at %d (before it %d)", at, k, then, c.tick(k-1))
		}
	})
}
