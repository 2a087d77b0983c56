package hand

import (
	"fmt"
	"math"

	"dialwright/encoder"
	"dialwright/encoder/draw"
)

// Distances inside a plan are whole numbers of 1/fine task step.
const fine = 256

// Grip is what hands find out about one knob on one path: how far a stroke of so
// many detents at such a pace carries the number, what share of its detents
// arrives, and how late one detent alone shows. It is measured by turning the
// knob on the path itself, once per speed class, and is then only read.
type Grip struct {
	Smooth  bool
	IdleLag int64 // ns from a detent's last edge to the screen, path idle
	Base    int64 // what one slow detent brings, 1/fine task steps

	unit   int64 // angle of a detent, thousandths of a degree
	edges  int64 // per detent
	late   int64
	most   int // longest stroke that any hand can plan, detents
	speeds [speedClasses]speed
}

// speed is what a class of people does with the knob.
type speed struct {
	detent  [paces]int64 // time per detent, ns
	travel  []int64      // of n detents at pace p, if all arrive: travel[n*paces+p], 1/fine steps
	arrives []int64      // share of them that arrives, in 1/65536
}

// phases is how many random phases a stroke is tried at; idlePhases, one detent
// alone.
const (
	phases     = 8
	idlePhases = 64
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
		Smooth: s.Rig.Knob.Detents == 0,
		unit:   int64(math.Round(360_000 / float64(s.Rig.Knob.UnitsPerTurn()))),
		edges:  int64(path.EdgesPerDetent()),
		late:   path.Late(),
	}
	g.most = max(1, int(maxReachDeg*1000/g.unit))
	middle := s.Scale.Count / 2
	g.measureIdle(path, middle)
	if g.Base == 0 {
		return nil, fmt.Errorf("rig %q: none of %d single detents changed the number", s.Rig.Name, idlePhases)
	}
	var buf []int64
	for k := range g.speeds {
		v := &g.speeds[k]
		v.travel = make([]int64, (g.most+1)*paces)
		v.arrives = make([]int64, (g.most+1)*paces)
		for p := range paces {
			v.detent[p] = int64(math.Round(float64(g.unit) / 1000 / people.degPerS(k, p) * 1e9))
			for n := 1; n <= g.most; n++ {
				i := n*paces + p
				v.travel[i], v.arrives[i] = g.measureStroke(path, middle, n, v.detent[p], &buf)
			}
		}
	}
	return g, nil
}

// degPerS returns pace p of people of speed class k: geometric from click by
// click to a flick.
func (p *People) degPerS(k, pace int) float64 {
	z := classNormal(k, speedClasses)
	slow := p.operator.SlowDegPerS.Mean * (1 + float64(p.operator.SlowDegPerS.CV*z))
	fast := p.operator.FastDegPerS.Mean * (1 + float64(p.operator.FastDegPerS.CV*z))
	slow = max(slow, p.operator.SlowDegPerS.Mean/4)
	fast = max(fast, slow)
	return slow * math.Pow(fast/slow, float64(pace)/(paces-1))
}

// measureIdle turns single detents on an idle path.
func (g *Grip) measureIdle(path *encoder.Path, middle int64) {
	lag, seen, travel := int64(0), int64(0), int64(0)
	for i := range idlePhases {
		const at = 2e9
		path.Start(draw.NewTrial(0, "idle", i), middle)
		path.Detent(at, +1)
		path.Finish()
		if c := path.Changes(); len(c) > 0 {
			lag += c[0].At - at
			travel += max(c[len(c)-1].Value-middle, middle-c[len(c)-1].Value)
			seen++
		}
	}
	if seen > 0 {
		g.IdleLag = lag / seen
		g.Base = max(1, travel*fine/seen)
	}
}

// measureStroke turns a stroke on an idle path and returns its travel, were all
// detents to arrive, and the share that does.
func (g *Grip) measureStroke(path *encoder.Path, middle int64, n int, detent int64, buf *[]int64) (travel, arrives int64) {
	moved, arrived := int64(0), int64(0)
	for i := range phases {
		path.Start(draw.NewTrial(0, "stroke", i), middle)
		for k := range n {
			*buf = g.edgeTimes((*buf)[:0], 2e9, int64(n)*detent, int64(k), int64(n))
			path.Turn(+1, *buf)
		}
		path.Finish()
		a := path.Account()
		d := path.Shown(math.MaxInt64) - middle
		moved += max(d, -d)
		if a.Presses > 0 && a.Pulses == 0 { // a firmware hold: detents have no fate
			arrived += int64(min(a.Steps, n))
		} else {
			arrived += int64(a.Delivered)
		}
	}
	if arrived == 0 || moved == 0 {
		return int64(n) * g.Base, 65536 / 16
	}
	return moved * fine * int64(n) / arrived, max(arrived*65536/int64(n*phases), 65536/16)
}

// edgeTimes appends the times of the edges of detent k (from 0) of a stroke of n
// detents that moves from `start` on for `lasts`, with minimum-jerk timing: edge j
// of the detent lies at progress (k+(j−½)/E)/n.
func (g *Grip) edgeTimes(times []int64, start, lasts, k, n int64) []int64 {
	for j := int64(1); j <= g.edges; j++ {
		at := 1000*(g.edges*k+j) - 500
		if (g.edges-j)%2 == 1 {
			at += g.late
		}
		times = append(times, start+lasts*timeAt(whole*at/(1000*g.edges*n))/whole)
	}
	return times
}
