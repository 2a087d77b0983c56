package fit

import (
	"fmt"
	"math"
	"slices"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/recording"
)

// Contacts is what a trace of the two contacts says of the part, and how fast a
// firmware must read it.
type Contacts struct {
	Edges    int           // quarter steps
	Glitches int           // times that a contact opened and closed without a step
	Fastest  time.Duration // the shortest states came about so long
	Scan     time.Duration // would be enough, with Debounce equal readings and a table decoder; 0 where nothing would be
	Debounce int
}

// edge is one quarter step.
type edge struct {
	at      int64
	chatter int64 // ns from its first to its last transition
	contact int8  // 0 is A
	state   int8  // AB before it, as a number
	way     int8  // 1 clockwise (A first), −1 counter-clockwise
}

// toggle is a change of one contact's level.
type toggle struct {
	at int64
	to int8
}

// Limits in the search for edges; ours.
const (
	longestChatter = 20e6 // ns; the worst data sheet has 5 ms
	slowState      = 60e6 // ns; a longer one may be a rest
	slowCycle      = 5e8  // ns; in a longer one the hand is not turning steadily
	leastRests     = 12   // that a claim about where the knob rests needs
)

// contacts fits a trace of contact levels.
func (f *fitting) contacts(r *Recording) {
	es, glitches := findEdges(r.events)
	c := &Contacts{Edges: len(es), Glitches: glitches}
	f.r.Contacts = c
	if len(es) < 40 {
		for _, x := range [][2]string{{"knob.bounce", "ms"}, {"knob.min_state", "share"}, {"knob.cycles", ""}} {
			f.path(unknown(x[0], x[1], "%d quarter steps are too few; two or three turns would do", len(es)))
		}
		return
	}
	worst := int64(0)
	bouncing := 0
	for _, e := range es {
		worst = max(worst, e.chatter)
		if e.chatter > 0 {
			bouncing++
		}
	}
	b := float64(worst) / 1e6
	f.path(known("knob.bounce", "ms", b, b, b*(1+4/float64(max(4, bouncing))), "the longest chatter of %d edges, %d of which chattered", len(es), bouncing))

	states := durations(es)
	var quick []float64
	for _, d := range states {
		if d.whole {
			quick = append(quick, d.lasts)
		}
	}
	slices.Sort(quick)
	if len(quick) > 0 {
		c.Fastest = time.Duration(quick[len(quick)/100])
	}
	f.minState(states)
	f.edgesPerDetent(es, states)
	f.enough(c, worst)
	f.strokesOf(r, es)
}

// findEdges tells quarter steps from chatter, contact by contact: transitions of one
// contact that are nearer to each other than the gap that stands out are one edge.
func findEdges(all events) (es []edge, glitches int) {
	var toggles [2][]toggle
	level := [2]int64{-1, -1}
	for e := range all.all() {
		i := slices.Index([]string{"a", "b"}, e.Control)
		if i < 0 || e.Kind != recording.Level {
			continue
		}
		if level[i] >= 0 && level[i] != e.N {
			toggles[i] = append(toggles[i], toggle{e.Time, int8(e.N)})
		}
		level[i] = e.N
	}
	for i, ts := range toggles {
		apart := chatterGap(ts)
		for k := 0; k < len(ts); {
			j := k + 1
			for j < len(ts) && ts[j].at-ts[j-1].at <= apart {
				j++
			}
			if (j-k)%2 == 1 {
				es = append(es, edge{at: ts[k].at, contact: int8(i), chatter: ts[j-1].at - ts[k].at, state: ts[j-1].to})
			} else {
				glitches++
			}
			k = j
		}
	}
	slices.SortStableFunc(es, func(a, b edge) int { return int(max(min(a.at-b.at, 1), -1)) })
	// Levels of both contacts before each edge; the level after it tells the one
	// before.
	var now [2]int8
	for i := range 2 {
		for _, e := range es {
			if int(e.contact) == i {
				now[i] = 1 - e.state
				break
			}
		}
	}
	for k := range es {
		e := &es[k]
		after := e.state
		now[e.contact] = 1 - after
		e.state = now[0]<<1 | now[1]
		now[e.contact] = after
		e.way = 1
		if (e.contact == 0) != (now[0] != now[1]) { // A changes away from B: clockwise
			e.way = -1
		}
	}
	return es, glitches
}

// chatterGap returns the time between two transitions of one contact above which
// they are two edges: the middle of the widest gap, in proportion, between the
// lengths of intervals.
func chatterGap(ts []toggle) int64 {
	var gaps []float64
	for i := 1; i < len(ts); i++ {
		gaps = append(gaps, float64(ts[i].at-ts[i-1].at))
	}
	slices.Sort(gaps)
	if len(gaps) == 0 {
		return 0
	}
	apart, widest := 0.0, 1.3
	if gaps[0] > longestChatter/10 {
		apart = gaps[0] / 2 // perhaps nothing chatters
		widest = 2
	}
	for i := 1; i < len(gaps); i++ {
		low, high := max(gaps[i-1], 50e3), gaps[i]
		if mid := math.Sqrt(low * high); mid < longestChatter && high/low > widest {
			apart, widest = mid, high/low
		}
	}
	return int64(apart)
}

// state is the time between two quarter steps.
type state struct {
	lasts float64
	share float64 // of the cycle around it
	code  int8    // AB
	way   int8    // of the turn
	whole bool    // the knob turned through it one way, without a rest nearby
}

func durations(es []edge) []state {
	var all []state
	for k := 1; k < len(es); k++ {
		s := state{code: es[k].state, way: es[k].way, lasts: float64(es[k].at - es[k-1].at)}
		if k >= 3 && k+2 < len(es) {
			d := func(i int) float64 { return float64(es[i].at - es[i-1].at) }
			cycle := d(k-2)/2 + d(k-1) + d(k) + d(k+1) + d(k+2)/2
			s.share = d(k) / cycle
			longest := max(d(k-2), d(k-1), d(k), d(k+1), d(k+2))
			s.whole = cycle < slowCycle && longest < cycle/2 && es[k-3].way == s.way && es[k-2].way == s.way && es[k-1].way == s.way && es[k+1].way == s.way && es[k+2].way == s.way
		}
		all = append(all, s)
	}
	return all
}

// minState finds the part's shortest state as a share of the cycle.
func (f *fitting) minState(states []state) {
	shares := map[[2]int64][]float64{}
	for _, s := range states {
		if s.whole {
			k := [2]int64{int64(s.code), int64(s.way)}
			shares[k] = append(shares[k], s.share)
		}
	}
	least, n := mean{value: 1}, 0
	for _, x := range shares {
		if len(x) >= 8 {
			slices.Sort(x)
			m := mean{x[len(x)/2], 0.93 * (x[3*len(x)/4] - x[len(x)/4]) / math.Sqrt(float64(len(x))), len(x)}
			if n += len(x); m.value < least.value {
				least = m
			}
		}
	}
	if n == 0 {
		f.path(unknown("knob.min_state", "share", "the knob rested in every cycle; a turn without stops shows it"))
		return
	}
	v := min(0.25, least.value)
	f.path(known("knob.min_state", "share", v, max(0.001, v-least.margin()), min(0.25, v+least.margin()), "the shortest kind of state, %d states in turns without a rest", n))
}

// edgesPerDetent finds how many quarter steps make a detent: from the true number of
// detents, or from where the knob rests.
func (f *fitting) edgesPerDetent(es []edge, states []state) {
	n, _ := f.detents()
	detents := int(n)
	found, why := 0, ""
	if f.Turned > 0 && f.grid.intervals == 0 { // and it is not another recording's
		e := float64(len(es)) / float64(f.Turned)
		for _, x := range []int{1, 2, 4, 8} {
			if math.Abs(e/float64(x)-1) < 0.15 {
				found, why = x, "quarter steps over the detents turned"
			}
		}
	} else {
		found, why = restingEdges(states)
	}
	if found == 0 || detents == 0 {
		f.path(unknown("knob.cycles", "", "how many quarter steps make a detent does not show; --turned N with the clicks really turned tells"))
		return
	}
	if found*detents%4 != 0 {
		f.path(unknown("knob.cycles", "", "%d quarter steps a detent do not go with %d detents a turn", found, detents))
		return
	}
	c := float64(found * detents / 4)
	f.path(known("knob.cycles", "", c, c, c, "%d quarter steps a detent (%s), with %d detents a turn", found, why, detents))
}

// restingEdges finds the quarter steps of a detent from where the knob rests: in every
// E-th state, whichever way it turns. A rest is a state much longer than those around
// it.
func restingEdges(states []state) (int, string) {
	var rests [8]int
	n := 0
	position := int64(0)
	for k, s := range states {
		position += int64(s.way)
		var around []float64
		for i := max(0, k-3); i <= min(len(states)-1, k+3); i++ {
			around = append(around, states[i].lasts)
		}
		slices.Sort(around)
		if s.lasts > slowState && s.lasts > 3*around[len(around)/2] {
			rests[(position-int64(s.way))&7]++
			n++
		}
	}
	if n < leastRests {
		return 0, ""
	}
	for _, e := range []int{8, 4, 2} {
		for r := range e {
			there := 0
			for i := r; i < 8; i += e {
				there += rests[i]
			}
			if 10*there >= 9*n {
				return e, fmt.Sprintf("where it rests, %d times", n)
			}
		}
	}
	return 0, ""
}

// enough finds the slowest scan, and the debounce with it, that would not lose a
// click: it turns the measured knob on the engine, as fast as the trace shows.
func (f *fitting) enough(c *Contacts, bounce int64) {
	if c.Fastest == 0 {
		return
	}
	rig := encoder.Default()
	rig.Knob = f.r.Rig.Knob
	rig.Knob.Bounce = time.Duration(bounce)
	if v, ok := f.r.Path.Get("knob.min_state"); ok && v.Known {
		rig.Knob.MinState = max(0.001, math.Floor(v.Low*1000)/1000)
	}
	if v, ok := f.r.Path.Get("knob.cycles"); ok && v.Known {
		rig.Knob.Cycles = int(v.Value)
	}
	e, ok := rig.Knob.EdgesPerDetent()
	if !ok {
		return
	}
	rig.Firmware.Output, rig.Program.Sampling = encoder.Relative, encoder.Immediate
	quarter := float64(c.Fastest) / (4 * rig.Knob.MinState) // time of a quarter step at that speed
	for _, scan := range []time.Duration{2000, 1500, 1000, 750, 500, 400, 300, 250, 200, 150, 100, 75, 50, 40, 30, 20, 10} {
		for _, debounce := range []int{1, 2, 3, 4, 6, 8} {
			rig.Firmware.Scan, rig.Firmware.Debounce = scan*time.Microsecond, debounce
			if float64(debounce)*float64(rig.Firmware.Scan) < 2*quarter && f.followsAt(&rig, quarter*float64(e)) {
				c.Scan, c.Debounce = rig.Firmware.Scan, debounce
				return
			}
		}
	}
}

// followsAt says whether a rig counts every detent that comes so often (ns).
func (f *fitting) followsAt(rig *encoder.Rig, detent float64) bool {
	path, err := encoder.NewPath(encoder.Setup{Rig: rig})
	if err != nil {
		return false
	}
	for n := range 8 {
		path.Start(f.source("enough", n), 0)
		for i := range 60 {
			path.Detent(1e9+int64(float64(i)*detent), +1)
		}
		path.Finish()
		if a := path.Account(); a.Illegal > 0 || a.Extra.Bounce > 0 || a.IllegalTransitions > 0 {
			return false
		}
	}
	return true
}

// strokesOf makes counts of the edges, one a detent, and finds the strokes in them.
func (f *fitting) strokesOf(r *Recording, es []edge) {
	e := int64(4)
	if n, _ := f.detents(); f.r.Path.has("knob.cycles") {
		v, _ := f.r.Path.Get("knob.cycles")
		e = max(1, 4*int64(v.Value)/int64(n))
	} else if x, ok := f.r.Rig.Knob.EdgesPerDetent(); ok {
		e = int64(x)
	}
	turn := recording.Direction{Control: "a", Sign: 1}
	counts := &Recording{Name: r.Name, Knob: recording.Knob{Clockwise: turn, Counter: recording.Direction{Control: "a", Sign: -1}}}
	var seen keeper
	steps, k := int64(0), 0
	for x := range r.events.all() {
		if x.Kind == recording.Mark {
			seen.keep(x)
			continue
		}
		for ; k < len(es) && es[k].at <= x.Time; k++ {
			if steps += int64(es[k].way); steps == e || steps == -e {
				seen.keep(recording.Event{Time: es[k].at, Control: "a", Kind: recording.Count, N: steps / e})
				steps = 0
			}
		}
	}
	counts.events = seen.events
	spans := counts.spans()
	f.rest = counts.findRest(spans)
	slow := f.strokes.slow
	f.strokes = counts.findStrokes(spans, f.rest)
	f.strokes.slow = slow // a session's is better: it was asked for
}
