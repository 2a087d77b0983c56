package fit

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"dialwright/encoder"
	"dialwright/scenarios"
)

// CountTest is what count tests say about the path.
type CountTest struct {
	Counts   []Count
	Nothing  bool     // nothing was lost and nothing added
	Explains bool     // some rig of the family shows what was counted
	Links    []Blamed // the link that most likely loses most clicks first
	Paths    []Explained
	Next     *Next // nil where no further count would tell much
	Rigs     int   // of the family
}

// Explained is a path that explains the counts.
type Explained struct {
	Rig    encoder.Rig
	Weight float64        // of all rigs of the family
	Link   scenarios.Link // that loses most clicks in it
	Loses  bool           // it loses any
	Shows  []float64      // what it shows in each count, on average
}

// TestCounts finds which paths explain counts, which link loses the clicks, and what
// to count next.
func (f *Family) TestCounts(ctx context.Context, counts []Count) (*CountTest, error) {
	if len(counts) == 0 {
		return nil, fmt.Errorf("no counts; 'turned 48 in 1.6s shown 31' would do")
	}
	w, err := f.weigh(ctx, counts)
	if err != nil {
		return nil, err
	}
	t := &CountTest{Counts: counts, Links: f.blame(counts, w), Rigs: len(f.rigs), Nothing: true}
	for _, c := range counts {
		t.Nothing = t.Nothing && c.Shown == c.Turned
	}
	order := make([]int, len(w))
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(w[b], w[a]) })
	t.Explains = f.shows(counts, order[0])
	var seen [scenarios.Links]bool
	for _, k := range order {
		top, lost := topOf(f.lostOf(counts, k))
		if seen[top] || w[k] < w[order[0]]/1000 || !f.shows(counts, k) {
			continue
		}
		seen[top] = true
		e := Explained{Rig: f.rigs[k], Weight: w[k], Link: top, Loses: lost > 0}
		for _, c := range counts {
			e.Shows = append(e.Shows, f.shown(c, k))
		}
		t.Paths = append(t.Paths, e)
	}
	t.Next, err = f.next(ctx, counts, w)
	return t, err
}

// shown returns what a rig shows in a count test, on average.
func (f *Family) shown(c Count, k int) float64 {
	m := 0.0
	for _, o := range f.done[c.tempo()][k] {
		m += float64(o.shown) / drawsACount
	}
	return m
}

// shows says whether a rig shows what was counted, within what a person may misread
// and chance brings.
func (f *Family) shows(counts []Count, k int) bool {
	for _, c := range counts {
		if math.Abs(float64(c.Shown)-f.shown(c, k)) > 3*misread(c.Turned)+0.05*float64(c.Turned) {
			return false
		}
	}
	return true
}

// Blamed is a link and what the counts say of it.
type Blamed struct {
	Link  scenarios.Link
	First float64 // probability that it loses more clicks than any other link
	Share float64 // of the clicks of the counts, expected to be lost there
}

// misread is how far a person's count may be off, in steps, as a standard deviation:
// half a step and a share of the clicks turned.
func misread(turned int) float64 { return math.Hypot(0.6, 0.02*float64(turned)) }

// likelihood of what was shown, given what a rig shows when it is turned like that.
// One count in a hundred may be anything.
func likelihood(c Count, os *[drawsACount]outcome) float64 {
	m, v := 0.0, 0.0
	for _, o := range os {
		m += float64(o.shown) / drawsACount
	}
	for _, o := range os {
		v += (float64(o.shown) - m) * (float64(o.shown) - m) / (drawsACount - 1)
	}
	sd := math.Sqrt(misread(c.Turned)*misread(c.Turned) + v)
	z := (float64(c.Shown) - m) / sd
	return math.Exp(-z*z/2)/(sd*math.Sqrt(2*math.Pi)) + 0.01/float64(c.Turned+1)
}

// weigh returns how likely each rig of the family is, given counts.
func (f *Family) weigh(ctx context.Context, counts []Count) ([]float64, error) {
	w := make([]float64, len(f.rigs))
	for k := range w {
		w[k] = 1
	}
	for _, c := range counts {
		all, err := f.outcomes(ctx, c.tempo())
		if err != nil {
			return nil, err
		}
		for k := range w {
			w[k] *= likelihood(c, &all[k])
		}
	}
	sum := 0.0
	for _, x := range w {
		sum += x
	}
	for k := range w {
		w[k] /= sum
	}
	return w, nil
}

// blame ranks the links.
func (f *Family) blame(counts []Count, w []float64) []Blamed {
	bs := make([]Blamed, scenarios.Links)
	for l := range bs {
		bs[l].Link = scenarios.Link(l)
	}
	turned := 0
	for _, c := range counts {
		turned += c.Turned
	}
	for k := range w {
		lost := f.lostOf(counts, k)
		for _, l := range losing {
			bs[l].Share += w[k] * lost[l] / float64(turned)
		}
		if top, most := topOf(lost); most > 0 {
			bs[top].First += w[k]
		}
	}
	bs = slices.DeleteFunc(bs, func(b Blamed) bool { return !slices.Contains(losing, b.Link) })
	slices.SortStableFunc(bs, func(a, b Blamed) int { return cmp.Compare(b.First, a.First) })
	return bs
}

// lostOf returns how many clicks of the counts a rig loses at each link, on average.
func (f *Family) lostOf(counts []Count, k int) (lost [scenarios.Links]float64) {
	for _, c := range counts {
		for _, o := range f.done[c.tempo()][k] {
			for _, l := range losing {
				lost[l] += float64(o.lost[l]) / drawsACount
			}
		}
	}
	return lost
}
