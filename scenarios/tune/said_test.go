package tune

import (
	"slices"
	"strings"
	"testing"

	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
)

func estimate(value, low, high float64) paired.Estimate {
	return paired.Estimate{Value: value, Low: low, High: high}
}

// A cap is kept where the whole interval is within it, and broken where none of it is.
func TestACapIsKeptOrBrokenByTheWholeInterval(t *testing.T) {
	for _, x := range []struct {
		low, high float64
		want      string
	}{{0.05, 0.1, Within}, {0.05, 0.101, At}, {0.1, 0.15, At}, {0.101, 0.15, Above}} {
		if got := (Claim{Overshoot: estimate(0.1, x.low, x.high), Cap: 0.1}).Outcome(); got != x.want {
			t.Errorf("%g to %g is %s, want %s", x.low, x.high, got, x.want)
		}
	}
}

// Tasks are said by how they keep the cap, each once; those whose calmest settings are
// above it are starred, with what the quickest would take where that is something.
func TestSentencesOnCaps(t *testing.T) {
	claim := func(task, outcome string, low, high float64, calmest *CalmestReport) CapReport {
		return CapReport{Task: task, Outcome: outcome, Overshoot: sample.IntervalOf(estimate((low+high)/2, low, high)), Calmest: calmest}
	}
	kept, at := claim("heading", Within, 0.01, 0.02, nil), claim("nav", At, 0.08, 0.12, nil)
	dear, cheap := claim("com", Above, 0.12, 0.18, &CalmestReport{1.26, 0.31}), claim("hf", At, 0.09, 0.14, &CalmestReport{0.049, 0.2})
	for _, x := range []struct {
		caps []CapReport
		want []string
	}{
		{[]CapReport{kept}, []string{"Within the cap: heading."}},
		{[]CapReport{at, kept, at}, []string{"Within the cap: heading.", "At the cap: nav (8 to 12 %)."}},
		{[]CapReport{dear, kept, cheap, at}, []string{
			"Within the cap: heading.", "At the cap: hf* (9 to 14 %), nav (8 to 12 %).", "Above the cap: com* (12 to 18 %).",
			"* The calmest found that loses few clicks; the quickest takes: com 1.3 s less at 31 %.",
		}},
		{[]CapReport{cheap}, []string{"At the cap: hf* (9 to 14 %).", "* The calmest found that loses few clicks."}},
		{[]CapReport{claim("com", Within, 0.01, 0.05, &CalmestReport{1, 0.3})}, []string{"Within the cap: com."}},
		{[]CapReport{claim("com", Above, 0.12, 0.18, &CalmestReport{0.05, 0.3})}, []string{"Above the cap: com* (12 to 18 %).", "* The calmest found that loses few clicks; the quickest takes: com 0.1 s less at 30 %."}},
		{nil, nil},
	} {
		if got := Said(x.caps); !slices.Equal(got, x.want) {
			t.Errorf("%q, want %q", got, x.want)
		}
	}
	k := &KnobResult{Knob: &scenarios.Knob{Name: "left"}, Before: sample.Panel{{Use: scenarios.Served{Task: demo.Task("heading")}}}, Claims: []Claim{{Overshoot: estimate(0.2, 0.15, 0.25), Trials: 800, Cap: 0.1, Calmest: &Calmest{1.23456, 0.31}}}}
	r := &Result{Study: &Study{}, Knobs: []*KnobResult{k}}
	caps := r.caps()
	if len(caps) != 1 || caps[0].Knob != "left" || caps[0].Task != "heading" || caps[0].Trials != 800 || caps[0].Outcome != Above || caps[0].Calmest.Past != 0.31 || caps[0].Overshoot.High != 0.25 {
		t.Errorf("%+v", caps)
	}
	if r.Study.Caps = Whole; len(r.caps()) > 0 {
		t.Error("the cap is the panel's, and is told task by task")
	}
}

// A verdict says what is gained, whether the caps are kept now and then, and what they
// cost.
func TestAVerdictSaysWhatIsGainedAndWhatTheCapsCost(t *testing.T) {
	gain := func(value, low, high float64) paired.Average { return paired.Average{Mean: estimate(value, low, high)} }
	const shares = " Overshoot 9.0 % of dialings (before: 4.0 %), lost clicks 0.5 % (before: 6.0 %)."
	for _, x := range []struct {
		changed         bool
		after           float64
		gain            paired.Average
		meets, nowMeets bool
		want            string
	}{
		{false, 8, paired.Average{}, true, true, "Nothing found that beats your settings by more than 3 %." + shares},
		{true, 6, gain(-2, -2.25, -1.75), true, true, "A dialing takes 6.00 s instead of 8.00 s: 25 % less (1.75 to 2.25 s less)." + shares},
		{true, 7.9, gain(-0.1, -0.25, 0.05), true, true, "A dialing takes 7.90 s instead of 8.00 s (difference −0.10 (−0.25 to +0.05) s)." + shares},
		{true, 9, gain(1, 0.5, 1.5), true, false, "A dialing takes 9.00 s instead of 8.00 s (difference +1.00 (+0.50 to +1.50) s)." + shares +
			" Your settings are not within the caps (at most 12.5 % overshoot and 5 % lost clicks on every task); these are, as far as can be told." +
			" They are slower: that is what the caps cost. Keep yours where time matters more, or allow more with --max-overshoot or --max-lost."},
		{true, 6, gain(-2, -2.25, -1.75), false, false, "A dialing takes 6.00 s instead of 8.00 s: 25 % less (1.75 to 2.25 s less)." + shares +
			" No candidate was found within the caps (at most 12.5 % overshoot and 5 % lost clicks on every task); this is the nearest that could be proven."},
	} {
		r := &Result{
			Study: &Study{MaxOvershoot: 0.125, MaxLost: 0.05}, Knobs: []*KnobResult{{Changed: x.changed}}, Meets: x.meets, NowMeets: x.nowMeets, Gain: x.gain,
			Before: sample.Score{Seconds: estimate(8, 7, 9), Overshoot: 0.04, Lost: 0.06}, After: sample.Score{Seconds: estimate(x.after, x.after, x.after), Overshoot: 0.09, Lost: 0.005},
		}
		if got := r.Verdict(); got != x.want {
			t.Errorf("%s\nwant\n%s", got, x.want)
		}
		if r.Study.Caps = Whole; strings.Contains(r.Verdict(), "on every task") {
			t.Errorf("the caps are the panel's: %s", r.Verdict())
		}
	}
}

// An answer says of every alternative how it does against the best, with the sign that
// way round whichever of a pair comes first, and what is no difference is none.
func TestAnAnswerComparesWithTheBest(t *testing.T) {
	average := func(value, low, high, p float64) paired.Average {
		return paired.Average{Mean: estimate(value, low, high), P: p}
	}
	with := func(name string, seconds float64, meets bool) *Alternative {
		return &Alternative{Name: name, Meets: meets, Sample: sample.Panel{{}}, Score: sample.Score{Seconds: estimate(seconds, seconds, seconds), Overshoot: 0.08}}
	}
	d := &Decision{
		Study: &Study{Panel: &scenarios.Panel{}, MaxOvershoot: 0.125, MaxLost: 0.05}, Question: Output, Best: 1,
		Alternatives: []*Alternative{with("pulses", 7, true), with("counts", 5, true), with("keys", 5, false), with("axis", 5.02, true), {Name: "dial", Cannot: "there is none"}},
		Pairs: []DesignPair{
			{A: 0, B: 1, Time: average(2, 1.5, 2.5, 0.01), Overshoot: average(-0.03, -0.05, -0.01, 0.02)},
			{A: 1, B: 2, Time: average(0.4, 0.2, 0.7, 0.049), Overshoot: average(-0.04, -0.05, -0.03, 0.04)},
			{A: 0, B: 2, Time: average(9, 9, 9, 0), Overshoot: average(9, 9, 9, 0)},
			{A: 1, B: 3, Time: average(-0.02, -0.03, -0.01, 0.01), Overshoot: average(0.1, -0.1, 0.3, 0.06)},
		},
	}
	const answer = "Counts: 5.00 s a dialing, 8 % of the dialings overshoot." +
		" Pulses: slower by 2.00 s (1.50 to 2.50), overshoots 3 points less often." +
		" Keys: quicker by 0.40 s (0.20 to 0.70), overshoots 4 points more often, beyond the caps." +
		" Axis: as quick, to 0.5 %, no difference found in overshoot."
	if got := d.Answer(); got != answer {
		t.Errorf("%s\nwant\n%s", got, answer)
	}
	for i, want := range []string{"+2.00 (+1.50 to +2.50)", "–", "−0.40 (−0.70 to −0.20)", "+0.02 (+0.01 to +0.03)"} {
		if got := d.against(i); got != want {
			t.Errorf("%s: %s, want %s", d.Alternatives[i].Name, got, want)
		}
	}
	d.Pairs[0].Time = average(20, 19, 21, 0.01)
	d.Pairs[1].Time.P = 0.05
	if got := d.against(0); got != "+20.0 (+19.0 to +21.0)" {
		t.Errorf("twenty seconds: %s", got)
	}
	if got := d.against(2); got != "no difference found" || !strings.Contains(d.Answer(), "Keys: as quick, as far as can be told, overshoots") {
		t.Errorf("p of 5 %%: %s, %s", got, d.Answer())
	}
	d.Alternatives[1].Meets = false
	if got := d.Answer(); !strings.Contains(got, "overshoot. None of the alternatives is within the caps (at most 12.5 % overshoot and 5 % lost clicks); of those beyond them it does best.") || strings.Contains(got, "beyond the caps.") {
		t.Errorf("%s", got)
	}
	if got := d.order(); !slices.Equal(got, []int{1, 0, 2, 3}) {
		t.Errorf("order %v", got)
	}
	if got := d.left(); !slices.Equal(got, []string{"Dial cannot be built here: there is none."}) {
		t.Errorf("left %q", got)
	}
	d.Partial, d.Alternatives[3].Sample = true, nil
	if got := d.left(); len(got) != 2 || got[0] != "Partial: interrupted before all were tuned; nothing is known of axis." {
		t.Errorf("left %q", got)
	}
	d.Best = -1
	if got := d.Answer(); !strings.HasPrefix(got, "This cannot be answered here") || len(d.order()) != 3 {
		t.Errorf("%s", got)
	}
}
