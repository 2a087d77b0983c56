package tune_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/trial"
	"dialwright/scenarios/tune"
)

// panel is one knob with some of the demo's tasks.
func panel(rig *scenarios.Rig, tasks ...*scenarios.Task) *scenarios.Panel {
	k := scenarios.Knob{Name: "knob", Rings: 1, Inner: rig}
	for _, t := range tasks {
		k.Tasks = append(k.Tasks, scenarios.Use{Task: t, PerHour: 1})
	}
	return &scenarios.Panel{Name: "one", Knobs: []scenarios.Knob{k}}
}

func study(p *scenarios.Panel) *tune.Study {
	o := scenarios.Practised()
	return &tune.Study{Panel: p, Profile: &scenarios.Profile{Name: "plain"}, Operator: &o, MaxOvershoot: 0.1, MaxLost: 0.05, For: tune.Speed, Trials: 200, Seed: 1, Workers: 2}
}

func run(t testing.TB, s *tune.Study) *tune.Result {
	r, err := tune.Run(context.Background(), s)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

const ms = time.Millisecond

// levelRig samples levels once a frame behind a poll of 8 ms, without jitter.
func levelRig(frame time.Duration) *scenarios.Rig {
	r := &scenarios.Rig{Rig: encoder.Default()}
	r.Name = "level"
	r.Program.Frames, r.Program.Jitter = encoder.PerSecond(1/frame.Seconds()), 0
	r.Firmware.Queue = 128
	r.Adjustable.Settings = []scenarios.Range{
		{Key: "firmware.pulse", From: "20ms", To: "80ms", By: "1ms"},
		{Key: "firmware.gap", From: "20ms", To: "80ms", By: "1ms"},
	}
	return r
}

// lostAndSeconds are what many trials of a profile on a knob by itself come to: lost
// detents and the mean time.
func lostAndSeconds(t *testing.T, rig *scenarios.Rig, task *scenarios.Task, p *scenarios.Profile) (lost int, seconds float64) {
	o := scenarios.Practised()
	b, err := trial.NewBench(trial.Cell{Task: task, Rings: 1, Inner: &rig.Rig, Profile: p, Operator: &o})
	if err != nil {
		t.Fatal(err)
	}
	const n = 2000
	if _, err := trial.Batch(context.Background(), b, 77, 0, n, 2, func(_ int, r *trial.Result) {
		lost += r.Account.Lost()
		seconds += r.Seconds() / n
	}); err != nil {
		t.Fatal(err)
	}
	return lost, seconds
}

// pulses returns a profile with pulses and gaps of a length.
func pulses(p scenarios.Profile, length time.Duration) *scenarios.Profile {
	p.Settings = []scenarios.Setting{{Key: "firmware.pulse", Value: scenarios.TimeText(length)}, {Key: "firmware.gap", Value: scenarios.TimeText(length)}}
	return &p
}

// The best setting in closed form. A poll shows a level for whole polls: one of L
// for ⌊L/8 ms⌋ of them at least. It is always seen where those outlast a frame, so
// from 48 ms on for frames of 41 to 48 ms, and for frames of 40 ms, which are five
// polls exactly, from 40 ms on already. A millisecond less loses clicks, as many
// trials show; one more costs time.
func TestLevelsOutlastAFrameInWholePollsWhereNothingMayBeLost(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	for _, x := range []struct{ frame, least time.Duration }{{40 * ms, 40 * ms}, {41 * ms, 48 * ms}, {44 * ms, 48 * ms}} {
		rig, task := levelRig(x.frame), demo.Task("heading")
		s := study(panel(rig, task))
		s.MaxLost, s.MaxOvershoot = 0, 1
		r := run(t, s)
		chosen := r.Knobs[0].Chosen[0]
		set, err := scenarios.Apply(chosen, rig.Rig)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("frames of %v: on %v, off %v", x.frame, set.Firmware.Pulse, set.Firmware.Gap)
		if on, off := set.Firmware.Pulse, set.Firmware.Gap; min(on, off) < x.least || max(on, off) > x.least+8*ms || r.After.Lost > 0 {
			t.Errorf("frames of %v: on %v, off %v, want %v to a poll more; lost %v", x.frame, on, off, x.least, r.After.Lost)
		}
		best, seconds := lostAndSeconds(t, rig, task, pulses(*chosen, x.least))
		less, _ := lostAndSeconds(t, rig, task, pulses(*chosen, x.least-ms))
		lost, found := lostAndSeconds(t, rig, task, chosen)
		if best > 0 || less == 0 || lost > 0 || found > 1.05*seconds {
			t.Errorf("frames of %v: %d lost and %.3f s with %v, %d lost with %v, %d lost and %.3f s with what was found", x.frame, best, seconds, x.least, less, x.least-ms, lost, found)
		}
	}
}

// away is a number some steps away on a knob whose constant gain can be chosen.
func away(steps scenarios.Amount) (*scenarios.Rig, *scenarios.Task) {
	rig := &scenarios.Rig{Rig: encoder.Default()}
	rig.Name = "relative"
	rig.Firmware.Output = encoder.Relative
	rig.Adjustable = scenarios.Adjustable{Homes: []scenarios.Home{encoder.InProgram}, Curves: []string{"constant"}}
	return rig, &scenarios.Task{Name: "far", Limit: 300 * time.Second, Step: scenarios.Unity, To: 3000 * scenarios.Unity,
		Tolerance: 5 * scenarios.Unity,
		Start:     scenarios.Distribution{List: []scenarios.Amount{100 * scenarios.Unity}}, Target: scenarios.Distribution{List: []scenarios.Amount{(100 + steps) * scenarios.Unity, (100 + steps*4/3) * scenarios.Unity}}}
}

// A constant gain for a far target: a grid knows the best one.
func TestTheGainOfAFarTargetIsThatOfABruteForceGrid(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	rig, task := away(600)
	s := study(panel(rig, task))
	s.MaxOvershoot, s.MaxLost = 1, 1
	r := run(t, s)
	mean := func(p *scenarios.Profile) float64 {
		b, err := trial.NewBench(trial.Cell{Task: task, Rings: 1, Inner: &rig.Rig, Profile: p, Operator: s.Operator})
		if err != nil {
			return math.Inf(1)
		}
		sum := 0.0
		if _, err := trial.Batch(context.Background(), b, 99, 0, 4000, 2, func(_ int, x *trial.Result) { sum += x.Seconds() }); err != nil {
			t.Fatal(err)
		}
		return sum / 4000
	}
	best, gain, n := math.Inf(1), 0.0, 0
	for g := 1.0; g <= 60; g += 0.5 {
		n++
		if m := mean(&scenarios.Profile{Acceleration: accel.Acceleration{Curve: accel.Constant{Gain: g}}}); m < best {
			best, gain = m, g
		}
	}
	got := mean(r.Knobs[0].Chosen[0])
	t.Logf("grid: gain %v, %.3f s in %d trials; search: %s, %.3f s in %d trials", gain, best, 4000*n, r.Knobs[0].Chosen[0].About(nil), got, r.Trials)
	if got > 1.02*best {
		t.Errorf("search %.3f s, grid's best %.3f s", got, best)
	}
	if r.Trials > 4000*n/10 {
		t.Errorf("%d trials, the grid took %d", r.Trials, 4000*n)
	}
}

// The interval of after is of people that no choice has seen, so it covers what
// others do, too: 95 % intervals, of which 90 of 100 must.
func TestTheIntervalOfAfterCoversAnIndependentMeasurement(t *testing.T) {
	if !*long {
		t.Skip("takes many searches; run with -suite")
	}
	covered := 0
	for seed := range uint64(100) {
		rig, task := away(40)
		s := study(panel(rig, task))
		s.Seed, s.Trials, s.MaxOvershoot = 1001+seed, 200, 1
		r := run(t, s)
		b, err := trial.NewBench(trial.Cell{Task: task, Rings: 1, Inner: &rig.Rig, Profile: r.Knobs[0].Chosen[0], Operator: s.Operator})
		if err != nil {
			t.Fatal(err)
		}
		var all []float64
		if _, err := trial.Batch(context.Background(), b, 1_000_000+seed, 0, 4000, 2, func(_ int, x *trial.Result) { all = append(all, x.Seconds()) }); err != nil {
			t.Fatal(err)
		}
		if m := paired.MeanInterval(all).Value; r.After.Seconds.Low <= m && m <= r.After.Seconds.High {
			covered++
		}
	}
	t.Logf("%d of 100", covered)
	if covered < 90 {
		t.Errorf("%d of 100 intervals cover", covered)
	}
}

// sameForWorkers holds that a report does not depend on how many work on it.
func sameForWorkers(t *testing.T, rig string, report func(*tune.Study) any) {
	t.Helper()
	var first []byte
	for _, workers := range []int{1, 3} {
		s := study(panel(demo.Rig(rig), demo.Task("com-25"), demo.Task("altimeter-hpa")))
		s.Workers, s.Trials = workers, 40
		got, err := json.Marshal(report(s))
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = got
		}
		if !bytes.Equal(got, first) {
			t.Errorf("%d workers:\n%s\nnot\n%s", workers, got, first)
		}
	}
}

func TestAnyNumberOfWorkersFindsTheSame(t *testing.T) {
	sameForWorkers(t, "right-relative", func(s *tune.Study) any { return run(t, s).Report() })
}

func TestWhereNothingIsWithinTheCapsItIsSaid(t *testing.T) {
	rig := &scenarios.Rig{Rig: encoder.Default()}
	rig.Firmware.Output = encoder.Relative
	s := study(panel(rig, demo.Task("com-25")))
	s.Profile = &scenarios.Profile{Name: "mine", Acceleration: accel.Acceleration{Curve: accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10}}}
	s.MaxOvershoot = 0
	r := run(t, s)
	if r.Meets || !strings.Contains(r.Verdict(), "No candidate was found within the caps") {
		t.Errorf("with no overshoot allowed at all: %s", r.Verdict())
	}
}

func TestWhereNothingIsMuchBetterTheSettingsStay(t *testing.T) {
	rig := &scenarios.Rig{Rig: encoder.Default()}
	rig.Firmware.Output = encoder.Relative
	s := study(panel(rig, demo.Task("altimeter-hpa")))
	r := run(t, s)
	if r.Changed() || !strings.HasPrefix(r.Verdict(), "Nothing found that beats your settings by more than 3 %.") || r.After.Seconds != r.Before.Seconds {
		t.Errorf("%s", r.Verdict())
	}
}

// The table keeps to its columns.
func TestTheTableFits80Columns(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	s := study(panel(demo.Rig("left-pulse"), demo.Task("com-25"), demo.Task("altimeter-hpa")))
	s.Trials = 40
	var out bytes.Buffer
	if err := run(t, s).Page().Print(&out, columns.Width); err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(out.String()) {
		if n := len([]rune(strings.TrimRight(line, "\n"))); n > 80 {
			t.Errorf("%d columns: %s", n, line)
		}
	}
}

// Interrupted, the search gives what it had found on the knobs that it had begun,
// measured on fresh people.
func TestAnInterruptedSearchGivesWhatIsProven(t *testing.T) {
	for _, x := range []struct {
		in    string
		knobs int
	}{{"radio, autopilot", 2}, {"nav", 3}} {
		ctx, cancel := context.WithCancel(context.Background())
		s := study(demo.Panel("quillmoor"))
		s.Trials, s.Patience = 40, time.Minute
		s.Progress = func(_, _ int, best string) {
			if strings.HasPrefix(best, x.in) {
				cancel()
			}
		}
		r, err := tune.Run(ctx, s)
		if !errors.Is(err, context.Canceled) || r == nil || !r.Partial {
			t.Fatalf("in %s: result %v, error %v", x.in, r != nil, err)
		}
		if len(r.Knobs) != x.knobs || r.After.Seconds.Value <= 0 || r.Robust != nil {
			t.Errorf("in %s: %d knobs, after %+v, %d variants", x.in, len(r.Knobs), r.After, len(r.Robust))
		}
		cancel()
	}
}

// Who wants it calm overshoots less, and takes longer.
func TestCalmIsCalmerThanSpeed(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	score := func(aim tune.Aim) sample.Score {
		s := study(panel(demo.Rig("right-relative"), demo.Task("hf-20m-50hz")))
		s.MaxOvershoot, s.For = 0.5, aim
		return run(t, s).After
	}
	speed, calm := score(tune.Speed), score(tune.Calm)
	if calm.Overshoot >= speed.Overshoot || calm.Seconds.Value <= speed.Seconds.Value {
		t.Errorf("calm %.2f s, %.2f; speed %.2f s, %.2f", calm.Seconds.Value, calm.Overshoot, speed.Seconds.Value, speed.Overshoot)
	}
}

// What the tool is for: the demo's desk gets quicker and loses hardly a click.
func TestTheDemosDeskGetsQuicker(t *testing.T) {
	if testing.Short() {
		t.Skip("takes ten seconds")
	}
	s := study(demo.Panel("quillmoor"))
	s.Trials = 400
	r := run(t, s)
	t.Logf("%.2f s to %.2f s, overshoot %.3f to %.3f, lost %.3f to %.3f", r.Before.Seconds.Value, r.After.Seconds.Value, r.Before.Overshoot, r.After.Overshoot, r.Before.Lost, r.After.Lost)
	if r.After.Seconds.Value > 0.9*r.Before.Seconds.Value || r.After.Lost > r.Before.Lost/5 {
		t.Errorf("%.2f s to %.2f s, lost %.3f to %.3f", r.Before.Seconds.Value, r.After.Seconds.Value, r.Before.Lost, r.After.Lost)
	}
}

func BenchmarkDemo(b *testing.B) {
	for b.Loop() {
		s := study(demo.Panel("quillmoor"))
		s.Trials = 400
		run(b, s)
	}
}
