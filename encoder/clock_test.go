package encoder

import (
	"testing"
	"time"

	"dialwright/encoder/draw"

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

// A frame comes up to its jitter before or after its time, all of it, and as often early
// as late; and first and before agree about every instant around it.
func TestFramesJitterBothWays(t *testing.T) {
	c := newFrameClock(&Program{Frames: 50, Jitter: 0.3})
	c.noise = draw.NewTrial(1, "jitter", 0).Stream(frameNoise)
	const frames = 20_000
	most := int64(6e6)
	var early, late, sum int64
	for k := int64(-frames / 2); k < frames/2; k++ {
		off := c.tick(k) - k*20e6
		early, late, sum = min(early, off), max(late, off), sum+off
		for _, t0 := range []int64{-most, off, most} {
			for d := int64(-1); d <= 1; d++ {
				at := k*20e6 + t0 + d
				if got, want := c.before(k, at), c.tick(k) < at; got != want {
					t.Fatalf("frame %d at %d before %d: %v", k, c.tick(k), at, got)
				}
			}
		}
	}
	if early < -most || early > -most*99/100 || late > most || late < most*99/100 {
		t.Errorf("frames come %d to %d ns off, not ± %d", early, late, most)
	}
	if mean := sum / frames; max(mean, -mean) > most/50 {
		t.Errorf("frames come %d ns late on average", mean)
	}
}
