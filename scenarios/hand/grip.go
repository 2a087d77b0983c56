package hand

import (
	"fmt"
	"math"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/encoder/draw"
)

// Distances inside a plan are whole numbers of 1/fine task step.
const fine = 256

// Grip is what hands find out about one knob on one path: how far a stroke of so
// many detents at such a pace carries the number, what share of that arrives, and
// how late one detent alone shows. It is measured by turning the knob on the path
// itself and is then only read, so many hands may share one.
type Grip struct {
	Smooth  bool
	IdleLag int64 // ns from a detent's last edge to the screen, path idle, mean over phases
	Base    int64 // what one slow detent brings, 1/fine task steps

	people   *People
	perTurn  int64     // detents (quarter steps of a smooth knob) of a turn
	edges    int64     // per detent
	late     int64     // see encoder.Path.Late
	most     int       // longest stroke that any hand can plan, detents
	shares   [][]int32 // see tabulate
	curved   bool      // the travel depends on the pace
	strokes  []int     // the strokes that are tabulated, in detents, rising
	nearest  []int     // where in strokes the longest one not longer than n is
	speeds   [speedClasses]speed
	arriving [paces][]int64 // share of the travel that arrives, by stroke, in 1/65536
}

// speed is what a class of people does with the knob.
type speed struct {
	detent [paces]int64   // time per detent, ns
	travel [paces][]int64 // by stroke, what the curve makes of it, 1/fine steps
}

// How many random phases a stroke is tried at, and one detent alone.
const (
	strokePhases = 12
	idlePhases   = 32
)

// NewGrip measures a knob for people of one operator.
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
	for n := 1; n <= g.most; n += max(1, n/12) {
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
	if err := g.measureIdle(path, &s); err != nil {
		return nil, err
	}
	for k := range g.speeds {
		for p := range paces {
			g.speeds[k].detent[p] = int64(math.Round(360e9 / float64(people.degPerS(k, p)*float64(g.perTurn))))
			g.speeds[k].travel[p] = g.predict(&s, g.speeds[k].detent[p])
		}
	}
	g.measureStrokes(path, s.Scale.Count/2)
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

// measureIdle turns single detents on an idle path.
func (g *Grip) measureIdle(path *encoder.Path, s *encoder.Setup) error {
	lag, seen, travel := int64(0), int64(0), int64(0)
	middle := s.Scale.Count / 2
	for i := range idlePhases {
		const at = 2e9
		path.Start(draw.NewTrial(0, "one detent", i), middle)
		path.Detent(at, +1)
		path.Finish()
		if c := path.Changes(); len(c) > 0 {
			lag += c[0].At - at
			travel += abs(c[len(c)-1].Value - middle)
			seen++
		}
	}
	if seen == 0 {
		return fmt.Errorf("rig %q: none of %d single detents changed the number", s.Rig.Name, idlePhases)
	}
	g.IdleLag = max(0, lag/seen)
	base := travel * fine / seen
	if gain := s.Gain; gain != nil { // a first detent leaves its fraction behind
		var fresh accel.State
		plain := *gain
		plain.Landing = 0
		base = base * plain.AtInterval(math.MaxInt64) / (plain.Detent(&fresh, 0, +1, 0) * fine)
	}
	g.Base = max(1, base)
	if f := &s.Rig.Firmware; f.Output == encoder.AxisOutput {
		g.Base = max(1, int64(f.Axis.CountsPerDetent)*(s.Scale.Count-1)*fine/(1<<f.Axis.Bits-1))
	}
	return nil
}

// predict returns, for every tabulated stroke, what the curve makes of it at a
// pace, from rest and in the intervals that the acceleration sees. Nobody keeps a
// pace exactly: it is the mean over the pace and one standard deviation either way.
func (g *Grip) predict(s *encoder.Setup, detent int64) []int64 {
	travel := make([]int64, len(g.strokes))
	curve := s.Gain
	if s.Rig.Firmware.Output == encoder.AxisOutput {
		curve = nil
	}
	atRest := int64(fine)
	if curve != nil {
		plain := *curve
		plain.Landing = 0 // on the average landing changes little
		curve = &plain
		atRest = curve.AtInterval(math.MaxInt64)
		if _, constant := curve.Constant(); constant {
			curve = nil
		}
	}
	coarse := &s.Rig.Firmware.Coarse
	off := detent * g.people.pace.mean >> 20
	for i, n := range g.strokes {
		travel[i] = int64(n) * g.Base
		if curve == nil && coarse.Above == 0 {
			continue
		}
		g.curved = true
		sum := int64(0)
		for _, d := range [...]int64{detent - off, detent, detent + off} {
			var state accel.State
			before := int64(math.MinInt64 / 2)
			for k := range int64(n) {
				at := 2e9 + g.detentAt(g.people.delays[begin].mean+int64(n)*d, k, int64(n))
				switch {
				case coarse.Above > 0 && at-before < int64(coarse.Above.Period()):
					sum += int64(coarse.Steps) * fine
				case curve == nil:
					sum += atRest
				default:
					sum += curve.Detent(&state, curve.Ticks(at), +1, 0) * fine
				}
				before = at
			}
		}
		travel[i] = sum * g.Base / (3 * atRest)
	}
	return travel
}

// measureStrokes turns strokes of the middle speed class on an idle path: a short,
// a middling and a long one at each pace. What lies between is interpolated.
func (g *Grip) measureStrokes(path *encoder.Path, middle int64) {
	reach := max(1, int(g.people.reach.mean*g.perTurn/360_000))
	typical := &g.speeds[speedClasses/2]
	var buf []int64
	for p := range paces {
		g.arriving[p] = make([]int64, len(g.strokes))
		before, share := 0, int64(65536)
		for _, n := range []int{1, (reach + 1) / 2, reach} {
			moved := int64(0)
			for i := range strokePhases {
				path.Start(draw.NewTrial(0, "one stroke", i), middle)
				for k := range int64(n) {
					buf = g.edgeTimes(buf[:0], 2e9, g.people.delays[begin].mean+int64(n)*typical.detent[p], k, int64(n))
					path.Turn(+1, buf)
				}
				path.Finish()
				moved += abs(path.Shown(math.MaxInt64) - middle)
			}
			due := max(fine, g.between(typical.travel[p], n)&^(fine-1)) // a fraction is still to come
			got := max(65536/32, moved*fine*65536/strokePhases/due)
			if before == 0 {
				share = got
			}
			for i, m := range g.strokes {
				if m > before && (m <= n || n == reach) {
					g.arriving[p][i] = share + (got-share)*int64(min(m, n)-before)/int64(max(1, n-before))
				}
			}
			before, share = n, got
		}
	}
}

// between returns a table's value for a stroke of n detents.
func (g *Grip) between(table []int64, n int) int64 {
	i := g.nearest[n]
	m := g.strokes[i]
	if m == n {
		return table[i]
	}
	return table[i] + (table[i+1]-table[i])*int64(n-m)/int64(g.strokes[i+1]-m)
}

// detentAt returns when detent k (from 0) of a stroke of n detents is complete,
// from the stroke's start.
func (g *Grip) detentAt(lasts, k, n int64) int64 {
	return lasts * timeAt((2*g.edges*(k+1)-1)*whole/(2*g.edges*n)) / whole
}

// edgeTimes appends the times of the edges of detent k (from 0) of a stroke of n
// detents that moves from start on for so long, with minimum-jerk timing: edge j
// of the detent lies at progress (k+(j−½)/E)/n.
func (g *Grip) edgeTimes(times []int64, start, lasts, k, n int64) []int64 {
	if n < int64(len(g.shares)) {
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
	g.shares = make([][]int32, min(2*g.most, room)+1)
	for n := range int64(len(g.shares)) {
		for k := range n {
			for j := int64(1); j <= g.edges; j++ {
				g.shares[n] = append(g.shares[n], int32(g.share(k, j, n)))
			}
		}
	}
}

func abs(v int64) int64 { return max(v, -v) }
