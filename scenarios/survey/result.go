package survey

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"dialwright/scenarios"
	"dialwright/scenarios/paired"
)

// Result is what a survey found. Times are in seconds, shares 0 to 1.
type Result struct {
	Part       *Part
	Members    int // that were done and can be dialed on
	Dead       int // whose rigs cannot be dialed on; they count nowhere else
	Candidates []Candidate
	Ranking    []int // candidates, the least mean time first
	Judged     int   // the candidate that the others are compared with: the first of the ranking
	Losses     []Loss
	Keys       []Spread

	mean   [][]float64 // [candidate][member] s
	regret [][]float64
	alive  []*member
}

// Candidate is what a profile came to over the members.
type Candidate struct {
	Name        string
	Stays       int             // members on whose rigs it cannot be set; they stay plain
	Mean        paired.Estimate // of the members' mean times
	Median      paired.Estimate // of the same
	WorstTenth  float64         // mean of the slowest tenth of members
	Within      paired.Estimate // share of members on whose rigs it keeps to the caps
	Regret      paired.Estimate // mean of how much slower it is than the best candidate for the member
	Regret95    float64         // one member in twenty loses as much or more
	Best        float64         // share of members for which none is quicker; ties count for all
	AgainstBest Difference      // to the judged candidate; none for that one
	Overshoot   paired.Estimate // share of all trials
	Lost        paired.Estimate // share of all detents
	Timeouts    uint64

	Trial Trial
}

// Trial is all trials of a candidate, whoever did them. Quantiles are those of a
// histogram: off by at most sample.Resolution; +Inf among timeouts.
type Trial struct {
	N                     uint64
	Mean, SD              float64
	Median, P90, P95, P99 float64
}

// Difference is a mean difference between two candidates over members, s.
type Difference struct {
	paired.Estimate
	P float64 // two-sided, adjusted for all differences of its kind (Holm)
}

// Found says whether there is a difference.
func (d Difference) Found() bool { return d.P < 1-paired.Level }

// Spread is the regret over one key of the population.
type Spread struct {
	Key    string
	Ranges []Range
}

// Range is the members in a part of a key's values.
type Range struct {
	Name    string // "below 24/s", "keys"
	Members int
	Regret  []paired.Estimate // by candidate
	Quicker int               // the candidate that is quickest here
	Gap     Difference        // by how much the judged one is slower than it; zero where it is that one

	low, high int64
	who       []int
}

// Loss is a range in which the judged candidate loses to another one.
type Loss struct {
	Key   string
	Range *Range
}

// Sum says what the members of a part came to, and judges the quickest candidate.
func Sum(p *Part) (*Result, error) { return Judge(p, -1) }

// Judge says what the members of a part came to, and how a candidate does beside the
// others and where it fails; the quickest, where its number is negative.
func Judge(p *Part, candidate int) (*Result, error) {
	r := &Result{Part: p}
	for i := range p.members {
		switch m := &p.members[i]; {
		case !m.done:
		case m.dead:
			r.Dead++
		default:
			r.alive = append(r.alive, m)
		}
	}
	if r.Members = len(r.alive); r.Members == 0 {
		return nil, errors.New("no member's rig can be dialed on")
	}
	n := len(p.Candidates)
	r.mean, r.regret = make([][]float64, n), make([][]float64, n)
	for c := range n {
		r.mean[c], r.regret[c] = make([]float64, r.Members), make([]float64, r.Members)
		for i, m := range r.alive {
			r.mean[c][i] = m.of[c].time.Float() / (1e9 * float64(p.Trials))
		}
	}
	best := make([]float64, r.Members)
	for i := range best {
		best[i] = math.Inf(1)
		for c := range n {
			best[i] = min(best[i], r.mean[c][i])
		}
		for c := range n {
			r.regret[c][i] = r.mean[c][i] - best[i]
		}
	}
	for c := range n {
		r.Candidates = append(r.Candidates, r.candidate(c))
		r.Ranking = append(r.Ranking, c)
	}
	slices.SortStableFunc(r.Ranking, func(a, b int) int { return cmp.Compare(r.Candidates[a].Mean.Value, r.Candidates[b].Mean.Value) })
	if r.Judged = candidate; candidate < 0 {
		r.Judged = r.Ranking[0]
	}
	r.compare()
	r.spread()
	return r, nil
}

func (r *Result) candidate(c int) Candidate {
	x := Candidate{
		Name: r.Part.Candidates[c], Mean: paired.ClusterMean(r.mean[c]), Median: paired.QuantileInterval(r.mean[c], 0.5),
		Regret: paired.ClusterMean(r.regret[c]), Regret95: paired.Quantile(r.regret[c], 0.95),
	}
	var within, best int
	over, trials, lost, detents := make([]int, r.Members), make([]int, r.Members), make([]int, r.Members), make([]int, r.Members)
	for i, m := range r.alive {
		o := &m.of[c]
		over[i], trials[i], lost[i], detents[i] = int(o.overshot), r.Part.Trials, int(o.lost), int(o.detents)
		x.Timeouts += o.timeouts
		if m.stays>>c&1 == 1 {
			x.Stays++
		}
		if float64(o.overshot) <= r.Part.Caps.Overshoot*float64(r.Part.Trials) && float64(o.lost) <= r.Part.Caps.Lost*float64(o.detents) {
			within++
		}
		if r.regret[c][i] == 0 {
			best++
		}
	}
	x.Within, x.Best = paired.MemberShare(within, r.Members), float64(best)/float64(r.Members)
	slow := slices.Clone(r.mean[c])
	slices.Sort(slow)
	slow = slow[len(slow)-(len(slow)+9)/10:]
	for _, s := range slow {
		x.WorstTenth += s
	}
	x.WorstTenth /= float64(len(slow))
	x.Overshoot, x.Lost = paired.ClusterShare(over, trials), paired.ClusterShare(lost, detents)
	x.Trial = r.Part.totals[c].said()
	return x
}

func (t *Total) said() Trial {
	n := float64(max(1, t.Trials))
	mean := t.Time.Float() / n
	squares := t.Squares.Float()/n - float64(mean*mean)
	q := func(per uint64) float64 {
		ns := t.Times.Quantile(per)
		if ns > Beyond/2 {
			return math.Inf(1)
		}
		return float64(ns) / 1e9
	}
	return Trial{t.Trials, mean / 1e9, math.Sqrt(max(0, squares)) / 1e9, q(500), q(900), q(950), q(990)}
}

// compare compares every candidate with the judged one.
func (r *Result) compare() {
	w := r.Judged
	r.Candidates[w].AgainstBest.P = 1
	everybody := make([]int, r.Members)
	for i := range everybody {
		everybody[i] = i
	}
	var family []*Difference
	for _, c := range r.Ranking {
		if c == w {
			continue
		}
		d := &r.Candidates[c].AgainstBest
		*d = r.difference(c, w, everybody)
		family = append(family, d)
	}
	together(family)
}

// difference is the mean difference of two candidates over some members. A member is
// one number, however many trials it did: trials of a member are alike, and only
// members say how much members differ.
func (r *Result) difference(a, b int, who []int) Difference {
	x := make([]float64, len(who))
	for k, i := range who {
		x[k] = r.mean[a][i] - r.mean[b][i]
	}
	return Difference{paired.ClusterMean(x), paired.ClusterP(x)}
}

// together adjusts the p values of differences that are read together.
func together(family []*Difference) {
	p := make([]float64, len(family))
	for i, d := range family {
		p[i] = d.P
	}
	for i, adjusted := range paired.Holm(p) {
		family[i].P = adjusted
	}
}

// rangesAKey is into how many parts the values of a key are divided.
const rangesAKey = 5

// leastMembers is how many members a range must have to be spoken of.
const leastMembers = 20

// spread says where the judged candidate loses.
func (r *Result) spread() {
	w := r.Judged
	var family []*Difference
	for k := range r.Part.Keys {
		s := Spread{Key: r.Part.Keys[k].Key, Ranges: r.divide(k)}
		s.Ranges = slices.DeleteFunc(s.Ranges, func(g Range) bool { return g.Members < 2 }) // one member says nothing of others
		if len(s.Ranges) < 2 {
			continue
		}
		for i := range s.Ranges {
			g := &s.Ranges[i]
			g.Quicker = w
			least := math.Inf(1)
			x := make([]float64, len(g.who))
			for c := range r.Candidates {
				for k, i := range g.who {
					x[k] = r.regret[c][i]
				}
				e := paired.ClusterMean(x)
				g.Regret = append(g.Regret, e)
				if e.Value < least {
					least, g.Quicker = e.Value, c
				}
			}
			if g.Quicker != w {
				g.Gap = r.difference(w, g.Quicker, g.who)
				g.Gap.P = min(1, g.Gap.P*float64(len(r.Candidates)-1)) // it was picked as the quickest of so many
				family = append(family, &g.Gap)
			}
		}
		r.Keys = append(r.Keys, s)
	}
	together(family)
	for k := range r.Keys {
		var worst *Range
		for i := range r.Keys[k].Ranges {
			g := &r.Keys[k].Ranges[i]
			if g.Quicker != w && g.Gap.Found() && g.Members >= leastMembers && (worst == nil || g.matters() > worst.matters()) {
				worst = g
			}
		}
		if worst != nil {
			r.Losses = append(r.Losses, Loss{r.Keys[k].Key, worst})
		}
	}
	slices.SortStableFunc(r.Losses, func(a, b Loss) int { return cmp.Compare(b.Range.matters(), a.Range.matters()) })
}

// matters is what the judged one loses in a range, over the whole population.
func (g *Range) matters() float64 { return g.Gap.Value * float64(g.Members) }

// divide parts the members by their values of a key: one range for each value where
// they are listed or few, else fifths of the members. Members whose rigs do not use
// the key are in none.
func (r *Result) divide(k int) []Range {
	key := &r.Part.Keys[k]
	var who []int
	for i, m := range r.alive {
		if m.at[k] != scenarios.NotUsed {
			who = append(who, i)
		}
	}
	at := func(i int) int64 { return r.alive[i].at[k] }
	slices.SortStableFunc(who, func(a, b int) int { return cmp.Compare(at(a), at(b)) })
	values := 0
	for j, i := range who {
		if j == 0 || at(i) != at(who[j-1]) {
			values++
		}
	}
	each := key.Listed() || values <= rangesAKey+1
	var list []Range
	for j := 0; j < len(who); {
		z := j + 1
		for z < len(who) && (at(who[z]) == at(who[j]) || !each && (z*rangesAKey)/len(who) == len(list)) {
			z++
		}
		for z < len(who) && at(who[z]) == at(who[z-1]) { // equal values stay together
			z++
		}
		list = append(list, Range{Members: z - j, who: who[j:z], low: at(who[j]), high: at(who[z-1])})
		j = z
	}
	for i := range list {
		g := &list[i]
		switch {
		case each:
			g.Name = key.Written(g.low)
		case i == 0:
			g.Name = "below " + key.Written(list[1].low)
		case i == len(list)-1:
			g.Name = key.Written(g.low) + " and more"
		default:
			g.Name = key.Written(g.low) + " to " + key.Written(list[i+1].low)
		}
	}
	return list
}
