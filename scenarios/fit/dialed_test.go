package fit

import (
	"bytes"
	"cmp"
	"encoding/json"
	"flag"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/export"
	"dialwright/scenarios/file"
	"dialwright/testdata/golden"
)

var (
	sittings = flag.Int("sittings", 0, "how many sittings TestIntervalsOfDialingsHoldTheTruth measures")
	pairs    = flag.Int("pairs", 40, "of each of these sittings")
)

// sitting is what somebody dials at a desk: a heading, or another task, on plain and on an accelerated
// knob, in pairs, with practice before.
func sitting(t testing.TB, o *scenarios.Operator, pairs int, seed uint64, task ...scenarios.DialedTask) *scenarios.Dialings {
	t.Helper()
	heading := append(task, scenarios.DialedTask{Unit: "deg", Scale: encoder.Scale{Low: 1, Count: 360, Wrap: true}})[0]
	d := &scenarios.Dialings{
		Device:   scenarios.DialedWith{Kind: "simulated", ClicksPerTurn: 24},
		Program:  scenarios.DialedProgram{Frames: 30, Lag: 50 * time.Millisecond},
		Tasks:    map[string]scenarios.DialedTask{"heading": heading},
		Settings: map[string]*scenarios.Profile{"A": scenarios.Plain()},
	}
	built := scenarios.Profiles()
	d.Settings["B"] = &built[slices.IndexFunc(built, func(p scenarios.Profile) bool { return p.Name == "power" })]
	s := draw.NewTrial(seed, "sitting", 0).Stream(draw.Search)
	var plan []*scenarios.Dialing
	for i := range pairs {
		start := s.Below(int64(3*i), 360)
		target := (start + 1 + s.Below(int64(3*i+1), 359)) % 360
		for k := range 2 {
			setting := "AB"[(int64(k)+s.Below(int64(3*i+2), 2))%2]
			plan = append(plan, &scenarios.Dialing{Line: 2 + len(plan), Task: "heading", Setting: string(setting), Pair: i + 1, Order: 1 + k, Start: start, Target: target})
		}
	}
	x := &dialer{Dialings: d, dialed: plan, seed: seed ^ 0x5eed}
	if err := x.dial(t.Context(), o, 1, func(i int, w *watched) {
		p := *plan[i]
		p.Clicks, p.Shown, p.End = slices.Clone(w.clicks), slices.Clone(w.shown), time.Duration(w.end)
		d.All = append(d.All, p)
	}); err != nil {
		t.Fatal(err)
	}
	return d
}

// written is a sitting as the page saves it.
func written(t testing.TB, d *scenarios.Dialings) []byte {
	t.Helper()
	tasks, settings := map[string]any{}, map[string]json.RawMessage{}
	for name, x := range d.Tasks {
		tasks[name] = map[string]any{"unit": x.Unit, "low": x.Scale.Low, "count": x.Scale.Count, "wrap": x.Scale.Wrap, "tolerance": x.Tolerance}
	}
	for name, p := range d.Settings {
		var text bytes.Buffer
		if err := export.JSON(&text, p); err != nil {
			t.Fatal(err)
		}
		settings[name] = text.Bytes()
	}
	ms := func(t time.Duration) float64 { return float64(t) / 1e6 }
	var out bytes.Buffer
	line := func(x any) {
		if err := json.NewEncoder(&out).Encode(x); err != nil {
			t.Fatal(err)
		}
	}
	line(map[string]any{
		"kind": "dialings", "version": 1, "device": map[string]any{"kind": d.Device.Kind, "clicks_per_turn": d.Device.ClicksPerTurn},
		"program": map[string]any{"frames_per_s": d.Program.Frames, "lag_ms": ms(d.Program.Lag)}, "tasks": tasks, "settings": settings,
	})
	for _, x := range d.All {
		events, shown := [][2]float64{}, [][2]float64{}
		for _, c := range x.Clicks {
			events = append(events, [2]float64{math.Round(ms(c.At)*1e3) / 1e3, float64(c.Clicks)})
		}
		for _, c := range x.Shown {
			shown = append(shown, [2]float64{ms(time.Duration(c.At)), float64(c.Value)})
		}
		line(map[string]any{
			"task": x.Task, "setting": x.Setting, "pair": x.Pair, "order": x.Order, "start": x.Start, "target": x.Target, "phase_ms": ms(x.Phase),
			"events": events, "shown": shown, "end_ms": math.Round(ms(x.End)*1e3) / 1e3, "outcome": x.Outcome.String(),
		})
	}
	return out.Bytes()
}

// What is fitted to the file of a sitting, whose practice and failures are left out, is
// what its golden says.
func TestTheFileOfASittingIsFitted(t *testing.T) {
	name := filepath.Join("..", "..", "testdata", "dialings.jsonl")
	if _, err := os.Stat(name); err != nil && *golden.Update { // it stays as it is when simulated people change
		d := sitting(t, somebody(3), 14, 3)
		for i := range 4 {
			d.All[i].Pair = 0
		}
		d.All[8].Outcome, d.All[8].Shown = scenarios.GaveUp, d.All[8].Shown[:2]
		d.All[13].Outcome = scenarios.Away
		if err := os.WriteFile(name, written(t, d), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	d, err := (&file.Loader{}).Dialings(name)
	if err != nil {
		t.Fatal(err)
	}
	r, err := Run(t.Context(), &Study{Dialings: d, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	var text bytes.Buffer
	if err := r.Page().Print(&text, 80); err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(text.String(), "\n"); n > 30 {
		t.Errorf("%d lines, want 30 at most", n)
	}
	operator, err := r.OperatorFile()
	if err != nil {
		t.Fatal(err)
	}
	text.WriteString("\n")
	text.Write(operator)
	golden.Check(t, "testdata/dialed.txt", text.String())
}

// somebody is a person unlike the practised operator: every quantity that is looked for
// lies elsewhere, as far as novice and expert do, or only some.
func somebody(seed uint64, only ...string) *scenarios.Operator {
	o := scenarios.Practised()
	s := draw.NewTrial(seed, "somebody", 0).Stream(draw.Search)
	for k, t := range traits(true) {
		if only != nil && !slices.Contains(only, t.key) {
			continue
		}
		t.write(&o, t.read(&o)*math.Exp(0.25*float64(s.Normal(int64(k)))/draw.One))
	}
	o.Name = "somebody"
	return &o
}

// From a long sitting it is found who sat there: what is claimed lies around the truth,
// what is not is as of the operator that the fit starts from, and the person predicts
// himself.
func TestASittingShowsWhoDialed(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	o := somebody(3, "reaction", "fixation", "regrip", "confirm", "reach", "pace.fast")
	from := scenarios.Practised()
	from.Name, from.HandMove.Mean = "somebody else", 300*time.Millisecond
	r, err := Run(t.Context(), &Study{Dialings: sitting(t, o, 60, 3), Operator: &from, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	claimed, outside := 0, 0
	for _, x := range traits(true) {
		v, _ := r.Hand.Get(cmp.Or(x.sum, x.key))
		truth, now := x.value(o, x.read(o)), x.read(&r.Operator)
		switch {
		case !v.Known && now != x.read(&from):
			t.Errorf("%s was not found, and is %g instead of %g", v.Key, now, x.read(&from))
		case !v.Known:
		case v.High-v.Low > widestInterval*v.Value:
			t.Errorf("%s %g (%g to %g) is claimed", v.Key, v.Value, v.Low, v.High)
		default:
			claimed++
			if truth < v.Low || truth > v.High {
				outside++
				t.Logf("%s %g (%g to %g) is %g", v.Key, v.Value, v.Low, v.High, truth)
			}
			if off := math.Abs(math.Log(v.Value / truth)); off > 0.2 {
				t.Errorf("%s %g is %g", v.Key, v.Value, truth)
			}
		}
	}
	if claimed < 6 || outside > 1 {
		t.Errorf("%d claimed, %d of them wrong; want 6 or more, and one wrong at most", claimed, outside)
	}
	for _, p := range r.Dialed.Predictions {
		if p.Missed {
			t.Errorf("who dialed so misses himself: %s", p.sentence())
		}
	}
}

// Somebody whom no simulated person can be is missed, and it is said so: he takes a second
// longer where there is acceleration, before he even begins.
func TestWhoCannotBeSimulatedIsMissed(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	d := sitting(t, somebody(4), 30, 4)
	for i := range d.All {
		x := &d.All[i]
		if x.Setting == "A" {
			continue
		}
		x.End += time.Second
		for k := range x.Clicks {
			x.Clicks[k].At += time.Second
		}
		for k := range x.Shown {
			x.Shown[k].At += int64(time.Second)
		}
	}
	r, err := Run(t.Context(), &Study{Dialings: d, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	if v := r.Dialed.Verdict; !strings.Contains(v, "time with A − B was ") || !strings.Contains(v, "s less than predicted") {
		t.Errorf("the verdict is %q", v)
	}
	if text, err := r.OperatorFile(); err != nil || !strings.Contains(string(text), " missed: ") {
		t.Errorf("%v in\n%s", err, text)
	}
}

// A quantity that is set is what it was set to, and no other one is touched.
func TestTraitsAreWhatTheyAreSetTo(t *testing.T) {
	for _, narrow := range []bool{true, false} {
		all := traits(narrow)
		for k, x := range all {
			o := scenarios.Practised()
			want := x.read(&o) * 1.2
			x.write(&o, want)
			if got := x.read(&o); math.Abs(got-want) > max(1.5, 0.005*want) || x.unit != "ms" && math.Abs(got-want) > 0.005*want {
				t.Errorf("%s is %g instead of %g", x.key, got, want)
			}
			was := scenarios.Practised()
			for j, y := range all {
				if j != k && y.read(&o) != y.read(&was) {
					t.Errorf("with %s %s changes", x.key, y.key)
				}
			}
		}
	}
}

// A target that has width is seen and not read: what is then claimed of the pauses is the
// sum without a look, and a file has all its parts.
func TestWideTargetsShowNoFixation(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	o := scenarios.Practised()
	o.Decide.Mean *= 2
	wide := scenarios.DialedTask{Scale: encoder.Scale{Count: 400}, Tolerance: 4}
	r, err := Run(t.Context(), &Study{Dialings: sitting(t, &o, 40, 6, wide), Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	v, _ := r.Hand.Get("perceive + decide + act")
	if want := 310.0; !v.Known || v.Low > want || v.High < want {
		t.Errorf("%s, it is %g", v.text(), want)
	}
	text, err := r.OperatorFile()
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"perceive", "decide", "act"} {
		if !strings.Contains(string(text), "\n"+key+": {mean: ") {
			t.Errorf("no %s in\n%s", key, text)
		}
	}
	if strings.Contains(string(text), "\nfixation") {
		t.Errorf("a fixation in\n%s", text)
	}
}

// Turning to the left is seen as turning to the right is, and clicks of one report as
// clicks of one instant.
func TestDialingsAreMeasuredAlikeBothWays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const count = 100
		w := watched{task: scenarios.DialedTask{Scale: encoder.Scale{Count: count}, Tolerance: rapid.Int64Range(0, 3).Draw(t, "tolerance")}}
		w.plain, w.start, w.target = rapid.Bool().Draw(t, "plain"), rapid.Int64Range(0, count-1).Draw(t, "start"), rapid.Int64Range(0, count-1).Draw(t, "target")
		if w.start == w.target {
			return
		}
		at := int64(0)
		for range rapid.IntRange(0, 40).Draw(t, "clicks") {
			at += rapid.Int64Range(1, 2e9).Draw(t, "gap")
			n := rapid.Int64Range(-3, 3).Filter(func(n int64) bool { return n != 0 }).Draw(t, "n")
			w.clicks = append(w.clicks, scenarios.DialedClick{At: time.Duration(at), Clicks: n})
			w.shown = append(w.shown, encoder.Change{At: at + 5e7, Value: rapid.Int64Range(0, count-1).Draw(t, "shown")})
		}
		w.end = at + rapid.Int64Range(0, 2e9).Draw(t, "end")
		left, single := w, w
		left.start, left.target = count-1-w.start, count-1-w.target
		left.clicks, left.shown, single.clicks = nil, nil, nil
		for _, c := range w.clicks {
			left.clicks = append(left.clicks, scenarios.DialedClick{At: c.At, Clicks: -c.Clicks})
			for n := c.Clicks; n != 0; n -= c.Clicks / max(c.Clicks, -c.Clicks) {
				single.clicks = append(single.clicks, scenarios.DialedClick{At: c.At, Clicks: c.Clicks / max(c.Clicks, -c.Clicks)})
			}
		}
		for _, c := range w.shown {
			left.shown = append(left.shown, encoder.Change{At: c.At, Value: count - 1 - c.Value})
		}
		s := w.measure()
		if got := left.measure(); got != s {
			t.Fatalf("to the left %v, to the right %v", got, s)
		}
		for k, got := range single.measure() {
			if math.Abs(got-s[k]) > 1e-9 {
				t.Fatalf("part %d: click by click %v, by reports %v", k, got, s[k])
			}
		}
		gaps := 0.0
		for k := range gapClasses {
			gaps += s[gapCount+k]
		}
		if want := float64(max(0, len(single.clicks)-1)); math.Abs(gaps-want) > 1e-9 {
			t.Fatalf("%g gaps between %d clicks", gaps, len(single.clicks))
		}
	})
}

// Intervals of what is claimed hold the truth, and predictions are missed as seldom as
// they say. How often is measured over as many sittings as -sittings says; -pairs says
// how long each is.
func TestIntervalsOfDialingsHoldTheTruth(t *testing.T) {
	if *sittings == 0 {
		t.Skip("-sittings 100 measures it, in minutes")
	}
	type tally struct {
		n, held int
		z       []float64 // errors over standard errors
	}
	by, order := map[string]*tally{}, []string{}
	count := func(key string, held bool, z float64) {
		x := by[key]
		if x == nil {
			x, order = &tally{}, append(order, key)
			by[key] = x
		}
		if x.n++; held {
			x.held++
		}
		x.z = append(x.z, z)
	}
	for n := range *sittings {
		o, like := somebody(uint64(n)), " of others"
		if n%2 == 0 { // what is mostly not found is as of the practised operator
			o, like = somebody(uint64(n), "reaction", "fixation", "regrip", "confirm", "reach", "pace.fast"), ""
		}
		r, err := Run(t.Context(), &Study{Dialings: sitting(t, o, *pairs, uint64(n)), Seed: 1})
		if err != nil {
			t.Errorf("sitting %d: %v", n, err)
			continue
		}
		for _, x := range traits(true) {
			key, truth := cmp.Or(x.sum, x.key), x.value(o, x.read(o))
			if v, _ := r.Hand.Get(key); v.Known {
				count(key, v.Low <= truth && truth <= v.High, 2*surely(*pairs)*math.Log(v.Value/truth)/math.Log(v.High/v.Low))
			}
		}
		for _, p := range r.Dialed.Predictions {
			count(p.What+" "+p.Setting+like, !p.Missed, 2*surely(*pairs)*p.Off.Value/(p.Off.High-p.Off.Low))
		}
	}
	for _, key := range order {
		x, squares := by[key], 0.0
		for _, z := range x.z {
			squares += z * z / float64(x.n)
		}
		t.Logf("%-36s %3d claimed, %3d held; errors %+.2f ± %.2f standard errors", key, x.n, x.held, meanOf(x.z).value, math.Sqrt(squares))
	}
}
