package encoder_test

import (
	"reflect"
	"slices"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"

	"pgregory.net/rapid"
)

// checkAccount holds what is true of every closed account.
func checkAccount(t interface{ Errorf(string, ...any) }, p *encoder.Path, rig *encoder.Rig, ts []turn) {
	a := p.Account()
	if a.Detents != len(ts) {
		t.Errorf("%d detents in the account, %d turned", a.Detents, len(ts))
	}
	if rig.Firmware.Hold > 0 {
		if a.Presses > 0 != (a.Held > 0) {
			t.Errorf("%d presses of %d ns", a.Presses, a.Held)
		}
		return
	}
	fates := a.Delivered + a.Merged + a.QueueDropped + a.Cleared + a.Illegal + a.PollMissed + a.FrameMissed + a.Clipped
	if fates != a.Detents {
		t.Errorf("%d fates for %d detents: %+v", fates, a.Detents, a)
	}
	if units := !rig.Firmware.Output.Lines(); units != (a.Pulses == 0 && a.PulsesLost == 0) && a.Illegal != a.Detents {
		t.Errorf("%d pulses, %d lost, with output %d", a.Pulses, a.PulsesLost, rig.Firmware.Output)
	}
	if a.PulsesLost < 0 || a.PulsesLost > a.Pulses {
		t.Errorf("%d of %d pulses lost", a.PulsesLost, a.Pulses)
	}
}

// On rigs of all kinds, noisy and not (model.md, Accounting).
func TestEveryDetentIsAccountedFor(t *testing.T) {
	law(t, func(r random) {
		rig := r.rig(r.yes("deterministic"))
		ts := r.turns()
		checkAccount(r, r.path(&rig, ts), &rig, ts)
	})
}

func FuzzEveryDetentIsAccountedFor(f *testing.F) {
	f.Fuzz(rapid.MakeFuzz(func(t *rapid.T) {
		r := random{t}
		rig := r.rig(false)
		ts := r.turns()
		checkAccount(t, r.path(&rig, ts), &rig, ts)
	}))
}

// What was looked at in between, and whether the path was used before, changes
// nothing: a trial is a function of its setup, its turn and its draws.
func TestLooksAndReuseChangeNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := random{t}
		rig := r.rig(false)
		ts := r.turns()
		p := r.path(&rig, ts)
		start := p.Shown(-1)

		trial := draw.NewTrial(2, "again", r.whole("trial", 0, 100))
		run(p, ts, trial, start)
		want, account := slices.Clone(p.Changes()), p.Account()
		p.Start(trial, start)
		for _, turn := range ts {
			p.RunTo(turn.at - int64(r.whole("look", 40, 60))*ms)
			p.Detent(turn.at, turn.dir)
		}
		p.Finish()
		if got := p.Changes(); !slices.Equal(got, want) || p.Account() != account {
			t.Errorf("with looks %+v\n%v\nwithout %+v\n%v", p.Account(), got, account, want)
		}
	})
}

// A trial that was broken off, with pulses waiting, keys held and chatter to come, leaves
// nothing behind for the next one on the same path.
func TestATrialBrokenOffLeavesNothing(t *testing.T) {
	law(t, func(r random) {
		rig := r.rig(false)
		s, start := r.scale()
		g, home := r.gain()
		path := func() *encoder.Path {
			p, err := encoder.NewPath(encoder.Setup{Rig: &rig, Gain: g, Home: home, Scale: s})
			if err != nil {
				r.Fatal(err)
			}
			return p
		}
		before, ts := r.turns(), r.turns()
		p, fresh := path(), path()
		if r.yes("traced") {
			p.Trace = func(encoder.Event) {}
		}
		p.Start(draw.NewTrial(4, "broken off", 0), int64(r.whole("start before", 0, int(s.Count)-1)))
		for _, turn := range before {
			p.Detent(turn.at, turn.dir)
		}
		p.RunTo(before[len(before)-1].at + int64(r.whole("ms run on", 0, 100))*ms)
		p.Trace = nil
		trial := draw.NewTrial(5, "after it", r.whole("trial", 0, 1000))
		run(p, ts, trial, start)
		run(fresh, ts, trial, start)
		if !slices.Equal(p.Changes(), fresh.Changes()) || p.Account() != fresh.Account() ||
			p.WorstBacklog() != fresh.WorstBacklog() || p.Events() != fresh.Events() {
			r.Errorf("after a trial that was broken off %+v\n%v\non a new path %+v\n%v", p.Account(), p.Changes(), fresh.Account(), fresh.Changes())
		}
	})
}

// Whoever waits until a path is empty has seen all: the number changes no more, and
// whatever is said to be on its way ends at last. (Looks at a path with changes that
// queue on the bus, keys that repeat, lines that are held, pulses that wait.)
func TestAnEmptyPathIsOver(t *testing.T) {
	looks, full := 0, 0
	law(t, func(r random) {
		rig := r.rig(false)
		s, start := r.scale()
		g, home := r.gain()
		p, err := encoder.NewPath(encoder.Setup{Rig: &rig, Gain: g, Home: home, Scale: s})
		if err != nil {
			r.Fatal(err)
		}
		ts := r.turns()
		p.Start(draw.NewTrial(3, "empty", r.whole("trial", 0, 1<<20)), start)
		for _, turn := range ts {
			p.Detent(turn.at, turn.dir)
		}
		at := ts[len(ts)-1].at
		step := int64(r.time("looks apart", time.Millisecond, 40*time.Millisecond))
		for n := 0; ; n++ {
			if p.RunTo(at); p.Empty() {
				break
			}
			if n == 1_000_000 {
				r.Fatal("never empty")
			}
			full++
			at += step
		}
		seen, shown := len(p.Changes()), p.Shown(at)
		p.Finish()
		if !p.Empty() || len(p.Changes()) != seen || p.Shown(1<<62) != shown {
			r.Errorf("empty at %d ms with the number at %d, then %v", at/ms, shown, p.Changes()[seen:])
		}
		looks++
	})
	if full < looks {
		t.Errorf("only %d looks at paths that were not empty, of %d paths", full, looks)
	}
}

// A path has run up to an instant and with it: the number that comes to the screen then
// is seen, and a moment before it was on its way.
func TestAPathRunsUpToAnInstantAndWithIt(t *testing.T) {
	for _, x := range paths {
		rig := ideal()
		x.set(&rig)
		p, err := encoder.NewPath(encoder.Setup{Rig: &rig})
		if err != nil {
			t.Fatal(err)
		}
		start := func() {
			p.Start(draw.NewTrial(1, "instant", 0), 7)
			p.Detent(100*ms, +1)
		}
		start()
		p.Finish()
		at := p.Changes()[0].At
		start()
		if p.RunTo(at - 1); p.Empty() || p.Shown(at-1) != 7 {
			t.Errorf("%s: over before %d ns, at %d", x.name, at, p.Shown(at-1))
		}
		if p.RunTo(at); !p.Empty() || p.Shown(at) != 8 {
			t.Errorf("%s: not over at %d ns, at %d", x.name, at, p.Shown(at))
		}
		if p.Finish(); len(p.Changes()) != 1 {
			t.Errorf("%s: %v", x.name, p.Changes())
		}
	}
}

// Sums of accounts are sums of all that is counted.
func TestAnAccountAddsAllItsFields(t *testing.T) {
	var one, sum encoder.Account
	n := int64(0)
	var each func(v reflect.Value, do func(reflect.Value))
	each = func(v reflect.Value, do func(reflect.Value)) {
		for i := range v.NumField() {
			if f := v.Field(i); f.Kind() == reflect.Struct {
				each(f, do)
			} else {
				do(f)
			}
		}
	}
	each(reflect.ValueOf(&one).Elem(), func(f reflect.Value) { n++; f.SetInt(n) })
	sum.Add(one)
	sum.Add(one)
	n = 0
	each(reflect.ValueOf(sum), func(f reflect.Value) {
		if n++; f.Int() != 2*n {
			t.Errorf("field %d of the account: %d, not %d", n, f.Int(), 2*n)
		}
	})
	if n < 18 {
		t.Errorf("%d fields", n)
	}
}

// Mirrored turns on a path without noise move the number by the mirrored amount.
func TestMirroredTurnsMirrorTheNumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := random{t}
		rig := r.rig(true)
		rig.Knob.Cycles, rig.Knob.Detents = 24, 24 // A leads in both directions only with whole cycles
		rig.Firmware.Decoder = encoder.Table
		if rig.Firmware.Output == encoder.AxisOutput {
			t.Skip("halves are rounded up")
		}
		ts := r.turns()
		p, err := encoder.NewPath(encoder.Setup{Rig: &rig})
		if err != nil {
			t.Fatal(err)
		}
		run(p, ts, draw.NewTrial(1, "", 0), 0)
		forward, account := slices.Clone(p.Changes()), p.Account()
		for i := range ts {
			ts[i].dir = -ts[i].dir
		}
		run(p, ts, draw.NewTrial(1, "", 0), 0)
		for i := range forward {
			forward[i].Value = -forward[i].Value
		}
		if !slices.Equal(p.Changes(), forward) || p.Account() != account {
			t.Errorf("mirrored %v, not %v", p.Changes(), forward)
		}
	})
}
