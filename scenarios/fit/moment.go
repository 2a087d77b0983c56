package fit

import (
	"math"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/trial"
)

// seen is what somebody sees who watches a number being dialed. Every part of it has a
// value for every dialing, whatever happened in it, so that averages compare like with
// like.
type seen [timeToTarget + 1]float64

// The parts of seen. People are fitted by all but the last, which a fit is to predict.
const (
	firstClick    = 0                     // s
	endGap        = 1                     // s, from the last click or number to the end
	gapCount      = 2                     // of each class of gaps between two clicks
	gapTime       = gapCount + gapClasses // s
	overshotPart  = gapTime + gapClasses  // 1 or 0
	turnedBack    = overshotPart + 1      // how often it was turned back
	stepsMissing  = turnedBack + 1        // logarithm of 1 + the steps missing, or too many, when the knob first rests
	shareMissing  = stepsMissing + 1      // what is missing then as a share of the way; past the target < 0
	contrastParts = shareMissing + 1      // what of contrasted is more on a plain knob than with acceleration
	timeToTarget  = contrastParts + 3     // s, until the number last came within the tolerance
)

// contrasted are the parts whose difference between plain and accelerated dialings tells
// noise of the hand from what is believed wrongly of the gain.
var contrasted = [timeToTarget - contrastParts]int{stepsMissing, gapCount + 1, gapCount + 3}

// Classes of gaps between two clicks: within a flick, within a slow stroke, a regrip, a
// wait; ours. A gap between the middles of two counts for both, by its logarithm, so that
// averages follow a pace smoothly. A class means nothing but itself: simulated people are
// measured by it too.
const gapClasses = 4

var gapMiddles = [gapClasses]float64{50e6, 130e6, 330e6, 850e6} // ns

// restGap is the gap, ns, after which the number is taken to be read; ours.
const restGap = 600e6

// class returns the class whose middle a gap has passed, and how far it is on the way to
// the next.
func class(gap int64) (at int, on float64) {
	g := float64(gap)
	for at < gapClasses-1 && g >= gapMiddles[at+1] {
		at++
	}
	if at == gapClasses-1 || g <= gapMiddles[0] {
		return at, 0
	}
	return at, math.Log(g/gapMiddles[at]) / math.Log(gapMiddles[at+1]/gapMiddles[at])
}

// Limits of what one dialing may count for, so that somebody who is called away does not
// move an average by himself; ours.
const (
	longestPause  = 3.0 // s
	mostReversals = 4
)

// watched is a dialing, recorded or simulated, as it is measured.
type watched struct {
	task          scenarios.DialedTask
	plain         bool // no acceleration
	start, target int64
	clicks        []scenarios.DialedClick
	shown         []encoder.Change
	end           int64 // ns
}

// measure says what is seen, by the same rule of real and of simulated people.
func (w *watched) measure() (s seen) {
	course := trial.NewCourse(w.task.Scale, w.start, w.target)
	shown := 0
	until := func(at int64) {
		for ; shown < len(w.shown) && w.shown[shown].At <= at; shown++ {
			course.To(w.shown[shown].At, w.shown[shown].Value, w.task.Tolerance, w.task.Tolerance)
		}
	}
	way, rested := w.task.Scale.Distance(w.start, w.target), false
	rest := func(at int64) {
		if until(at); rested {
			return
		}
		rested = true
		off := float64(course.Off())
		s[stepsMissing] = math.Log1p(math.Abs(off))
		s[shareMissing] = min(max(-off/float64(way), -1), 1)
	}
	last, dir := int64(-1), int64(0)
	for _, c := range w.clicks {
		at := int64(c.At)
		if at > w.end {
			break
		}
		if last < 0 {
			s[firstClick] = pause(at)
		} else {
			if at-last >= restGap {
				rest(at)
			}
			k, on := class(at - last)
			s[gapCount+k] += 1 - on
			s[gapTime+k] += float64((1 - on) * pause(at-last))
			if on > 0 {
				s[gapCount+k+1] += on
				s[gapTime+k+1] += float64(on * pause(at-last))
			}
			if c.Clicks*dir < 0 {
				s[turnedBack] = min(mostReversals, s[turnedBack]+1)
			}
		}
		s[gapCount] += float64(max(c.Clicks, -c.Clicks) - 1) // those of one report
		last, dir = at, c.Clicks
	}
	rest(w.end)
	if last < 0 { // it never moved
		s[firstClick] = pause(w.end)
	}
	if shown > 0 {
		last = max(last, w.shown[shown-1].At)
	}
	s[endGap] = pause(w.end - max(0, last))
	if course.Past > 0 {
		s[overshotPart] = 1
	}
	for i, of := range contrasted {
		if s[contrastParts+i] = s[of] / 2; !w.plain {
			s[contrastParts+i] = -s[of] / 2
		}
	}
	at, _ := course.Reached()
	s[timeToTarget] = float64(at) / 1e9
	return s
}

// pause is a time in seconds that counts for so much at most.
func pause(ns int64) float64 { return min(longestPause, float64(ns)/1e9) }
