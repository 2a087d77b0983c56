package evidence

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/trial"
)

// setting is a random rig, profile and task.
type setting struct {
	rig     encoder.Rig
	profile scenarios.Profile
	task    *scenarios.Task
}

// randomSetting draws a rig of any kind that a person can work with, one of the
// built-in curves or a constant gain, and a number some way off.
func randomSetting(rng *rand.Rand, constant bool) setting {
	ms := func(low, high int) time.Duration {
		return time.Duration(low+rng.IntN(high-low+1)) * time.Millisecond
	}
	r := encoder.Default()
	r.Name = "random"
	r.Knob = [...]encoder.Knob{
		{Detents: 24, Cycles: 24, Bounce: 2 * time.Millisecond}, {Detents: 30, Cycles: 15, Bounce: time.Millisecond},
		{Detents: 20, Cycles: 20}, {Detents: 36, Cycles: 9},
	}[rng.IntN(4)]
	r.Firmware.Output = [...]encoder.Output{encoder.Buttons, encoder.Keys, encoder.Relative}[rng.IntN(3)]
	r.Firmware.Pulse, r.Firmware.Gap = ms(20, 50), ms(20, 50)
	r.Firmware.Queue = rng.IntN(12)
	r.USB.Poll = ms(1, 10)
	r.USB.Reports = encoder.Reports(rng.IntN(2))
	r.Program.Frames = encoder.PerSecond(20 + rng.IntN(60))
	r.Program.Sampling = encoder.Sampling(rng.IntN(3))
	r.Display.Latency = ms(0, 100)
	s := setting{rig: r, profile: scenarios.Profile{Name: "plain"}}
	if constant {
		if g := rng.IntN(3); g > 0 {
			s.profile = scenarios.Profile{Name: "constant", Acceleration: accel.Acceleration{Curve: accel.Constant{Gain: float64(1 + g)}}}
		}
	} else if i := rng.IntN(5); i > 0 {
		s.profile = accelerated()[i-1]
	}
	s.task = numberTask(float64(5 + rng.IntN(60)))
	s.task.Tolerance = scenarios.Amount(1+rng.IntN(3)) * scenarios.Unity
	return s
}

// tally compares a measure before and after a change, setting by setting.
type tally struct{ sum, squares, n float64 }

func (t *tally) add(difference float64) {
	t.sum += difference
	t.squares += difference * difference
	t.n++
}

// z is how many standard errors the mean difference is from 0.
func (t *tally) z() float64 {
	mean := t.sum / t.n
	return mean / math.Sqrt((t.squares/t.n-mean*mean)/(t.n-1)+1e-30)
}

const (
	lawSettings = 200
	lawTrials   = 20
	falseAlarm  = 3.1 // standard errors: one-sided 0.1 %
)

// holds runs a law on random settings: after the change, the measure must not fall.
// Both sides meet the same people, phases and noise.
func holds(t *testing.T, constant bool, measure func(*cell) float64, change func(*setting, *scenarios.Operator)) {
	t.Helper()
	rng := rand.New(rand.NewPCG(3, 4))
	var pool tally
	for range lawSettings {
		s := randomSetting(rng, constant)
		before := s.measure(t, scenarios.Practised())
		o := scenarios.Practised()
		change(&s, &o)
		after := s.measure(t, o)
		pool.add(measure(&after) - measure(&before))
	}
	t.Logf("mean difference %.4f, %.1f standard errors", pool.sum/pool.n, pool.z())
	if pool.z() < -falseAlarm {
		t.Errorf("over %d settings the measure falls by %.4f (%.1f standard errors)", lawSettings, -pool.sum/pool.n, -pool.z())
	}
}

func (s setting) measure(t *testing.T, o scenarios.Operator) cell {
	t.Helper()
	s.task.Name = "law"
	c, err := run(context.Background(), trial.Cell{Task: s.task, Rings: 1, Inner: &s.rig, Profile: &s.profile, Operator: &o}, 7, lawTrials, nil)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func seconds(c *cell) float64 { return c.time }
func share(c *cell) float64   { return c.over }

// What comes later is acted on later.
func TestMoreLagIsNotFaster(t *testing.T) {
	holds(t, false, seconds, func(s *setting, _ *scenarios.Operator) { s.rig.Display.Latency += 150 * time.Millisecond })
}

// A stroke that is further off needs more corrections.
func TestMoreNoiseIsNotFaster(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	holds(t, false, seconds, func(_ *setting, o *scenarios.Operator) { o.Noise.Mean *= 1.5 })
}

// Whoever must hit more narrowly also hits the wider target.
func TestASmallerToleranceIsNotFaster(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	holds(t, false, seconds, func(s *setting, _ *scenarios.Operator) {
		c := *s.task
		c.Tolerance -= scenarios.Unity
		s.task = &c
		if s.profile.Acceleration.Base > 1 {
			t.Fatal("no base above 1 here")
		}
	})
}

// What is on its way and not yet seen is what one overshoots by.
func TestOvershootDoesNotFallWithLag(t *testing.T) {
	holds(t, false, share, func(s *setting, _ *scenarios.Operator) { s.rig.Display.Latency += 150 * time.Millisecond })
}

// Without wrap there is no short way to a far number. (A constant gain: an
// accelerated stroke may well be quicker than fine turning.)
func TestAFartherTargetIsNotFaster(t *testing.T) {
	holds(t, true, seconds, func(s *setting, _ *scenarios.Operator) {
		d := s.task.Target.Move.From.Float()
		far := numberTask(d + 12)
		far.Tolerance = s.task.Tolerance
		s.task = far
	})
}

// A person knows the knob by having turned it: a curve above any rate that the path
// gives changes not one trial.
func TestACurveThatNeverActsChangesNoTrial(t *testing.T) {
	waitsFor(t, "A18")
	rng := rand.New(rand.NewPCG(11, 12))
	for i := range 60 {
		s := randomSetting(rng, true)
		gain := 1 + 30*rng.Float64()
		idle := s.profile
		idle.Acceleration = accel.Acceleration{Curve: accel.Ladder{Steps: []accel.Step{{Above: 900, Gain: gain}}}}
		dials := func(p *scenarios.Profile) (all []trial.Result) {
			_, err := run(context.Background(), trial.Cell{Task: s.task, Rings: 1, Inner: &s.rig, Profile: p, Operator: ptr(scenarios.Practised())}, 7, lawTrials, func(r *trial.Result) { all = append(all, *r) })
			if err != nil {
				t.Fatal(err)
			}
			return all
		}
		plain, with := dials(&scenarios.Profile{Name: "plain"}), dials(&idle)
		for n := range plain {
			if plain[n] != with[n] {
				t.Errorf("setting %d, gain %.1f: trial %d is another one: %+v, without the curve %+v", i, gain, n, with[n], plain[n])
				break
			}
		}
	}
}

// fromRest dials every number up to so many steps away from rest, exactly. Other
// people do that on every setting, so that pooled they are many.
func (s setting) fromRest(t *testing.T, people uint64, far int, use func(steps int, r *trial.Result)) {
	t.Helper()
	task := near(far)
	b, err := trial.NewBench(trial.Cell{Task: task, Rings: 1, Inner: &s.rig, Profile: &s.profile, Operator: ptr(scenarios.Practised())})
	if err != nil {
		t.Fatal(err)
	}
	middle := task.Count() / 2
	for n := range lawTrials {
		for steps := 1; steps <= far; steps++ {
			r := b.Dialed(b.Source(people, n), middle, middle+int64(steps))
			use(steps, &r)
		}
	}
}

// waitsFor skips a law that waits for the person, as a row does.
func waitsFor(t *testing.T, id string) {
	t.Helper()
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	if slices.Contains(waiting, id) {
		t.Skip("waits for the person, as row " + id + " does")
	}
}

// With seconds of lag people move and wait, on whatever rig: nobody gives up, and
// pooled over rigs the time is a line in the lag.
func TestTimeIsALineInTheDisplaysLag(t *testing.T) {
	waitsFor(t, "A15")
	rng := rand.New(rand.NewPCG(13, 14))
	mean := make([]float64, len(waited))
	timeouts, trials := 0, 0
	for range lawSettings {
		s := randomSetting(rng, true)
		for i, lag := range waited {
			s.rig.Display.Latency = lag
			c := s.measure(t, scenarios.Practised())
			mean[i] += c.time / lawSettings
			timeouts += c.timeouts
			trials += c.trials
		}
	}
	var x []float64
	for _, lag := range waited {
		x = append(x, lag.Seconds())
	}
	l := fitLine(x, mean)
	t.Logf("%.2f + %.2f·lag s, R² %.4f, %d of %d timeouts", l.intercept, l.slope, l.r2, timeouts, trials)
	if l.r2 < 0.95 || 100*timeouts > trials {
		t.Errorf("R² %.3f over %v, %d of %d trials are timeouts", l.r2, mean, timeouts, trials)
	}
}

// Small numbers are turned with the same noise as larger ones, on whatever rig.
func TestOvershootFromRestDoesNotJump(t *testing.T) {
	waitsFor(t, "A16")
	rng := rand.New(rand.NewPCG(15, 16))
	var over [fewDetents + 2]float64
	for range lawSettings {
		s := randomSetting(rng, true)
		s.profile = scenarios.Profile{Name: "plain"}
		s.fromRest(t, rng.Uint64(), fewDetents+1, func(steps int, r *trial.Result) {
			if r.Overshot() {
				over[steps] += 1.0 / lawSettings / lawTrials
			}
		})
	}
	t.Logf("%.3f", over[1:])
	for n := 1; n <= fewDetents; n++ {
		if jump := math.Abs(over[n+1] - over[n]); jump > 0.1 {
			t.Errorf("overshoot jumps from %.0f to %.0f %% between %d and %d detents", 100*over[n], 100*over[n+1], n, n+1)
		}
	}
}

// A curve may bring one distance in a stroke and another not; pooled over rigs,
// curves and phases, a step more is never faster by more than 3 %.
func TestAStepFartherIsNotFasterWithAcceleration(t *testing.T) {
	waitsFor(t, "A17")
	const far = 30
	rng := rand.New(rand.NewPCG(17, 18))
	var mean [far + 2]float64
	for range lawSettings {
		s := randomSetting(rng, false)
		s.fromRest(t, rng.Uint64(), far+1, func(steps int, r *trial.Result) { mean[steps] += r.Seconds() / lawSettings / lawTrials })
	}
	t.Logf("%.2f", mean[1:])
	for n := 1; n <= far; n++ {
		if mean[n+1] < 0.97*mean[n] {
			t.Errorf("%d steps take %.2f s, %d steps %.2f s", n, mean[n], n+1, mean[n+1])
		}
	}
}

// Up and down are alike for the path and for the hand.
func TestMirroredTargetsTakeTheSameTime(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	var pool tally
	for range lawSettings {
		s := randomSetting(rng, false)
		b, err := trial.NewBench(trial.Cell{Task: s.task, Rings: 1, Inner: &s.rig, Profile: &s.profile, Operator: ptr(scenarios.Practised())})
		if err != nil {
			t.Fatal(err)
		}
		middle := s.task.Count() / 2
		d := int64(s.task.Target.Move.From.Float())
		for n := range lawTrials {
			up := b.Dialed(b.Source(8, n), middle, middle+d)
			down := b.Dialed(b.Source(9, n), middle, middle-d)
			pool.add(up.Seconds() - down.Seconds())
		}
	}
	t.Logf("mean difference %.4f, %.1f standard errors", pool.sum/pool.n, pool.z())
	if math.Abs(pool.z()) > 3.3 { // two-sided 0.1 %
		t.Errorf("up and down differ by %.3f s (%.1f standard errors)", pool.sum/pool.n, pool.z())
	}
}

func ptr[T any](v T) *T { return &v }

// A number is what it is, whatever unit its steps are counted in.
func TestScalingStepRangeToleranceAndTargetChangesNothing(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	rng := rand.New(rand.NewPCG(7, 8))
	for range lawSettings {
		s := randomSetting(rng, false)
		before := s.measure(t, scenarios.Practised())
		k := scenarios.Amount(2 + rng.IntN(50))
		c := *s.task
		c.From, c.To, c.Step, c.Tolerance = k*c.From, k*c.To, k*c.Step, k*c.Tolerance
		c.Start = scenarios.Distribution{List: []scenarios.Amount{k * c.Start.List[0]}}
		c.Target.Move.From, c.Target.Move.To = k*c.Target.Move.From, k*c.Target.Move.To
		s.task = &c
		after := s.measure(t, scenarios.Practised())
		if before.time != after.time || before.over != after.over || before.strokes != after.strokes {
			t.Fatalf("scaled by %d: %+v instead of %+v", k, after, before)
		}
	}
}

// A path that delivers half of the detents is slow, but nobody gives up or runs in
// circles. A frame falls into every second pulse of half a frame.
func TestNoTrialCyclesOnAPathThatDeliversHalf(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	for i := range lawSettings {
		s := randomSetting(rng, false)
		f := &s.rig.Firmware
		f.Output, f.Pulse, f.Gap = encoder.Buttons, 20*time.Millisecond, 67*time.Millisecond
		s.rig.Program = encoder.Program{Frames: 25, Jitter: 0.3, Sampling: encoder.State}
		s.rig.USB = encoder.USB{Poll: time.Millisecond}
		s.task.Limit = 120 * time.Second
		if c := s.measure(t, scenarios.Practised()); c.timeouts > 0 {
			t.Errorf("setting %d (%s, %d detents): %d of %d trials were not done after 120 s", i, s.profile.Name, s.rig.Knob.Detents, c.timeouts, c.trials)
		}
	}
}

// The wheel study explains what acceleration saves by the clutching it spares
// (Hinckley et al. 2002): without the time for it most of the saving is gone.
func TestWithoutClutchTimeMostOfTheSavingIsGone(t *testing.T) {
	saved := func(o scenarios.Operator) (seconds [2]float64) {
		constant, err := wheel(context.Background(), o, wheelConstant(), 1, 200)
		if err != nil {
			t.Fatal(err)
		}
		quick, err := wheel(context.Background(), o, wheelAccelerated(), 1, 200)
		if err != nil {
			t.Fatal(err)
		}
		for i := range constant {
			switch constant[i].distance {
			case 192:
				seconds[0] += (constant[i].confirmed - quick[i].confirmed) / 3
			case 384:
				seconds[1] += (constant[i].confirmed - quick[i].confirmed) / 3
			}
		}
		return seconds
	}
	o := scenarios.Practised()
	with := saved(o)
	o.Regrip.Mean = 0
	without := saved(o)
	for i, notches := range []int{31, 61} {
		t.Logf("%d notches: %.2f s saved, %.2f s without clutch time", notches, with[i], without[i])
		if without[i] > with[i]/2 {
			t.Errorf("at %d notches acceleration saves %.2f s with clutch time and still %.2f s without", notches, with[i], without[i])
		}
	}
}

// Lag turns smooth approaches into wait-and-see.
func TestStrokesPerTrialRiseWithLag(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	last := 0.0
	for i, lag := range []time.Duration{lags[0], lags[3]} {
		cells, err := lagged(context.Background(), scenarios.Practised(), lag, 1, 150)
		if err != nil {
			t.Fatal(err)
		}
		p := pooled(cells)
		t.Logf("%v: %.2f strokes", lag, p.strokes)
		if i > 0 && p.strokes < last {
			t.Errorf("at %v there are %.2f strokes a trial, fewer than %.2f at less lag", lag, p.strokes, last)
		}
		last = p.strokes
	}
}

// Who knows better how to turn needs less time and fewer strokes. (Overshoot need
// not fall: experts turn faster.)
func TestNovicePractisedAndExpertDifferAsTheyShould(t *testing.T) {
	var times, strokes []float64
	for _, o := range scenarios.Operators() {
		time, n, k := 0.0, 0.0, 0.0
		for _, task := range scenarios.Tasks() {
			rig := encoder.Default()
			c, err := run(context.Background(), trial.Cell{Task: task, Rings: 1, Inner: &rig, Profile: &scenarios.Profile{Name: "plain"}, Operator: &o}, 1, 100, nil)
			if err != nil {
				t.Fatal(err)
			}
			time, n, k = time+c.time, n+c.strokes, k+1
		}
		t.Logf("%s: %.2f s, %.1f strokes", o.Name, time/k, n/k)
		times, strokes = append(times, time), append(strokes, n)
	}
	for i := 1; i < len(times); i++ {
		if times[i] >= times[i-1] || strokes[i] >= strokes[i-1] {
			t.Errorf("%s is not quicker, with fewer strokes, than %s", scenarios.Operators()[i].Name, scenarios.Operators()[i-1].Name)
		}
	}
}
