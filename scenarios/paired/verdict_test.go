package paired

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"dialwright/encoder/draw"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// made returns a pair of n trials whose differences are d(u), u uniform in (0, 1).
func made(n int, d func(u float64) float64) Pair {
	p := Pair{A: "ladder", B: "plain", Task: "com-25", Limit: 300}
	s := stream("made", 0)
	for i := range n {
		base := 8 + 4*unit(s, n+i)
		p.TimesA, p.TimesB = append(p.TimesA, base+d(unit(s, i))), append(p.TimesB, base)
	}
	return p
}

// overshooting gives a pair outcomes with these counts, none as the rest.
func (p Pair) overshooting(both, onlyA, onlyB int) Pair {
	p.OvershotA, p.OvershotB = pairs(both, onlyA, onlyB, len(p.TimesA)-both-onlyA-onlyB)
	return p
}

func TestVerdictsInOneSentence(t *testing.T) {
	faster := func(u float64) float64 { return -1.8 + 4*(u-0.5) }
	slower := func(u float64) float64 { return 0.4 + 2*(u-0.5) }
	same := func(u float64) float64 { return 0.3 * (u - 0.5) }
	seldom := func(u float64) float64 { // 70 % exactly alike, the rest faster
		return min(0, u-0.3) * 8
	}
	none := func(float64) float64 { return 0 }
	stuck := func(u float64) float64 { // mostly a little faster, now and then far slower
		if u > 0.9 {
			return 20 + u
		}
		return -0.5 - u/10
	}
	split := func(u float64) float64 { // faster in more trials, by as much as the others are slower
		switch {
		case u < 0.45:
			return -0.5
		case u < 0.57:
			return 2
		}
		return 0
	}
	late := made(80, faster)
	for i := range late.TimesB {
		late.TimesB[i] = inf
	}
	late.TimesA[3] = inf
	hopeless := late
	hopeless.TimesA = late.TimesB
	quarter := made(400, none) // sums of powers of two are exact
	for i := range quarter.TimesA {
		quarter.TimesA[i], quarter.TimesB[i] = 7.75+float64(i%2), 8+float64(i%2)
	}
	unnamed := made(400, same)
	unnamed.Task = ""
	for _, c := range []struct {
		pair    Pair
		outcome Outcome
		want    string
	}{
		{made(400, faster), Faster, "ladder is 1.7 s faster than plain on com-25 (1.6 to 1.9 s)"},
		{made(400, faster).overshooting(20, 44, 8), Faster,
			"ladder is 1.7 s faster than plain on com-25 (1.6 to 1.9 s), but overshoots 9 points more often (6 to 13)"},
		{made(400, faster).overshooting(20, 8, 44), Faster,
			"ladder is 1.7 s faster than plain on com-25 (1.6 to 1.9 s), and overshoots 9 points less often (6 to 13)"},
		{made(400, faster).overshooting(20, 300, 8), Faster,
			"ladder is 1.7 s faster than plain on com-25 (1.6 to 1.9 s), but overshoots 73 points more often (68 to 77)"},
		{quarter, Faster, "ladder is 0.25 s faster than plain on com-25 (0.25 to 0.25 s)"},
		{made(400, faster).overshooting(20, 9, 8), Faster,
			"ladder is 1.7 s faster than plain on com-25 (1.6 to 1.9 s); no difference found in overshoot"},
		{made(400, slower).overshooting(20, 44, 8), Slower,
			"ladder is 0.4 s slower than plain on com-25 (0.3 to 0.5 s), and overshoots 9 points more often (6 to 13)"},
		{made(400, same), NoDifference, "no difference found between ladder and plain on com-25 (−0.01 to 0.02 s)"},
		{made(40, same).overshooting(2, 1, 1), NoDifference, "no difference found between ladder and plain on com-25 (−0.04 to 0.06 s)"},
		{made(400, same).overshooting(20, 44, 8), NoDifference,
			"no difference found between ladder and plain on com-25 (−0.01 to 0.02 s), but ladder overshoots 9 points more often (6 to 13)"},
		{unnamed, NoDifference, "no difference found between ladder and plain (−0.01 to 0.02 s)"},
		{made(400, none), NoDifference, "no difference found between ladder and plain on com-25 (the same time in all 400 trials)"},
		{made(5, faster), NoDifference, "no difference found between ladder and plain on com-25 (−3.7 to −0.3 s, which may be chance)"},
		{made(400, seldom), Faster,
			"ladder is 0.4 s faster than plain on average on com-25 (0.3 to 0.4 s; faster in 115, slower in 0, the same in 285 trials)"},
		{made(400, stuck), Mixed,
			"ladder is faster than plain in more trials on com-25 (faster in 358, slower in 42, the same in 0 trials), but 1.7 s slower on average (1.1 to 2.4 s)"},
		{made(1000, split), TooSmall, "no useful difference between ladder and plain on com-25 (−0.02 to 0.07 s)"},
		{made(1000, split).overshooting(20, 88, 16), TooSmall,
			"no useful difference between ladder and plain on com-25 (−0.02 to 0.07 s), but ladder overshoots 7 points more often (5 to 9)"},
		{late, Faster, "ladder is at least 291.6 s faster than plain on com-25 (291.0 s or more); of 80 trials 1 timed out with ladder, 80 with plain"},
		{hopeless, NoDifference,
			"no difference found between ladder and plain on com-25 (too many timeouts to tell); of 80 trials 80 timed out with ladder, 80 with plain"},
		{made(0, same), NoDifference, "no trials to compare ladder with plain on com-25"},
	} {
		v := Judge(c.pair, source)
		if v.Outcome() != c.outcome || v.Sentence() != c.want {
			t.Errorf("%v:\n got %s\nwant %s", v.Outcome(), v.Sentence(), c.want)
		}
	}
}

func TestIntervalsThatChanceExplainsAreNoDifference(t *testing.T) {
	found := Judge(made(10, func(u float64) float64 { return -0.2 - u }), source)
	if found.Outcome() != Faster {
		t.Fatalf("alone: %s", found.Sentence())
	}
	verdicts := []Verdict{found}
	for range 40 {
		verdicts = append(verdicts, Judge(made(400, func(float64) float64 { return 0 }), source))
	}
	Family(verdicts)
	want := "no difference found between ladder and plain on com-25 (−0.9 to −0.4 s, which may be chance)"
	if got := verdicts[0].Sentence(); got != want {
		t.Errorf("among 41:\n got %s\nwant %s", got, want)
	}
}

// How much faster is told by the median only where the sign test has found it too; else
// by the mean, where its own test has.
func TestAMedianIsToldOfOnlyWhenTheSignsAreFound(t *testing.T) {
	v := Verdict{A: "a", B: "b", Of: 10, AverageP: 0.01, OvershootP: 1, Time: Difference{
		Trials: 10, Median: Estimate{-0.5, -0.8, -0.2}, Average: Average{Mean: Estimate{-0.7, -0.9, -0.4}}, Signs: SignTest{Minus: 8, Plus: 2},
	}}
	for signsP, want := range map[float64]string{
		0.01: "a is 0.5 s faster than b (0.2 to 0.8 s)",
		0.2:  "a is 0.7 s faster than b on average (0.4 to 0.9 s; faster in 8, slower in 2, the same in 0 trials)",
	} {
		if v.SignsP = signsP; v.Sentence() != want {
			t.Errorf("signs with p %g:\n got %s\nwant %s", signsP, v.Sentence(), want)
		}
	}
}

func TestAVerdictAloneIsAFamilyOfOne(t *testing.T) {
	p := made(60, func(u float64) float64 { return u - 0.6 })
	v := Judge(p, source)
	want := Holm([]float64{v.Time.Signs.P, v.Time.Average.P})
	if v.SignsP != want[0] || v.AverageP != want[1] || v.OvershootP != 1 || v.TimeP() != min(want[0], want[1]) {
		t.Errorf("%v %v %v, want %v 1", v.SignsP, v.AverageP, v.OvershootP, want)
	}
	v = Judge(p.overshooting(1, 9, 1), source)
	want = Holm([]float64{v.Time.Signs.P, v.Time.Average.P, v.Overshoot.P})
	if v.SignsP != want[0] || v.AverageP != want[1] || v.OvershootP != want[2] {
		t.Errorf("%v %v %v, want %v", v.SignsP, v.AverageP, v.OvershootP, want)
	}
	one := []Verdict{v}
	if Family(one); one[0] != v {
		t.Errorf("Family changed %+v to %+v", v, one[0])
	}
}

func TestSwappingCandidatesSwapsTheVerdict(t *testing.T) {
	opposite := map[Outcome]Outcome{NoDifference: NoDifference, Faster: Slower, Slower: Faster, Mixed: Mixed}
	rapid.Check(t, func(t *rapid.T) {
		a, b := times(t)
		shift := float64(rapid.IntRange(-3, 3).Draw(t, "shift"))
		for i := range a {
			if !math.IsInf(a[i], 1) {
				a[i] = min(10, max(0, a[i]+shift))
			}
		}
		overshot := rapid.SliceOfN(rapid.Bool(), len(a), len(a))
		p := Pair{A: "a", B: "b", TimesA: a, TimesB: b, Limit: 10, OvershotA: overshot.Draw(t, "overshot a"), OvershotB: overshot.Draw(t, "overshot b")}
		q := Pair{A: "b", B: "a", TimesA: b, TimesB: a, Limit: 10, OvershotA: p.OvershotB, OvershotB: p.OvershotA}
		v, w := Judge(p, source), Judge(q, source)
		if w.Outcome() != opposite[v.Outcome()] || w.OvershootSign() != -v.OvershootSign() || w.TimeP() != v.TimeP() {
			t.Fatalf("%s, the other way round %s", v.Sentence(), w.Sentence())
		}
		if s := v.Sentence(); strings.Contains(s, "NaN") || strings.Contains(s, "Inf") || strings.Contains(s, "-") || strings.Contains(s, "  ") {
			t.Fatalf("%q is not plain", s)
		}
	})
}

// Two candidates with nothing between them: any word but "no difference found"
// is false.
func TestFalseVerdictsStayBelowFivePercent(t *testing.T) {
	const runs = 250
	wrong := 0
	for run := range runs {
		s := stream("alike", run)
		p := Pair{A: "a", B: "b", Limit: 300}
		for i := range 120 {
			d := 0.0
			if unit(s, 3*i) < 0.6 { // the others are ties
				d = distuv.UnitNormal.Quantile(unit(s, 3*i+1))
			}
			p.TimesA, p.TimesB = append(p.TimesA, 9+d), append(p.TimesB, 9)
			u := unit(s, 3*i+2)
			p.OvershotA, p.OvershotB = append(p.OvershotA, u < 0.15), append(p.OvershotB, u > 0.05 && u < 0.2)
		}
		if v := Judge(p, draw.NewTrial(1, "alike", run)); v.Outcome() != NoDifference || v.OvershootSign() != 0 {
			wrong++
		}
	}
	if share := float64(wrong) / runs; share > 0.06 {
		t.Errorf("%.3f of the verdicts found something", share)
	}
}

func ExampleJudge() {
	p := Pair{A: "ladder", B: "plain", Task: "heading", Limit: 300}
	for i := range 200 {
		p.TimesA = append(p.TimesA, 6+float64(i%10)/10)
		p.TimesB = append(p.TimesB, 8+float64(i%7)/10)
		p.OvershotA = append(p.OvershotA, i%8 == 0)
		p.OvershotB = append(p.OvershotB, i%40 == 0)
	}
	v := Judge(p, draw.NewTrial(1, "heading", 0))
	fmt.Println(v.Sentence())
	fmt.Println(v.Outcome())
	// Output:
	// ladder is 1.9 s faster than plain on heading (1.8 to 1.9 s), but overshoots 10 points more often (6 to 15)
	// faster
}
