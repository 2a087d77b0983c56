package hand

import "math"

// Minimum jerk: a movement of one stroke covers the share x = 10s³ − 15s⁴ + 6s⁵ of
// its way in the share s of its time; its peak speed is 1.875 times the mean
// (Flash, Hogan, J. Neurosci. 5 (1985) 1688–1703; row A7).

// jerkShift is the logarithm of the intervals of the table.
const jerkShift = 13

// whole is the unit in which shares of a stroke's way and time are counted.
const (
	wholeShift = 24
	whole      = 1 << wholeShift
)

// jerk[k] is the share of the time, in 1/whole, at which k/2^jerkShift of the way
// is done.
var jerk = func() (t [1<<jerkShift + 2]int32) {
	const middle = 1 << (jerkShift - 1)
	s := 0.02
	for k := 1; k < middle; k++ {
		x := float64(k) / (1 << jerkShift)
		for step := 1.0; math.Abs(step) > 1e-13; s -= step { // Newton: the slope is 30·s²·(1−s)²
			step = (way(s) - x) / float64(30*s*s*(1-s)*(1-s))
		}
		t[k] = int32(math.Round(s * whole))
		t[1<<jerkShift-k] = whole - t[k] // the same seen from its end
	}
	t[middle] = whole / 2
	t[1<<jerkShift] = whole
	t[1<<jerkShift+1] = whole
	return t
}()

// way returns the share of the way that is done after a share of the time.
func way(s float64) float64 { return s * s * s * (10 + float64(s*(float64(6*s)-15))) }

// timeAt returns the share of a stroke's time, in 1/whole, at which a share of its
// way, in 1/whole, is done.
func timeAt(way int64) int64 {
	const rest = 24 - jerkShift
	k := way >> rest
	a := int64(jerk[k])
	return a + (int64(jerk[k+1])-a)*(way&(1<<rest-1))>>rest
}
