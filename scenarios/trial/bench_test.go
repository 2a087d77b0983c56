package trial

import (
	"context"
	"errors"
	"runtime"
	"strings"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/hand"
	"dialwright/scenarios/radio"
)

func TestATrialIsAFunctionOfSeedTaskAndNumber(t *testing.T) {
	rig := encoder.Default()
	b := bench(t, Cell{Task: scenarios.Heading(), Inner: &rig})
	first := b.Run(1, 7)
	for n := range 50 {
		b.Run(2, n)
	}
	if again := b.Run(1, 7); again != first {
		t.Errorf("%+v, and after other trials %+v", first, again)
	}
	if other := b.Clone().Run(1, 7); other != first {
		t.Errorf("%+v, and on a clone %+v", first, other)
	}
	if b.Run(1, 8) == first || b.Run(2, 7) == first {
		t.Error("another trial or seed is the same trial")
	}
}

func TestWatchingATrialChangesNothing(t *testing.T) {
	rig := encoder.Default()
	b := bench(t, Cell{Task: scenarios.Heading(), Inner: &rig, Profile: &scenarios.Profile{Name: "power", Acceleration: accel.Acceleration{Curve: accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10}}}})
	for n := range 100 {
		plain := b.Run(1, n)
		acts, events := 0, 0
		b.Trace = func(int, hand.Act) { acts++ }
		b.Path = func(int, encoder.Event) { events++ }
		watched := b.Run(1, n)
		b.Trace, b.Path = nil, nil
		if watched != plain || acts == 0 || events == 0 {
			t.Fatalf("trial %d: %+v, watched (%d acts, %d events) %+v", n, plain, acts, events, watched)
		}
	}
}

func TestResultsComeInOrderFromAnyNumberOfWorkers(t *testing.T) {
	rig := encoder.Default()
	b := bench(t, Cell{Task: scenarios.Heading(), Inner: &rig})
	const first, last = 13, 13 + 5*blockSize + 9
	var want []Result
	for n := first; n < last; n++ {
		want = append(want, b.Run(3, n))
	}
	for _, workers := range []int{-1, 0, 1, 2, 3, 8, 100} {
		next := first
		done, err := Batch(context.Background(), b, 3, first, last, workers, func(n int, r *Result) {
			if n != next || *r != want[n-first] {
				t.Fatalf("%d workers: trial %d where %d is due, or another result", workers, n, next)
			}
			next++
		})
		if err != nil || done != last-first || next != last {
			t.Errorf("%d workers: %d done, up to %d, %v", workers, done, next, err)
		}
	}
	if done, err := Batch(context.Background(), b, 3, 5, 5, 2, nil); done != 0 || err != nil {
		t.Errorf("no trials: %d, %v", done, err)
	}
}

func TestAnEndedBatchHandsOnAPrefix(t *testing.T) {
	b := bench(t, Cell{Task: numberTask(0)})
	for _, workers := range []int{1, 3} {
		ctx, cancel := context.WithCancel(context.Background())
		seen := 0
		done, err := Batch(ctx, b, 1, 0, 1_000_000, workers, func(n int, _ *Result) {
			if n != seen {
				t.Fatalf("%d workers: trial %d after %d", workers, n, seen)
			}
			if seen++; seen == 200 {
				cancel()
			}
		})
		if !errors.Is(err, context.Canceled) || done != seen || done < 200 || done > 100_000 {
			t.Errorf("%d workers: %d done, %d seen, %v", workers, done, seen, err)
		}
		cancel()
	}
}

// A context that has ended before is never taken for a batch that is whole.
func TestABatchThatNeverBeganSaysSo(t *testing.T) {
	b := bench(t, Cell{Task: numberTask(5)})
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	for range 40 {
		for _, workers := range []int{1, 3} {
			if done, err := Batch(ctx, b, 1, 0, 1000, workers, nil); done != 0 || !errors.Is(err, context.Canceled) {
				t.Fatalf("%d workers: %d done, %v", workers, done, err)
			}
		}
	}
}

func TestATrialAllocatesNothingOnceItHasSeenLongOnes(t *testing.T) {
	rig := encoder.Default()
	for _, task := range []*scenarios.Task{scenarios.Heading(), scenarios.Transponder(), radio.COM25()} {
		b := bench(t, Cell{Task: task, Inner: &rig})
		for n := range 400 {
			b.Run(1, n)
		}
		n := 0
		if a := testing.AllocsPerRun(400, func() { b.Run(1, n%400); n++ }); a > 0 {
			t.Errorf("%s: %g allocations a trial", task.Name, a)
		}
	}
}

// What a batch holds does not grow with its trials: ten million stay under 150 MB.
func TestABatchHoldsNoMoreForMoreTrials(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	b := bench(t, Cell{Task: numberTask(5)})
	held := func(trials int) (most uint64) {
		var m runtime.MemStats
		_, err := Batch(context.Background(), b, 1, 0, trials, 2, func(n int, _ *Result) {
			if n%4000 == 0 {
				runtime.ReadMemStats(&m)
				most = max(most, m.HeapInuse)
			}
		})
		if err != nil {
			t.Fatal(err)
		}
		return most
	}
	held(4000)
	few := held(4000)
	if many := held(40_000); many > few+16<<20 {
		t.Errorf("4000 trials hold %d MB, 40000 hold %d MB", few>>20, many>>20)
	}
}

func TestTwoRingsAreTwoDialsWithAHandMoveBetween(t *testing.T) {
	b := bench(t, Cell{Task: radio.COM25(), Rings: 2})
	var moves, dials []int
	b.Trace = func(dial int, a hand.Act) {
		if a.Kind == hand.HandMove {
			moves = append(moves, dial)
		}
		if len(dials) == 0 || dials[len(dials)-1] != dial {
			dials = append(dials, dial)
		}
	}
	from, _ := b.cell.Task.Index(118_000 * scenarios.Unity)
	to, _ := b.cell.Task.Index(121_500 * scenarios.Unity)
	r := b.Dialed(b.Source(1, 0), from, to)
	if r.Timeout || len(moves) != 1 || moves[0] != 1 || len(dials) != 2 {
		t.Errorf("moves %v over dials %v, %+v", moves, dials, r)
	}
	// 3 clicks of MHz and 20 of 25 kHz, either way round
	if r.Account.Detents < 23 {
		t.Errorf("%d detents", r.Account.Detents)
	}
	same, _ := b.cell.Task.Index(118_500 * scenarios.Unity)
	moves, dials = nil, nil
	if b.Dialed(b.Source(1, 0), from, same); len(moves) != 0 || len(dials) != 1 || dials[0] != 1 {
		t.Errorf("without a change of MHz: moves %v over dials %v", moves, dials)
	}
}

func TestASelectorCostsAKeyAndALook(t *testing.T) {
	task := numberTask(0)
	alone, shared := bench(t, Cell{Task: task}), bench(t, Cell{Task: task, Others: 1})
	for n := range 50 {
		a, s := alone.Run(1, n), shared.Run(1, n)
		w := alone.people.Draw(alone.Source(1, n))
		if s.TimeToTarget-a.TimeToTarget < (w.KeyPress+w.EyeMove)*9/10 && !a.Timeout {
			// The phases of the path fall differently: nearly that much.
			t.Errorf("trial %d: %d ms alone, %d ms behind a selector", n, a.TimeToTarget/1e6, s.TimeToTarget/1e6)
		}
	}
}

func TestWhatDoesNotGoTogetherIsRefused(t *testing.T) {
	o := scenarios.Practised()
	for name, c := range map[string]Cell{
		"base 7 without tolerance": {Task: numberTask(0), Rings: 1, Inner: quickRig(), Operator: &o, Profile: &scenarios.Profile{Name: "coarse", Acceleration: accel.Acceleration{Base: 7}}},
		"a curve that falls":       {Task: numberTask(0), Rings: 1, Inner: quickRig(), Operator: &o, Profile: &scenarios.Profile{Name: "bad", Acceleration: accel.Acceleration{Curve: accel.Ladder{Steps: []accel.Step{{Above: 8, Gain: 5}, {Above: 4, Gain: 2}}}}}},
		"a rig that cannot run":    {Task: numberTask(0), Rings: 1, Inner: &encoder.Rig{}, Operator: &o, Profile: &scenarios.Profile{Name: "plain"}},
	} {
		if _, err := NewBench(c); err == nil {
			t.Errorf("%s was taken", name)
		}
	}
	slow := o
	slow.Reaction.Mean = -time.Second
	if _, err := NewBench(Cell{Task: numberTask(0), Rings: 1, Inner: quickRig(), Operator: &slow, Profile: &scenarios.Profile{}}); err == nil || !strings.Contains(err.Error(), "reaction") {
		t.Errorf("a reaction before the target was taken: %v", err)
	}
}

// A hand that takes one ring for the other has turned a number that must be dialed
// anew: every trial with a slip takes longer than without, and a share of slips in between makes a share of the difference.
func TestAMistakenRingIsDialedAnew(t *testing.T) {
	rig := encoder.Default()
	mean := func(share float64) (seconds, detents float64) {
		o := scenarios.Practised()
		o.WrongRing = share
		b := bench(t, Cell{Task: radio.COM25(), Rings: 2, Inner: &rig, Operator: &o})
		const trials = 2000
		for n := range trials {
			r := b.Run(1, n)
			if r.Timeout {
				t.Fatalf("share %g, trial %d: %+v", share, n, r)
			}
			seconds += r.Seconds() / trials
			detents += float64(r.Account.Detents) / trials
		}
		return seconds, detents
	}
	never, fewest := mean(0)
	half, some := mean(0.5)
	always, most := mean(1)
	if !(never+0.2 < half && half+0.2 < always && fewest < some && some < most) {
		t.Errorf("slips in no, half and all rings: %.2f, %.2f, %.2f s, %.1f, %.1f, %.1f detents", never, half, always, fewest, some, most)
	}
	t.Logf("slips in no, half and all rings: %.2f, %.2f, %.2f s", never, half, always)
}

// A rig that no trial would end on is refused before the hand gets to know it. One on
// which only long trials would not ends the batch with the trials before, whatever the
// number of workers.
func TestARunawayEndsTheBatch(t *testing.T) {
	o := scenarios.Practised()
	rig := encoder.Default()
	cell := Cell{Task: scenarios.Heading(), Rings: 1, Inner: &rig, Operator: &o, Profile: &scenarios.Profile{Name: "plain"}}
	f := &rig.Firmware
	f.Output, f.Pulse, f.Queue, f.CountsPerDetent = encoder.Buttons, 10*time.Second, 1000, 4
	rig.Program.Hold.Period = time.Millisecond
	var runaway *encoder.Runaway
	if _, err := NewBench(cell); !errors.As(err, &runaway) || !strings.Contains(err.Error(), "program.hold.period 1ms") {
		t.Errorf("a hold through a hundred pulses: %v", err)
	}
	rig = encoder.Default()
	rig.Knob.Bounce, f.Scan, f.Debounce = 6*time.Millisecond, time.Microsecond, 1
	b := bench(t, cell)
	wanted, err := Batch(context.Background(), b, 1, 0, 1000, 1, func(int, *Result) {})
	if !errors.As(err, &runaway) || wanted == 1000 {
		t.Fatalf("%d done, %v", wanted, err)
	}
	for _, workers := range []int{2, 5} {
		seen := 0
		done, err := Batch(context.Background(), b, 1, 0, 1000, workers, func(int, *Result) { seen++ })
		if !errors.As(err, &runaway) || done != wanted || seen != wanted {
			t.Errorf("%d workers: %d done, %d seen, %v; one worker: %d", workers, done, seen, err, wanted)
		}
	}
	if b.Run(1, wanted); b.Err() == nil {
		t.Error("the trial that ended the batch is whole")
	}
}
