package fit

import (
	"math"
	"slices"

	"dialwright/encoder/draw"
	"dialwright/encoder/recording"
)

// press is one press and release as a recorder sees it.
type press struct {
	at, until int64 // ns; until 0 where the release is missing
	before    int64 // ns since the release of the press before, in the same part; -1 for the first
	after     int64 // ns until the next press, in the same part; -1 for the last
	repeats   *[]int64
	span      int32
	way       int8 // 1 clockwise, −1 counter-clockwise
	kind      kind
}

// repeat keeps when a press was reported again.
func (p *press) repeat(at int64) {
	if p.repeats == nil {
		p.repeats = new([]int64)
	}
	*p.repeats = append(*p.repeats, at)
}

func (p *press) lasts() int64 { return p.until - p.at }

// presses lists the presses of all parts, in order.
func (r *Recording) presses(spans []span) []press {
	n := 0
	for _, s := range spans {
		for range s.events.only(func(e recording.Event) bool { return e.Kind == recording.Press }) {
			n++
		}
	}
	all := make([]press, 0, n)
	for i, s := range spans {
		first := len(all)
		open := map[string]int{} // the press that is down, by control
		for e := range s.events.all() {
			way := int8(0)
			switch e.Control {
			case r.Knob.Clockwise.Control:
				way = 1
			case r.Knob.Counter.Control:
				way = -1
			default:
				continue
			}
			j, down := open[e.Control]
			switch {
			case e.Kind == recording.Press && down: // some recorders write repeats as presses
				all[j].repeat(e.Time)
			case e.Kind == recording.Press:
				open[e.Control] = len(all)
				all = append(all, press{at: e.Time, way: way, kind: s.kind, span: int32(i)})
			case e.Kind == recording.Repeat && down:
				all[j].repeat(e.Time)
			case e.Kind == recording.Release && down:
				all[j].until = e.Time
				delete(open, e.Control)
			}
		}
		for j := first; j < len(all); j++ {
			all[j].before, all[j].after = -1, -1
			if j > first {
				all[j].before = all[j].at - all[j-1].until
			}
			if j+1 < len(all) {
				all[j].after = all[j+1].at - all[j].until
			}
		}
	}
	return slices.DeleteFunc(all, func(p press) bool { return p.until == 0 })
}

// train is what is known of the presses that a firmware makes.
type train struct {
	on       mean    // ns that a single press lasts
	singles  int     // presses that this rests on
	lengths  int     // how many lengths in polls they have
	period   float64 // ns, of pulses back to back; 0 where none are seen
	low      float64
	high     float64
	regular  float64 // share of the intervals that pulses of one period would explain, whether or not a hand could have made them
	limited  float64 // share of the intervals of fast strokes that came back to back
	shortest float64 // ns between presses: the period is at most that and a poll; 0 without
	merged   float64 // share of the presses of fast strokes that are several pulses
	hold     bool    // a press lasts as long as the knob keeps turning
	slowHeld bool    // also in the slow turn
	longest  int64   // ns, the longest press
}

// Limits in the search for pulses; ours.
const (
	strokeRest     = 250e6 // ns without a press that end a run: regrips take longer
	stampSlack     = 150e3 // ns that time stamps may be late
	clearerShare   = 0.1   // share by which regular pulses must stand out from what a hand makes
	simulatedHands = 19    // simulated hands that they are compared with
	tooEvenSpread  = 0.04  // spread of the rates of strokes below which no hand made them
	hiddenPoll     = 1e6   // ns, taken for the poll where none is seen: a longer one would show

	mostSearched = 50_000 // presses among which a period is looked for: of more, some of the runs; what they tell is a share of them and a period, neither of which knows how many they were
	longestRun   = 500    // presses of a run, or of a part of it, that is taken or left then
)

// findTrain finds the pulses of a recording.
func findTrain(all []press, g grid, noise func(n int) draw.Stream) train {
	var t train
	poll := g.period
	if poll == 0 {
		poll = hiddenPoll
	}
	slack := poll + stampSlack
	singles := singlePresses(all, poll)
	if len(singles) == 0 {
		return t
	}
	t.on, t.singles = meanOf(singles), len(singles)
	if g.period > 0 {
		seen := map[int]bool{}
		for _, x := range singles {
			seen[int(math.Round(x/poll))] = true
		}
		if t.lengths = len(seen); t.lengths == 1 {
			t.on.se = 1.5 * poll / float64(len(singles)) // the other length would have come with 95 %
		}
		t.on.se = max(t.on.se, poll/10/math.Sqrt(float64(len(singles))))
	}
	for i := range all {
		t.longest = max(t.longest, all[i].lasts())
	}

	working := runs(all, strokeRest, fastTurn, dialing, free)
	long, between, short, n := 0, 0, 0, 0
	for _, r := range working {
		for i, p := range r {
			n++
			lasts := float64(p.lasts())
			if lasts > t.on.value+max(2*poll, 0.3*t.on.value)+stampSlack {
				long++
				if lasts < 2*t.on.value-slack { // longer than one pulse, shorter than two
					between++
				}
			}
			if i+1 < len(r) && float64(p.after) < 1.5*poll+stampSlack {
				short++
			}
		}
	}
	if n == 0 {
		return t
	}
	t.merged = float64(long) / float64(n)
	// Pulses merge where the gap between them falls between two polls; more often it is
	// seen, and is short. Long presses without many short gaps are no merged pulses.
	if t.merged > 0.4 && 10*short <= n || between >= 4 && 2*between > long || long >= 12 && short < 2*long {
		t.hold, t.merged = true, 0
		for i := range all {
			t.slowHeld = t.slowHeld || all[i].kind == slowTurn && float64(all[i].lasts()) > t.on.value+slack
		}
		return t
	}

	times := timesOf(working)
	x := intervalsOf(times)
	if len(x) < 12 {
		return t
	}
	t.shortest = x[len(x)/50]
	low, high, most := max(t.on.value-slack, t.shortest-poll), t.shortest+poll, 1.0
	if t.merged > 0.03 {
		low, high, most = t.on.value-poll/4, t.on.value+slack, 4
	}
	searched := fewer(times, mostSearched)
	best, from, to := findPeriod(searched, low, high, slack, most)
	t.regular = best.share
	alone := 0.0
	for k := range simulatedHands {
		b, _, _ := findPeriod(byHandAlone(searched, poll, noise(k)), low, high, slack, most)
		alone = max(alone, b.share)
	}
	if best.share > alone+clearerShare {
		t.period, t.low, t.high, t.limited = best.period, from, to, best.share
	} else if m, ok := oneRate(times); ok && t.merged <= 0.03 && m.value < high {
		t.period, t.low, t.high, t.limited = m.value, m.value-m.margin()-poll/8, m.value+m.margin()+poll/8, 1
	}
	return t
}

// oneRate returns the mean interval of runs where it is the same in all of them: no
// hand turns so evenly.
func oneRate(rs [][]int64) (mean, bool) {
	var each []float64
	for _, r := range rs {
		if len(r) >= leastMoves {
			each = append(each, float64(r[len(r)-1]-r[0])/float64(len(r)-1))
		}
	}
	if len(each) < 6 {
		return mean{}, false
	}
	slices.Sort(each)
	inner := each[len(each)/8 : len(each)-len(each)/8]
	return meanOf(inner), inner[len(inner)-1]-inner[0] < 2*tooEvenSpread*meanOf(inner).value
}

// singlePresses returns how long presses last that are one pulse each: the shorter
// ones of those that stand alone.
func singlePresses(all []press, poll float64) []float64 {
	alone := max(3*poll, 40e6)
	var any []float64
	for i := range all {
		p := &all[i]
		if (p.before < 0 || float64(p.before) >= alone) && (p.after < 0 || float64(p.after) >= alone) {
			any = append(any, float64(p.lasts()))
		}
	}
	if len(any) < 6 {
		any = any[:0]
		for i := range all {
			any = append(any, float64(all[i].lasts()))
		}
	}
	if len(any) == 0 {
		return nil
	}
	slices.Sort(any)
	limit := any[len(any)/20] + poll + stampSlack // longer ones are several pulses, or held
	end, _ := slices.BinarySearch(any, limit)
	return any[:max(1, end)]
}

// run is presses that follow each other without a rest: a stroke, or as much of
// it as the path let through.
type run []press

// runs cuts presses of some kinds into runs wherever no press came for so long.
func runs(all []press, rest int64, kinds ...kind) []run {
	var rs []run
	first := 0
	for i, p := range all {
		if i+1 < len(all) {
			if next := &all[i+1]; p.span == next.span && p.way == next.way && next.at-p.at <= rest {
				continue
			}
		}
		if slices.Contains(kinds, p.kind) { // as all of its part are
			rs = append(rs, all[first:i+1])
		}
		first = i + 1
	}
	return rs
}
