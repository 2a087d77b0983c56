package tune

import (
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/survey"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// asItWas compares a text with a golden file.
func asItWas(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := errors.Join(os.MkdirAll("testdata", 0o777), os.WriteFile(path, []byte(got), 0o666)); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s has changed (go test -update rewrites it):\n%s", path, got)
	}
}

func printed(t *testing.T, pages ...*columns.Page) string {
	t.Helper()
	var all strings.Builder
	for _, p := range pages {
		if err := p.Print(&all, columns.Width); err != nil {
			t.Fatal(err)
		}
		all.WriteString("\n==\n\n")
	}
	return all.String()
}

func indented(t *testing.T, report any) string {
	t.Helper()
	text, err := json.MarshalIndent(report, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return string(text) + "\n"
}

func average(value, low, high float64) paired.Average {
	return paired.Average{Mean: estimate(value, low, high), P: 0.01}
}

// on are trials of a knob's task, each as long.
func on(k *scenarios.Knob, n int, seconds, overshoot, lost float64) *sample.Trials {
	t := steady(40, seconds, overshoot, lost)
	t.Use = scenarios.Served{Task: k.Tasks[n].Task, Knob: k, PerHour: k.Tasks[n].PerHour}
	return t
}

// result is one with everything in it, of invented numbers.
func result() *Result {
	p := demo.Panel("quillmoor")
	left, right := &p.Knobs[0], &p.Knobs[2] // one task, two rings; several tasks
	power := accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10}
	curve := func(c accel.Curve) *scenarios.Profile {
		return &scenarios.Profile{Name: "tuned", Settings: set("firmware.gap=30ms", "firmware.pulse=35ms"), Acceleration: accel.Acceleration{Curve: c}}
	}
	score := func(seconds, overshoot, lost float64) sample.Score {
		return sample.Score{Seconds: estimate(seconds, seconds-0.5, seconds+0.5), Overshoot: overshoot, Lost: lost}
	}
	first := &KnobResult{
		Knob: left, Number: 0, Now: []*scenarios.Profile{{Name: "now", Settings: set("firmware.queue=4")}}, Chosen: []*scenarios.Profile{curve(power)}, Changed: true,
		Before: sample.Panel{on(left, 0, 9, 0.05, 0.1)}, After: sample.Panel{on(left, 0, 6, 0.1, 0)},
		Front: []Finalist{
			{Name: "searched", Profiles: []*scenarios.Profile{curve(power)}, Score: score(6, 0.1, 0), P: 0.001},
			{Name: "searched", Profiles: []*scenarios.Profile{curve(accel.Constant{Gain: 2})}, Score: score(7.5, 0.02, 0.01), P: 0.2},
		},
		Changes: []Change{
			{What: "the acceleration", Gain: average(-2, -2.5, -1.5), Needed: true, Score: score(7, 0.2, 0.1)},
			{What: "firmware.gap 30ms", Setting: scenarios.Setting{Key: "firmware.gap", Value: "30ms"}, Gain: average(0.1, -0.1, 0.3), Left: average(0.6, 0.2, 1), Score: score(8, 0.06, 0.04)},
		},
		Unimportant: []string{"firmware.queue", "usb.poll"},
		Sensitivity: []Neighbor{{Key: "gain", Value: "120 %", Gain: average(-0.05, -0.1, 0.02), Score: score(5.9, 0.14, 0)}},
		Claims:      []Claim{{Overshoot: estimate(0.1, 0.08, 0.12), Trials: 1600, Cap: 0.1, Calmest: &Calmest{1.2, 0.3}}},
		Levels:      [][]Level{{{Most: 0.05}, {Most: 0.1, Profile: curve(power), Seconds: 6, Overshoot: 0.09, Lost: 0.01}, {Most: 0.2, Profile: curve(nil), Seconds: 5.5, Overshoot: 0.15}, {Most: 0.3}}},
		Finalists:   12,
	}
	many := &KnobResult{Knob: right, Number: 2, Combination: "expert", Front: []Finalist{}}
	for i := range right.Tasks {
		many.Now = append(many.Now, scenarios.Plain())
		many.Chosen = append(many.Chosen, []*scenarios.Profile{curve(power), curve(power), {Name: "tuned", Settings: set("firmware.gap=30ms", "firmware.pulse=35ms"), PressCoarse: 10}}[i%3])
		many.Before, many.After = append(many.Before, on(right, i, 5+float64(i), 0, 0.02)), append(many.After, on(right, i, 4+float64(i), 0.04, 0.01))
		many.Claims = append(many.Claims, Claim{Overshoot: estimate(0.04, 0.02, 0.06), Trials: 160, Cap: 0.1})
		many.Levels = append(many.Levels, []Level{{Most: 0.05}, {Most: 0.1}, {Most: 0.2}, {Most: 0.3, Profile: curve(power), Seconds: 4}})
	}
	many.Changed = true
	stays := &KnobResult{Knob: left, Combination: "novice", Now: first.Now, Chosen: first.Now, Before: first.Before, After: first.Before, Levels: [][]Level{{{Most: 0.05}, {Most: 0.1}, {Most: 0.2}, {Most: 0.3}}}, Claims: first.Claims[:0:0]}
	return &Result{
		Study: &Study{Panel: p, Profile: first.Now[0], MaxOvershoot: 0.1, MaxLost: 0.05, For: Speed, Trials: 40, Seed: 7}, Knobs: []*KnobResult{first, many, stays},
		Dead: []Dead{{"nav", errors.New("no number\nmoves")}}, Instead: []Instead{{"radio", set("firmware.pulse=20ms"), errors.New("it never ends")}}, Was: &sample.Score{Seconds: estimate(8.5, 8, 9)},
		Many:   []Suited{{Name: "expert", Before: score(7, 0.1, 0.1), After: score(5, 0.05, 0), Own: score(4.8, 0.04, 0)}, {Name: "novice", Before: score(12, 0, 0), After: score(11, 0.123, 0), Own: score(11.5, 0, 0)}},
		Robust: []Variant{{Name: "twice the display lag", Before: score(9, 0, 0), After: score(8, 0, 0), Gain: average(-1, -1.2, -0.8)}, {Name: "30 % fewer frames", Cannot: errors.New("no\nway")}, {Name: "novice", Before: score(12, 0, 0), After: score(12.5, 0, 0), Gain: average(0.5, -0.2, 1.2)}},
		Before: score(8, 0.04, 0.06), After: score(6, 0.09, 0.005), Gain: average(-2, -2.5, -1.5), Meets: true, OnlyHere: true, Evaluations: 321, Trials: 65432, Partial: true,
	}
}

// What is told of a result, on the page, in detail, in JSON and in its figures.
func TestWhatIsToldOfAResultIsAsItWas(t *testing.T) {
	r := result()
	figures := ""
	for _, f := range r.Figures() {
		figures += f.Name + ": " + f.Title + "\n" + f.Text(60, true) + "\n"
	}
	bare := result()
	bare.Knobs, bare.Dead, bare.Instead, bare.Was, bare.Many, bare.Robust, bare.Partial = bare.Knobs[2:], nil, nil, nil, nil, nil, false
	asItWas(t, "result.txt", printed(t, r.Page(), r.Detail(), bare.Page(), bare.Detail())+figures)
	asItWas(t, "result.json", indented(t, r.Report())+indented(t, bare.Report()))
}

// What is told of a decision, on the page and in JSON.
func TestWhatIsToldOfADecisionIsAsItWas(t *testing.T) {
	r := result()
	with := func(name string, knobs ...*KnobResult) *Alternative {
		a := &Alternative{Name: name, Meets: true}
		for _, k := range knobs {
			a.Knobs, a.Profiles, a.Sample = append(a.Knobs, k.Knob), append(a.Profiles, k.Chosen), append(a.Sample, k.After...)
		}
		a.Score = a.Sample.Score()
		return a
	}
	d := &Decision{
		Study: r.Study, Question: Press, Alternatives: []*Alternative{with("acceleration", r.Knobs[0], r.Knobs[1]), with("neither", r.Knobs[2], r.Knobs[1]), {Name: "press-for-coarse", Cannot: "the knob has no push"}},
		LeftOut: []LeftOut{{"nav", "acceleration", "it dials nothing"}, {"nav", "neither", "it dials nothing"}, {"altimeter", "neither", "it cannot"}},
		Pairs:   []DesignPair{{A: 0, B: 1, Time: average(-1, -1.5, -0.5), Overshoot: average(0.05, 0.01, 0.09)}}, Evaluations: 99, Trials: 1234,
	}
	none := &Decision{Study: r.Study, Question: Rings, Best: -1, Alternatives: []*Alternative{{Name: "two rings", Cannot: "none of its numbers is dialed with two rings"}}}
	asItWas(t, "decision.txt", printed(t, d.Page(), none.Page()))
	asItWas(t, "decision.json", indented(t, d.Report())+indented(t, none.Report()))
}

// Changes of settings are said once for all knobs that share them, accelerations task by
// task where they differ.
func TestWhatToSetIsSaidOnce(t *testing.T) {
	r := result()
	left, other := *r.Knobs[0], *r.Knobs[0]
	renamed := *left.Knob
	renamed.Name = "second"
	other.Knob = &renamed
	r.Knobs = []*KnobResult{&left, &other}
	list := r.settings()
	if len(list) != 2 || !strings.HasPrefix(list[0], left.Knob.Name+", second: firmware.pulse 30ms -> 35ms, firmware.queue 4 -> ") || !strings.HasPrefix(list[1], left.Knob.Name+", second: power in the program") {
		t.Errorf("%q", list)
	}
	if left.Changed = false; !strings.HasPrefix(r.settings()[0], "second: ") {
		t.Errorf("%q", r.settings())
	}
	// Every task is named beside what it gets, in the list and in detail.
	all := printed(t, result().Page(), result().Detail())
	for _, want := range []string{"radio, heading, altitude: power in the program", "For heading, altitude set: gain", "For vertical-speed set: "} {
		if !strings.Contains(all, want) {
			t.Errorf("no %q in\n%s", want, all)
		}
	}
	if other.Front = nil; r.settings() != nil {
		t.Errorf("of another combination: %q", r.settings())
	}
}

// What is said of a default for many rigs: how it does against the next, why a quicker one
// is not recommended, whether the caps hold.
func TestWhatIsSaidOfADefault(t *testing.T) {
	candidate := func(name string, seconds, overshoot, lost float64) survey.Candidate {
		var c survey.Candidate
		c.Name, c.Mean, c.Overshoot, c.Lost, c.Within = name, estimate(seconds, seconds-0.5, seconds+0.5), estimate(overshoot, overshoot-0.02, overshoot+0.02), estimate(lost, lost-0.01, lost+0.01), estimate(0.8, 0.7, 0.9)
		c.WorstTenth, c.Regret = 2*seconds, estimate(0.4, 0.3, 0.5)
		return c
	}
	r := &OverResult{
		Over: &Over{MaxOvershoot: 0.4, MaxLost: 0.15, For: Speed}, Profile: &scenarios.Profile{Name: "chosen", Settings: set("firmware.gap=30ms", "usb.poll=1ms"), PressCoarse: 10},
		Proof: &survey.Result{Candidates: []survey.Candidate{candidate("chosen", 5, 0.3, 0.1), candidate("next", 6, 0.3, 0.1)}, Ranking: []int{0, 1}}, Most: 0.4, Lost: 0.15,
		Levels: []Level{{Most: 0.05}, {Most: 0.1, Profile: scenarios.Plain(), Seconds: 7.04}},
	}
	r.Proof.Part = &survey.Part{Header: survey.Header{Population: "homes"}}
	difference := func(value, p float64) {
		r.Proof.Candidates[1].AgainstBest = survey.Difference{Estimate: estimate(value, value-0.5, value+0.5), P: p}
	}
	const begin, end = "chosen takes 5.0 (4.5–5.5) s a dialing on average over homes", " The slowest tenth of members need 10.0 s; the best candidate for a member would save 0.4 s."
	verdict := func(want string) {
		t.Helper()
		if got := r.Verdict(); got != begin+want+end {
			t.Errorf("%s\nwant\n%s", got, begin+want+end)
		}
	}
	difference(1, 0.001)
	verdict(", 1.0 s (0.5 to 1.5) less than the next, next.")
	difference(0.1, 0.9)
	verdict("; no difference to the next, next, was found.")
	difference(-1, 0.001)
	verdict("; next is quicker by 1.0 s (0.5 to 1.5), but it was not within the caps, or no better, among the members of the search.")
	r.Over.For = Worst
	verdict("; next is quicker by 1.0 s (0.5 to 1.5), but its slowest tenth need 12.0 s.")
	r.Proof.Candidates[1].Lost.Value = 0.2
	verdict("; next is quicker by 1.0 s (0.5 to 1.5), but 20 % of its clicks are lost.")
	r.Proof.Candidates[1].Overshoot.Value = 0.5
	verdict("; next is quicker by 1.0 s (0.5 to 1.5), but 50 % of its dialings overshoot.")
	r.Listed, r.Proof.Ranking = true, []int{0}
	verdict(". It is one of the population's own: nothing that was searched is better.")

	caps := func(want string) {
		t.Helper()
		if got := r.caps(); got != want+". Both caps hold on the rigs of 80 % of members (70 to 90)." {
			t.Errorf("%s\nwant\n%s", got, want)
		}
	}
	caps("30 % (28 to 32) of dialings overshoot, within the cap of 40 %; 10 % (9 to 11) of clicks are lost, within the cap of 15 %")
	if r.Over.MaxOvershoot, r.Most = 0.29, 0.29; !r.Meets() {
		t.Error("the interval holds the cap")
	}
	caps("30 % (28 to 32) of dialings overshoot, at the cap of 29 %; 10 % (9 to 11) of clicks are lost, within the cap of 15 %")
	r.Over.MaxOvershoot, r.Most = 0.2, 0.2
	if r.Meets() {
		t.Error("the interval is above the cap")
	}
	if r.Most = 0.3; !strings.HasPrefix(r.caps(), "30 % (28 to 32) of dialings overshoot, the least that was found (the cap is 20 %); 10 %") {
		t.Errorf("%s", r.caps())
	}
	r.Over.MaxOvershoot = 0.4
	if r.Over.MaxLost = 0.05; r.Meets() {
		t.Error("more clicks are lost than may be")
	}

	if got, want := r.settings(), []string{"firmware.gap 30ms, usb.poll 1ms, where a rig uses it", "a push switches to 10 steps a click"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	r.Profile = scenarios.Plain()
	if got := r.settings(); !slices.Equal(got, []string{"no acceleration"}) {
		t.Errorf("%q", got)
	}
	r.Profile = gain(3)
	if got := r.settings(); len(got) != 1 || !strings.Contains(got[0], "3") {
		t.Errorf("%q", got)
	}
	if got, want := r.tradeOff(), "Least mean of the slowest tenth found with so many dialings that overshoot: ≤ 5 % nothing, ≤ 10 % 7.0 s."; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if r.Over.For = Speed; !strings.HasPrefix(r.tradeOff(), "Least mean found with") {
		t.Errorf("%s", r.tradeOff())
	}
}

// A detent on an axis is a step of the number with the smallest steps; numbers whose steps
// are more than twice as large have none.
func TestADetentOnAnAxisIsAStep(t *testing.T) {
	task := func(last scenarios.Amount) scenarios.Use {
		return scenarios.Use{Task: &scenarios.Task{Name: fmt.Sprint(last), Step: scenarios.Unity, To: last * scenarios.Unity}}
	}
	for _, x := range []struct {
		tasks   []scenarios.Use
		least   string
		refused bool
	}{
		{[]scenarios.Use{task(255)}, "257", false},            // 65535 units over 255 steps
		{[]scenarios.Use{task(255), task(510)}, "129", false}, // 128.5
		{[]scenarios.Use{task(255), task(520)}, "126", true},  // more than twice
		{[]scenarios.Use{task(1_000_000)}, "1", false},        // finer than an axis is
	} {
		k := &scenarios.Knob{Rings: 1, Inner: &scenarios.Rig{Rig: encoder.Default()}, Tasks: x.tasks}
		if got := axisKeys(k)[0][1].Value; got != x.least {
			t.Errorf("%s: %s units a detent, want %s", x.tasks[0].Task.Name, got, x.least)
		}
		if err := onAxis(k); (err != nil) != x.refused {
			t.Errorf("%s: %v", x.tasks[0].Task.Name, err)
		}
	}
}
