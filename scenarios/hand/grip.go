package hand

import (
	"fmt"
	"math"
	"sync"

	"dialwright/encoder"
	"dialwright/encoder/draw"
)

// Distances inside a plan are whole numbers of 1/fine task step.
const fine = 256

// Grip is what hands find out about one knob on one path: what a stroke of so many
// detents at such a pace brings, and how late one detent alone shows. It is found
// by turning the knob on the path itself, never by looking at a curve, and is then
// only read, so that many hands may share one.
type Grip struct {
	Smooth  bool
	IdleLag int64 // ns from a detent's last edge to the screen, path idle, mean over phases
	Base    int64 // what one slow detent brings, 1/fine task steps

	people  *People
	perTurn int64     // detents (quarter steps of a smooth knob) of a turn
	edges   int64     // per detent
	late    int64     // see encoder.Path.Late
	most    int       // longest stroke that any hand can plan, detents
	shares  [][]int32 // see tabulate
	detent  [speedClasses][paces]int64

	strokes  []int                          // the strokes that are planned, in detents, rising
	nearest  []int                          // where in strokes the longest one not longer than n is
	outcomes [speedClasses][paces][]outcome // by stroke
	blended  [paces][]outcome               // of people of all classes, by stroke
	exact    bool                           // every stroke brings its detents times the base
	faster   bool                           // some strokes bring more than their detents times the base
	gap      int64                          // ns between two detents' showing where a queue holds them up; 0 where nothing does
	longest  int64                          // ns, the latest change after the last detent that a stroke made, beyond the lag

	scratch // of learn

	mutex  sync.Mutex // of values
	values []*value   // one for each width of target that was asked for
}

// scratch is what learning needs for a while.
type scratch struct {
	buffer []int64
	at     atPace
	tally  tally
	points []point
	room   []box // for the boxes of outcomes to come
	err    error // the first trial that was given up
}

// NewGrip lets people of one operator find out about a knob.
func NewGrip(s encoder.Setup, people *People) (*Grip, error) {
	if s.Rig.Firmware.Output != encoder.AxisOutput {
		s.Scale.Count = 0 // no end shall cut a stroke short
	}
	path, err := encoder.NewPath(s)
	if err != nil {
		return nil, err
	}
	g := &Grip{
		Smooth:  s.Rig.Knob.Detents == 0,
		people:  people,
		perTurn: int64(s.Rig.Knob.UnitsPerTurn()),
		edges:   int64(path.EdgesPerDetent()),
		late:    path.Late(),
	}
	g.most = max(1, int(maxReachDeg*g.perTurn/360))
	g.nearest = make([]int, g.most+1)
	grain := 12 // what is planned differs by less than noise makes of it
	if g.Smooth {
		grain = 6
	}
	for n := 1; n <= g.most; n += max(1, n/grain) {
		g.strokes = append(g.strokes, n)
	}
	if g.strokes[len(g.strokes)-1] < g.most {
		g.strokes = append(g.strokes, g.most)
	}
	at := 0
	for n := 1; n <= g.most; n++ {
		if at+1 < len(g.strokes) && g.strokes[at+1] <= n {
			at++
		}
		g.nearest[n] = at
	}
	g.tabulate()
	for k := range g.detent {
		for p := range paces {
			g.detent[k][p] = int64(math.Round(360e9 / float64(people.degPerS(k, p)*float64(g.perTurn))))
		}
	}
	middle := s.Scale.Count / 2
	if err := g.feel(path, middle, s.Rig); err != nil {
		return nil, err
	}
	g.learn(path, middle)
	if g.err != nil {
		return nil, g.err
	}
	g.scratch = scratch{}
	return g, nil
}

// degPerS returns pace p of people of speed class k: geometric from click by
// click to a flick.
func (p *People) degPerS(k, pace int) float64 {
	z := classNormal(k, speedClasses)
	of := func(mean, cv float64) float64 { return max(mean*(1+float64(cv*z)), mean/4) }
	slow := of(p.operator.SlowDegPerS.Mean, p.operator.SlowDegPerS.CV)
	fast := max(slow, of(p.operator.FastDegPerS.Mean, p.operator.FastDegPerS.CV))
	return slow * math.Pow(fast/slow, float64(pace)/(paces-1))
}

// How often single detents are felt on an idle path: in so many phases, so many
// detents, so far apart that the knob is at rest whatever an acceleration takes for
// a rest. Not a round time, so that the detents meet all phases of a clock.
const (
	feltPhases  = 8
	feltDetents = 8
	feltApart   = 2_510_011_003 // ns
)

// feel turns single detents.
func (g *Grip) feel(path *encoder.Path, middle int64, rig *encoder.Rig) error {
	lag, seen, travel := int64(0), int64(0), int64(0)
	for i := range feltPhases {
		path.Start(draw.NewTrial(0, "one detent", i), middle)
		changes := 0
		for k := range int64(feltDetents) {
			at := (k + 1) * feltApart
			path.Detent(at, +1)
			path.RunTo(at + feltApart - 1)
			if c := path.Changes()[changes:]; len(c) > 0 {
				lag += c[0].At - at
				seen++
				changes += len(c)
			}
		}
		path.Finish()
		if err := path.Err(); err != nil {
			return err
		}
		travel += abs(path.Shown(math.MaxInt64) - middle)
	}
	if seen == 0 {
		return fmt.Errorf("rig %q: none of %d single detents changed the number", rig.Name, feltPhases*feltDetents)
	}
	g.IdleLag = max(0, lag/seen)
	g.Base = max(1, travel*fine/seen)
	return nil
}

// edgeTimes appends the times of the edges of detent k (from 0) of a stroke of n
// detents that moves from start on for so long, with minimum-jerk timing: edge j
// of the detent lies at progress (k+(j−½)/E)/n.
func (g *Grip) edgeTimes(times []int64, start, lasts, k, n int64) []int64 {
	if n < int64(len(g.shares)) && g.shares[n] != nil {
		for _, share := range g.shares[n][k*g.edges : (k+1)*g.edges] {
			times = append(times, start+lasts*int64(share)>>wholeShift)
		}
		return times
	}
	for j := int64(1); j <= g.edges; j++ {
		times = append(times, start+lasts*g.share(k, j, n)>>wholeShift)
	}
	return times
}

// share is the share of a stroke's time, in 1/whole, at which an edge comes.
func (g *Grip) share(k, j, n int64) int64 {
	at := 1000*(g.edges*k+j) - 500
	if (g.edges-j)%2 == 1 {
		at += g.late
	}
	return timeAt(whole * at / (1000 * g.edges * n))
}

// tabulate keeps the shares of strokes that are short enough.
func (g *Grip) tabulate() {
	const room = 32
	g.shares = make([][]int32, max(min(2*g.most, room), g.most)+1)
	for n := range min(2*g.most, room) {
		g.keepShares(int64(n + 1))
	}
}

// keepShares keeps the shares of the strokes of n detents.
func (g *Grip) keepShares(n int64) {
	if g.shares[n] != nil {
		return
	}
	for k := range n {
		for j := int64(1); j <= g.edges; j++ {
			g.shares[n] = append(g.shares[n], int32(g.share(k, j, n)))
		}
	}
}

func abs(v int64) int64 { return max(v, -v) }
