package recording

import (
	"iter"
	"math"
	"slices"
)

// Only keeps the events of the named controls.
func Only(events iter.Seq[Event], controls ...string) iter.Seq[Event] {
	return func(yield func(Event) bool) {
		for e := range events {
			if slices.Contains(controls, e.Control) && !yield(e) {
				return
			}
		}
	}
}

// Rest is the pause that ends a burst unless told otherwise, ns. Within a stroke
// detents follow each other in less than about 0.1 s (Hinckley, Cutrell, Bathiche,
// Muss, CHI 2002, Fig. 2); a regrip takes 0.2 s and more.
const Rest = 150e6

// Burst is a run of movement without a pause, most often one stroke of the hand.
type Burst struct {
	Start, End int64 // first and last report, ns
	Notches    int64 // detents moved, of both directions: |counts| and presses
	Net        int64 // the sum of the counts, with their signs; presses do not add to it
	Reports    int   // reports that carried a movement
}

// Bursts cuts movement into bursts wherever more than rest (ns; 0 means Rest)
// passes between two reports. Counts and presses are movement, everything else is
// not.
func Bursts(events iter.Seq[Event], rest int64) []Burst {
	if rest <= 0 {
		rest = Rest
	}
	var all []Burst
	for e := range events {
		n := e.N
		switch {
		case e.Kind == Press:
			n = 0
		case e.Kind != Count || e.N == 0:
			continue
		}
		if len(all) == 0 || e.Time-all[len(all)-1].End > rest {
			all = append(all, Burst{Start: e.Time, End: e.Time - sameReport - 1})
		}
		b := &all[len(all)-1]
		if e.Time-b.End > sameReport {
			b.Reports++
		}
		b.End = e.Time
		b.Net += n
		if b.Notches += max(n, -n); e.Kind == Press {
			b.Notches++
		}
	}
	return all
}

// Pauses returns the times between one burst and the next, ns.
func Pauses(bursts []Burst) []int64 {
	var p []int64
	for i := 1; i < len(bursts); i++ {
		p = append(p, bursts[i].Start-bursts[i-1].End)
	}
	return p
}

// sameReport is how far apart the events of one report may be, ns: older kernels
// give each its own time. The shortest poll of USB is 125 µs.
const sameReport = 60e3

// Reports returns the times of the reports that the events came in, ns.
func Reports(events iter.Seq[Event]) []int64 {
	var times []int64
	for e := range events {
		if e.Kind == Mark {
			continue
		}
		if n := len(times); n == 0 || e.Time-times[n-1] > sameReport {
			times = append(times, e.Time)
		}
	}
	return times
}

// Grid is the period to whose multiples reports come, most often the USB poll.
type Grid struct {
	Period    int64   // ns; 0 if there is none that chance would not give too
	Fit       float64 // mean resultant length of the intervals on the period: 1 = all whole multiples, 0 = anywhere
	Intervals int     // short intervals that this rests on
}

// ReportGrid looks for a grid in the times of reports (ns, increasing), from the
// intervals up to six times the shorter ones: over longer ones the drift of two
// clocks adds up. Candidates are a typical shortest interval and its halves,
// thirds and so on down to a sixth, for the shortest interval may be more than one
// poll; each is refined to the median of the intervals divided by the whole
// multiples that they are next to. The longest that fits nearly as well as the
// best is taken. There is no grid when the mean resultant length R is below ½, or
// when Rayleigh's test, exp(−n·R²) for n intervals, leaves more than 1 in 10,000 to
// chance.
func ReportGrid(times []int64) Grid {
	gaps := make([]int64, 0, len(times))
	for i := 1; i < len(times); i++ {
		if d := times[i] - times[i-1]; d > sameReport {
			gaps = append(gaps, d)
		}
	}
	if len(gaps) < 5 {
		return Grid{Intervals: len(gaps)}
	}
	slices.Sort(gaps)
	low := gaps[len(gaps)/20]
	near, _ := slices.BinarySearch(gaps, low+low/2)
	shortest := gaps[near/2] // the median of the shortest ones
	end, _ := slices.BinarySearch(gaps, 6*shortest+shortest/2)
	gaps = gaps[:end]
	if n := len(gaps) >> 14; n > 0 { // sorted, so every (n+1)-th says the same
		kept := gaps[:0]
		for i := 0; i < len(gaps); i += n + 1 {
			kept = append(kept, gaps[i])
		}
		gaps = kept
	}

	var fits [6]Grid
	best := 0.0
	for d := range fits {
		p := float64(shortest) / float64(d+1)
		for range 3 {
			p = refine(gaps, p)
		}
		fits[d] = Grid{Period: int64(math.Round(p)), Fit: resultant(gaps, p), Intervals: len(gaps)}
		best = max(best, fits[d].Fit)
	}
	for _, g := range fits {
		if g.Fit >= 0.9*best {
			if g.Fit < 0.5 || math.Exp(-float64(g.Intervals)*g.Fit*g.Fit) > 1e-4 {
				g.Period = 0
			}
			return g
		}
	}
	return Grid{Intervals: len(gaps)}
}

// refine returns the median of gap/k, k the nearest whole number to gap/p.
func refine(gaps []int64, p float64) float64 {
	var one []float64
	for _, g := range gaps {
		if k := math.Round(float64(g) / p); k > 0 {
			one = append(one, float64(g)/k)
		}
	}
	if len(one) == 0 {
		return p
	}
	slices.Sort(one)
	return (one[(len(one)-1)/2] + one[len(one)/2]) / 2
}

// resultant is the mean resultant length of the gaps as angles of a circle of
// circumference p.
func resultant(gaps []int64, p float64) float64 {
	var c, s float64
	for _, g := range gaps {
		sin, cos := math.Sincos(2 * math.Pi * float64(g) / p)
		c += cos
		s += sin
	}
	return math.Hypot(c, s) / float64(len(gaps))
}
