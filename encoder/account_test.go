package encoder_test

import (
	"slices"
	"testing"

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
