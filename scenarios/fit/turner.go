package fit

import (
	"math"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
)

// turner is a hand that turns a knob without looking at any number: one way, in
// strokes of minimum-jerk movement with regrips between them. Rates are those
// within a stroke.
type turner struct {
	Reach            float64 // detents of a full stroke
	ReachSD          float64 // of a stroke's detents
	SlowRate         float64 // detents/s, click by click
	FastRate         float64 // detents/s of the stroke's pace: it lasts Begin + n/FastRate
	PaceNoise        float64 // SD of a stroke's pace, a share of it
	Begin, Regrip    float64 // s
	perTurn          int
	edges, lateEdges int64 // of a detent; see encoder.Path.Late
}

// newTurner returns the hand of an operator's average person on a rig's knob.
func newTurner(o *scenarios.Operator, rig *encoder.Rig) turner {
	n := rig.Knob.UnitsPerTurn()
	perDeg := float64(n) / 360
	reach := o.ReachDeg.Mean * perDeg
	t := turner{
		Reach: reach, ReachSD: math.Hypot(o.Noise.Mean*reach, o.FingerNoiseDeg.Mean*perDeg),
		SlowRate: o.SlowDegPerS.Mean * perDeg, FastRate: o.FastDegPerS.Mean * perDeg,
		PaceNoise: o.PaceNoise.Mean, Begin: o.Begin.Mean.Seconds(), Regrip: o.Regrip.Mean.Seconds(),
		perTurn: n,
	}
	e, _ := rig.Knob.EdgesPerDetent()
	t.edges = int64(e)
	if m := rig.Knob.MinState; m > 0 && e > 1 {
		t.lateEdges = 1000 - 4*int64(math.Round(m*1000))
	}
	return t
}

// turning is a knob being turned: where the hand is in time, and what it draws.
type turning struct {
	turner
	path  *encoder.Path
	noise draw.Stream
	drawn int64
	now   int64 // the hand is free
	last  int64 // the knob's last edge
	buf   []int64
}

func (t *turning) normal() float64 {
	t.drawn++
	return float64(t.noise.Normal(t.drawn)) / draw.One
}

func (t *turning) unit() float64 {
	t.drawn++
	return float64(t.noise.Unit(t.drawn)) / draw.Share
}

// stroke turns n detents at a pace, in detents/s, and returns when they were
// complete.
func (t *turning) stroke(dir int8, n int, pace float64) []int64 {
	pace *= max(0.25, 1+t.PaceNoise*t.normal())
	lasts := 1e9 * (t.Begin + float64(n)/pace)
	at := make([]int64, n)
	start := max(t.now, t.last+1e6)
	for k := range n {
		t.buf = t.buf[:0]
		for j := int64(1); j <= t.edges; j++ {
			at := 1000*(t.edges*int64(k)+j) - 500
			if (t.edges-j)%2 == 1 {
				at += t.lateEdges
			}
			edge := start + int64(lasts*jerkTime(float64(at)/float64(1000*t.edges*int64(n))))
			t.last = max(edge, t.last+1)
			t.buf = append(t.buf, t.last)
		}
		t.path.Turn(dir, t.buf)
		at[k] = t.last
	}
	t.now = start + int64(lasts)
	return at
}

// fast turns n detents as fast as the hand can, to the mark: full strokes until
// what is left is shorter. The first stroke begins somewhere within the reach.
func (t *turning) fast(dir int8, n int) (strokes [][]int64) {
	room := t.Reach * (0.5 + 0.5*t.unit())
	for n > 0 {
		m := int(math.Round(min(room, t.Reach) + t.ReachSD*t.normal()))
		m = min(max(m, 1), n)
		if n-m == 1 && m > 2 {
			m = n // nobody regrips for one click
		}
		strokes = append(strokes, t.stroke(dir, m, t.FastRate))
		if n -= m; n > 0 {
			t.now += int64(1e9 * t.Regrip * max(0.3, 1+0.15*t.normal()))
		}
		room = t.Reach
	}
	return strokes
}

// slow turns n detents click by click, with regrips.
func (t *turning) slow(dir int8, n int) (at []int64) {
	left := t.Reach
	for range n {
		if left--; left < 0 {
			left = t.Reach - 1
			t.now += int64(1e9 * t.Regrip)
		}
		begin := t.Begin
		t.Begin = 0 // the knob hardly rests between two clicks
		at = append(at, t.stroke(dir, 1, t.SlowRate)...)
		t.Begin = begin
	}
	return at
}

// jerkTime returns the share of a minimum-jerk movement's time at which it has
// gone a share of its way: the inverse of 10s³ − 15s⁴ + 6s⁵ (Flash, Hogan, J.
// Neurosci. 5 (1985) 1688–1703; from memory).
func jerkTime(way float64) float64 {
	low, high := 0.0, 1.0
	for range 40 {
		s := (low + high) / 2
		if s*s*s*(10-s*(15-6*s)) < way {
			low = s
		} else {
			high = s
		}
	}
	return (low + high) / 2
}
