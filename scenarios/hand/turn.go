package hand

import (
	"math"

	"dialwright/encoder/draw"
)

// paceCut is how far at most a stroke's pace is off, in 1/draw.One of the standard
// deviation: a flick is about as fast as a wrist can be.
const paceCut = 2 * draw.One

// room returns how many detents the arm can turn on in a direction.
func (h *Hand) room(dir int8) int {
	free := h.arc
	if dir > 0 {
		free = h.Reach - h.arc
	}
	return int(free * h.dial.Grip.perTurn / 360_000)
}

// stretch returns how many detents the arm can turn on when it is twisted as far as a
// forearm can.
func (h *Hand) stretch(dir int8) int64 {
	free := h.arc
	if dir > 0 {
		free = h.Reach - h.arc
	}
	free += (maxReachDeg*1000 - h.Reach) / 2
	return max(1, free*h.dial.Grip.perTurn/360_000)
}

// turn makes a stroke, not before the hand and the decision are ready.
func (h *Hand) turn(s stroke, dir int8, ready, missing int64) {
	g := h.dial.Grip
	start := max(ready, h.now, h.ran+1)
	if s.n > h.room(dir) {
		end := max(start, h.now+h.Regrip)
		h.act(Act{Kind: Regrip, At: h.now, Until: end})
		start = end
		h.done.Regrips++
		h.arc = 0
		if dir < 0 {
			h.arc = h.Reach
		}
	}
	index := 2 * (h.dial.Strokes + int64(h.done.Strokes))
	n := int64(s.n)
	if sd := g.strokeNoise(s.n, h.Noise, h.FingerNoise, h.FeltNoise); sd > 0 {
		n = max(1, n+(sd>>10*(h.luck.Normal(index)>>10)+draw.One/2)>>20)
		n = min(n, h.stretch(dir))
	}
	detent := g.detent[h.Speed][s.pace]
	off := min(max(h.luck.Normal(index+1), -paceCut), paceCut)
	detent = max(detent/4, detent+detent*(h.PaceNoise*off>>20)>>20)
	h.from = start
	lasts := h.Begin + n*detent
	watch := g.watched(h.plans.outcome(h.Speed, s.pace, s.n), h.Speed, s.pace)
	brings := int64(dir) * s.travel / int64(s.n)
	move := swing{start, lasts, n}
	h.ends = g.ends(h.ends, move)
	if watch {
		h.ends = h.ends[:h.turnWatching(move, dir, brings)]
	} else {
		h.edges = g.turn(h.dial.Path, move, dir, h.ends, h.edges)
		h.note(h.ends, brings)
	}
	made := int64(len(h.ends))
	h.last = h.ends[made-1]
	h.arc = min(max(h.arc+int64(dir)*made*360_000/g.perTurn, 0), h.Reach)
	h.now = max(h.last, start+lasts*made/n)
	h.dir = dir
	h.done.Strokes++
	h.done.Detents += int(made)
	if h.dial.Trace != nil {
		h.dial.Trace(Act{
			Kind: Stroke, At: start, Until: h.now, Missing: missing, Planned: int64(s.n),
			Turned: made * int64(dir), Travel: s.travel * int64(dir), Pace: s.pace,
			Fair: h.plans.fair(h.Speed, s.pace, s.n) * int64(dir),
		})
	}
	if h.done.Travel == 0 && max(missing, -missing) <= h.farthest {
		h.done.Travel = h.now
	}
}

// turnWatching turns the detents of a stroke one by one, until the number is seen to have
// arrived, and returns how many that were.
func (h *Hand) turnWatching(move swing, dir int8, brings int64) int {
	for k := range move.n {
		h.edges = h.dial.Grip.edgeTimes(h.edges[:0], move, k)
		if k > 0 && h.arrived(h.edges[0]-h.Perceive-h.Decide-h.Act, dir, abs(brings)) {
			return int(k)
		}
		h.dial.Path.Turn(dir, h.edges)
		h.note(h.ends[k:k+1], brings)
	}
	return int(move.n)
}

// note keeps detents in mind that were complete at the given times.
func (h *Hand) note(ends []int64, brings int64) {
	g := h.dial.Grip
	shows := int64(math.MinInt64 / 2) // when the one before should; long ago
	if i := len(h.turned) - 1; i >= 0 {
		shows = h.turned[i].at + h.turned[i].late
	}
	for _, at := range ends {
		late := int64(0)
		if g.gap > 0 {
			late = min(max(0, shows+g.gap-at), g.longest)
		}
		shows = at + late
		h.turned = append(h.turned, own{at, late, brings})
	}
}

// arrived says whether the number, as it was at an instant and with what own detents
// should still bring, has reached the target, coming from the side from which dir
// leads to it, or is nearer to it than another detent would leave it.
func (h *Hand) arrived(seen int64, dir int8, each int64) bool {
	if seen < 0 {
		return false
	}
	h.runTo(seen)
	missing := h.dial.Scale.Distance(h.dial.Path.Shown(seen), h.target)*fine - h.underWay(seen)
	return int64(dir)*missing <= max(h.plans.within, each/2)
}
