package hand

import (
	"math"

	"dialwright/encoder"
	"dialwright/encoder/draw"
)

// motion is how people of one operator move a knob.
type motion struct {
	Smooth bool

	people  *People
	perTurn int64     // detents (quarter steps of a smooth knob) of a turn
	edges   int64     // per detent
	late    int64     // see encoder.Path.Late
	most    int       // longest stroke that any hand can plan, detents
	shares  [][]int32 // see tabulate
	detent  [speedClasses][paces]int64
	rate    [rates]int64 // the time of a detent at each rate of experience, ns

	strokes []int // the strokes that are planned, in detents, rising
	nearest []int // where in strokes the longest one not longer than n is
	lengths []int // of the strokes of experience, detents, rising
}

// newMotion is how people move the knob of a rig.
func newMotion(r *encoder.Rig, path *encoder.Path, people *People) *motion {
	m := &motion{
		Smooth:  r.Knob.Detents == 0,
		people:  people,
		perTurn: int64(r.Knob.UnitsPerTurn()),
		edges:   int64(path.EdgesPerDetent()),
		late:    path.Late(),
	}
	m.most = max(1, int(maxReachDeg*m.perTurn/360))
	grain := 12 // what is planned differs by less than noise makes of it
	if m.Smooth {
		grain = 6
	}
	for n := 1; n <= m.most; n += max(1, n/grain) {
		m.strokes = append(m.strokes, n)
	}
	if m.strokes[len(m.strokes)-1] < m.most {
		m.strokes = append(m.strokes, m.most)
	}
	m.nearest = make([]int, m.most+1)
	at := 0
	for n := 1; n <= m.most; n++ {
		if at+1 < len(m.strokes) && m.strokes[at+1] <= n {
			at++
		}
		m.nearest[n] = at
	}
	for n := 1; n < m.most; n = m.longer(n) {
		m.lengths = append(m.lengths, n)
	}
	m.lengths = append(m.lengths, m.most)
	m.tabulate()
	for c := range m.detent {
		for p := range paces {
			m.detent[c][p] = int64(math.Round(360e9 / float64(people.degPerS(c, p)*float64(m.perTurn))))
		}
	}
	slow, fast := m.span()
	for r := range m.rate {
		m.rate[r] = int64(math.Round(slow * math.Pow(fast/slow, float64(r-1)/(paces-1))))
	}
	return m
}

// reach returns the longest stroke of a hand that twists so far, in thousandths of
// a degree.
func (m *motion) reach(twist int64) int {
	return max(1, min(int(twist*m.perTurn/360_000), m.most))
}

// noisy is the time of a detent for sample s of so many: their deviates are equally
// likely, and not in the order of their size, so that they do not follow the phases.
func (m *motion) noisy(detent int64, s, of int) int64 {
	z := classNormal((5*s+of/2)%of, of)
	return int64(math.Round(float64(detent) * max(0.25, 1+z*float64(m.people.pace.mean)/draw.One)))
}

// span is the time of a detent at the slowest and at the fastest pace of the middle
// class of people, ns.
func (m *motion) span() (slow, fast float64) {
	middle := &m.detent[speedClasses/2]
	return float64(middle[0]), float64(middle[paces-1])
}

// swing is a stroke of n detents that moves from an instant on for so long.
type swing struct{ start, lasts, n int64 } // ns

// at returns when a share of the stroke's time, in 1/whole, is over.
func (s swing) at(share int64) int64 { return s.start + s.lasts*share>>wholeShift }

// edge returns the time of edge i, counted from 0 over the whole stroke, with
// minimum-jerk timing: edge j of detent k (from 0) lies at progress (k+(j−½)/E)/n.
func (m *motion) edge(s swing, i int64) int64 {
	if shares := m.kept(s.n); shares != nil {
		return s.at(int64(shares[i]))
	}
	return s.at(m.share(i/m.edges, i%m.edges+1, s.n))
}

// ends returns when each detent is complete. It takes the room of a slice.
func (m *motion) ends(times []int64, s swing) []int64 {
	times = times[:0]
	shares, e := m.kept(s.n), int(m.edges)
	for i := e - 1; i < len(shares); i += e {
		times = append(times, s.at(int64(shares[i])))
	}
	for k := int64(len(times)); k < s.n; k++ {
		times = append(times, s.at(m.share(k, m.edges, s.n)))
	}
	return times
}

// edgeTimes appends the times of the edges of detent k.
func (m *motion) edgeTimes(times []int64, s swing, k int64) []int64 {
	for i := k * m.edges; i < (k+1)*m.edges; i++ {
		times = append(times, m.edge(s, i))
	}
	return times
}

// apart is a share of a stroke's time, in 1/whole, below which no two of its edges follow
// one another: not even at the peak of its speed, 15/8 of the mean. Shares are rounded.
func (m *motion) apart(n int64) int64 {
	return max(0, whole*(1000-m.late)/(1000*m.edges*n)*8/15-3)
}

// turn makes a stroke on a path, its detents complete at the given ends. It returns the
// buffer for the times of its edges.
func (m *motion) turn(p *encoder.Path, s swing, dir int8, ends, edges []int64) []int64 {
	if p.StrokeApart(dir, m.edge(s, 0), m.edge(s, max(0, s.n*m.edges-2)), s.lasts*m.apart(s.n)>>wholeShift, ends) {
		return edges
	}
	edges = edges[:0]
	for k := range s.n {
		edges = m.edgeTimes(edges, s, k)
	}
	p.Stroke(dir, edges)
	return edges
}

// share is the share of a stroke's time, in 1/whole, at which an edge comes.
func (m *motion) share(k, j, n int64) int64 {
	at := 1000*(m.edges*k+j) - 500
	if (m.edges-j)%2 == 1 {
		at += m.late
	}
	return timeAt(whole * at / (1000 * m.edges * n))
}

// tabulate keeps the shares of strokes that are short, and of those of experience.
func (m *motion) tabulate() {
	const room = 32
	m.shares = make([][]int32, max(min(2*m.most, room), m.most)+1)
	for n := range min(2*m.most, room) {
		m.keepShares(int64(n + 1))
	}
	for _, n := range m.lengths {
		m.keepShares(int64(n))
	}
}

// kept returns the shares of strokes of n detents, or nil.
func (m *motion) kept(n int64) []int32 {
	if n < int64(len(m.shares)) {
		return m.shares[n]
	}
	return nil
}

// keepShares keeps the shares of the strokes of n detents.
func (m *motion) keepShares(n int64) {
	if m.shares[n] != nil {
		return
	}
	for k := range n {
		for j := int64(1); j <= m.edges; j++ {
			m.shares[n] = append(m.shares[n], int32(m.share(k, j, n)))
		}
	}
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
