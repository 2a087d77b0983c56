package trial

import (
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/hand"
)

// quickRig is a path that loses nothing and delays next to nothing.
func quickRig() *encoder.Rig {
	r := encoder.Default()
	r.Name = "quick"
	r.Knob.Bounce = 0
	r.Knob.Push = true
	r.Firmware = encoder.Firmware{Scan: 50 * time.Microsecond, Debounce: 1, CountsPerDetent: 1, Output: encoder.Relative}
	r.USB.Poll = 125 * time.Microsecond
	r.System.Latency, r.Display.Latency = 0, 0
	r.Program = encoder.Program{Sampling: encoder.Immediate}
	return &r
}

// numberTask is 0 to 999, a target within ± so many steps.
func numberTask(tolerance int64) *scenarios.Task {
	return &scenarios.Task{
		Name: "number", From: 0, To: 999 * scenarios.Unity, Step: scenarios.Unity,
		Tolerance: scenarios.Amount(tolerance) * scenarios.Unity,
	}
}

func bench(t testing.TB, c Cell) *Bench {
	t.Helper()
	if c.Rings == 0 {
		c.Rings = 1
	}
	if c.Inner == nil {
		c.Inner = quickRig()
	}
	if c.Profile == nil {
		c.Profile = &scenarios.Profile{Name: "plain"}
	}
	if c.Operator == nil {
		o := scenarios.Practised()
		c.Operator = &o
	}
	b, err := NewBench(c)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// turn is so many clicks, up or down, the first at a time and then one every 20 ms.
type turn struct {
	ms     int64
	clicks int
}

// turned measures a dial that somebody turned as told, and not as a hand would.
func turned(b *Bench, start, target int64, turns ...turn) Result {
	p := b.dials[0].run.Path
	p.Start(draw.NewTrial(1, "turned", 0), start)
	for _, x := range turns {
		dir := int8(1)
		if x.clicks < 0 {
			dir, x.clicks = -1, -x.clicks
		}
		for i := range x.clicks {
			p.Detent((x.ms+int64(20*i))*1e6, dir)
		}
	}
	p.Finish()
	r := Result{Start: start, Target: target}
	d := hand.Done{At: 1 << 60}
	b.add(&r, 0, d, p)
	b.measure(&r, 0, d, start, target, start)
	return r
}

func TestOvershootIsTheLargestExcursionPastTheTolerance(t *testing.T) {
	for _, x := range []struct {
		name      string
		tolerance int64
		start     int64
		target    int64
		turns     []turn
		want      int64
	}{
		{"straight there", 0, 100, 110, []turn{{100, 10}}, 0},
		{"three past", 0, 100, 110, []turn{{100, 13}, {1000, -3}}, 3},
		{"three past, downwards", 0, 110, 100, []turn{{100, -13}, {1000, 3}}, 3},
		{"past, and past again on the way back by more", 0, 100, 110, []turn{{100, 11}, {1000, -5}, {2000, 4}}, 4},
		{"short is not past", 0, 100, 110, []turn{{100, 7}, {1000, 3}}, 0},
		{"the wrong way first is not past", 0, 100, 110, []turn{{100, -5}, {1000, 15}}, 0},
		{"there from the beginning, left for less and for more", 0, 100, 100, []turn{{100, -2}, {1000, 5}, {2000, -3}}, 3},
		{"there from the beginning, left for less", 0, 100, 100, []turn{{100, -2}, {1000, 2}}, 2},
		{"inside the tolerance is not past", 3, 100, 110, []turn{{100, 13}}, 0},
		{"one past the tolerance", 3, 100, 110, []turn{{100, 14}, {1000, -2}}, 1},
		{"back out of the tolerance on the near side is not past", 3, 100, 110, []turn{{100, 10}, {1000, -5}, {2000, 3}}, 0},
	} {
		b := bench(t, Cell{Task: numberTask(x.tolerance)})
		r := turned(b, x.start, x.target, x.turns...)
		if r.Overshoot != x.want || r.ByDial[0] != x.want || r.Overshot() != (x.want >= 1) || (r.PastAt > 0) != (x.want > 0) {
			t.Errorf("%s: overshoot %d (dial %d, past at %d), want %d", x.name, r.Overshoot, r.ByDial[0], r.PastAt, x.want)
		}
	}
}

// The first of several excursions is when the number was past for the first time.
func TestPastAtIsTheFirstInstantPastTheTarget(t *testing.T) {
	b := bench(t, Cell{Task: numberTask(1)})
	r := turned(b, 100, 110, turn{100, 14}, turn{1000, -8}, turn{2000, 9}) // 112 is past: the twelfth click
	const want = 100e6 + 11*20e6
	if d := r.PastAt - want; d < 0 || d > 1e6 || r.Overshoot != 4 {
		t.Errorf("past at %.1f ms by %d, want %.0f ms by 4", float64(r.PastAt)/1e6, r.Overshoot, want/1e6)
	}
}

// Around a ring of 360: whoever has gone more than halfway past comes to the target
// from the other side, where it is the target all the same.
func TestOnceAroundTheRingIsTheTargetAgain(t *testing.T) {
	b := bench(t, Cell{Task: scenarios.Heading()})
	r := turned(b, 9, 19, turn{100, 10 + 360})
	if r.Overshoot != 180 || r.FinalError != 0 || r.TimeToTarget < 100e6+369*20e6 {
		t.Errorf("ten and once around: overshoot %d, %d off, time to target %.3f s", r.Overshoot, r.FinalError, r.Seconds())
	}
	if r := turned(b, 9, 19, turn{100, 10 + 200}, turn{9000, 165}, turn{18000, -5}); r.Overshoot != 180 || r.TimeToTarget < 18080e6 {
		t.Errorf("around and five past: overshoot %d, time to target %.3f s", r.Overshoot, r.Seconds())
	}
}

func TestTimeToTargetIsWhenTheNumberLastCameWithinTheTolerance(t *testing.T) {
	b := bench(t, Cell{Task: numberTask(1)})
	r := turned(b, 100, 110, turn{100, 13}, turn{1000, -3}) // 109 is shown at 100 + 8·20 ms, left and entered again by 111
	const want = 1000e6 + 20e6                              // the second click back: 113, 112, 111
	if d := r.TimeToTarget - want; d < 0 || d > 1e6 {
		t.Errorf("time to target %.3f ms, want %.0f to %.0f ms", float64(r.TimeToTarget)/1e6, want/1e6, want/1e6+1)
	}
	if straight := turned(b, 100, 110, turn{100, 10}); straight.TimeToTarget < 260e6 || straight.TimeToTarget > 261e6 {
		t.Errorf("within one step of the target after nine clicks: %.3f ms", float64(straight.TimeToTarget)/1e6)
	}
}

func TestReversalsAreTurnsOfTheKnobAgainstTheOneBefore(t *testing.T) {
	b := bench(t, Cell{Task: numberTask(0)})
	if r := turned(b, 100, 110, turn{100, 11}, turn{1000, -3}, turn{2000, 2}); r.Reversals != 2 {
		t.Errorf("%d reversals, want 2", r.Reversals)
	}
}

// Ten pulses of 60 ms behind ten clicks in 0.2 s: what comes after the last click
// is run-on.
func TestRunOnIsWhatComesAfterTheKnobHasStopped(t *testing.T) {
	r := quickRig()
	r.Firmware.Output, r.Firmware.Pulse, r.Firmware.Gap, r.Firmware.Queue = encoder.Buttons, 30*time.Millisecond, 30*time.Millisecond, 20
	asked := func(c Cell) *Bench {
		b := bench(t, c)
		b.RunOn = true
		return b
	}
	b := asked(Cell{Task: numberTask(0), Inner: r})
	got := turned(b, 100, 110, turn{100, 10})
	// Clicks at 100, 120 … 280 ms; presses at 100, 160, 220, and just after the last
	// click and six times more.
	if got.RunOn != 7 || got.Backlog != 6 {
		t.Errorf("%d steps of run-on and a backlog of %d, want 7 and 6", got.RunOn, got.Backlog)
	}
	r.Display.Latency = 300 * time.Millisecond // what is only seen later does not come later
	if late := turned(asked(Cell{Task: numberTask(0), Inner: r}), 100, 110, turn{100, 10}); late.RunOn != got.RunOn {
		t.Errorf("%d steps of run-on on a late screen, %d on a quick one", late.RunOn, got.RunOn)
	}
	if r := turned(b, 100, 110, turn{100, 10}, turn{3000, 4}); r.RunOn != got.RunOn { // the worst of both stops
		t.Errorf("%d steps of run-on and fewer at a second stop, want %d", r.RunOn, got.RunOn)
	}
	if r := turned(asked(Cell{Task: numberTask(0)}), 100, 110, turn{100, 10}); r.RunOn > 1 {
		t.Errorf("%d steps of run-on without a queue", r.RunOn)
	}
}

// FAA AIM 4-1-20: codes that are never to be passed through (row C4).
func TestAlarmCodesCrossedAreThoseThatWereShown(t *testing.T) {
	task := scenarios.Transponder()
	b := bench(t, Cell{Task: task})
	code := func(octal int64) int64 { return octal }
	// The first dial is the left digit: 6600 to 0600 goes by 7600.
	p := b.dials[0].run.Path
	p.Start(draw.NewTrial(1, "alarm", 0), 6)
	p.Detent(100e6, +1)
	p.Detent(200e6, +1)
	p.Finish()
	r := Result{Start: code(0o6600), Target: code(0o0600)}
	b.measure(&r, 0, hand.Done{At: 1 << 60}, 6, 0, code(0o6600))
	if r.Alarms != 1 {
		t.Errorf("%d alarm codes from 6600 to 0600, want 1 (7600)", r.Alarms)
	}
	// Codes that follow each other on the way are crossed in one go.
	for _, x := range []struct{ dial, clicks, from, to, want int64 }{
		{1, 2, 0o7500, 0o7700, 1}, {3, 5, 0o7600, 0o7605, 1}, {3, 5, 0o7500, 0o7505, 0}, {1, 4, 0o7400, 0o7000, 1}, {0, 2, 0o6600, 0o0600, 1},
	} {
		d := b.dials[x.dial]
		d.run.Path.Start(draw.NewTrial(1, "alarm", 0), d.Part(x.from))
		for i := range x.clicks {
			d.run.Path.Detent((i+1)*100e6, +1)
		}
		d.run.Path.Finish()
		r := Result{Start: x.from, Target: x.to}
		b.measure(&r, int(x.dial), hand.Done{At: 1 << 60}, d.Part(x.from), d.Part(x.to), x.from)
		if int64(r.Alarms) != x.want {
			t.Errorf("%d alarm codes from %o to %o, want %d", r.Alarms, x.from, x.to, x.want)
		}
	}
	// 0500 by 7500 and 7600 to 7700.
	for n := range 10 {
		if r := b.Dialed(b.Source(1, n), 0o0500, 0o7700); r.Alarms < 2 {
			t.Errorf("trial %d: %d alarm codes from 0500 to 7700, want 2", n, r.Alarms)
		}
	}
	r = Result{Start: code(0o6600), Target: code(0o7600)}
	b.measure(&r, 0, hand.Done{At: 1 << 60}, 6, 7, code(0o6600))
	if r.Alarms != 0 {
		t.Errorf("7600 counts as crossed though it is the target")
	}
}

func TestATimeoutSaysHowFarTheNumberIsOff(t *testing.T) {
	task := numberTask(2)
	task.Limit = time.Second
	b := bench(t, Cell{Task: task})
	r := b.Dialed(b.Source(1, 0), 0, 900)
	if !r.Timeout || r.TimeToTarget != 1e9 || r.FinalError <= 0 || r.FinalError > 900 {
		t.Errorf("900 steps in a second: %+v", r)
	}
	var log Log
	for n := range 20 {
		log.Runs, b.log = log.Runs[:0], &log
		r := b.Dialed(b.Source(1, n), 0, 900)
		value := int64(0)
		for _, e := range log.Runs[0].Events {
			if e.Kind == encoder.Stepped && e.At <= 1e9 {
				value = e.Value
			}
		}
		if r.FinalError != 898-value || value < 3 {
			t.Errorf("trial %d: the number is %d when time is up, %d short of 900 − 2", n, value, r.FinalError)
		}
	}
	b.log = nil
	done := b.Dialed(b.Source(1, 0), 0, 3)
	if done.Timeout || done.FinalError != 0 {
		t.Errorf("3 steps in a second: timeout %v, %d off", done.Timeout, done.FinalError)
	}
}
