package encoder

import (
	"testing"
	"time"

	"dialwright/encoder/draw"
)

// A trial may cost so much, and more for each detent; what leaves something behind, full
// measure for the first detents alone. One event more and it is given up.
func TestWhatATrialMayCost(t *testing.T) {
	for _, x := range []struct {
		on      labour
		detents int
		most    int64
	}{
		{chatter, 0, 1 << 18}, {chatter, 10, 1<<18 + 10<<12}, {chatter, 1000, 1<<18 + 1000<<12},
		{counting, 0, 1 << 18}, {repeating, 10, 1<<18 + 10<<12 + 10<<6}, {holding, 256, 1<<18 + 256<<12 + 256<<6}, {holding, 1000, 1<<18 + 256<<12 + 1000<<6},
	} {
		rig := Default()
		p, err := NewPath(Setup{Rig: &rig})
		if err != nil {
			t.Fatal(err)
		}
		p.Start(draw.NewTrial(1, "", 0), 0)
		p.detents = append(p.detents, make([]Detent, x.detents)...)
		if !p.spend(x.most, x.on) || p.Err() != nil {
			t.Errorf("%+v: less is given up", x)
		}
		if p.spend(1, x.on) || p.Err() == nil {
			t.Errorf("%+v: more is not given up", x)
		}
	}
}

// A repeat of a key costs one event, as a count and its pulse do.
func TestARepeatCostsAnEvent(t *testing.T) {
	cost := func(rate PerSecond) int64 {
		rig := Default()
		rig.Knob.Bounce, rig.Firmware.Output, rig.Firmware.Hold, rig.Firmware.Debounce = 0, Keys, 300*time.Millisecond, 1
		rig.System.Repeat, rig.Program.Sampling = Repeat{Delay: 100 * time.Millisecond, Rate: rate}, Immediate
		rig.Firmware.Phase, rig.USB.Phase = PhaseAt(0), PhaseAt(0)
		p, err := NewPath(Setup{Rig: &rig})
		if err != nil {
			t.Fatal(err)
		}
		steps := int64(0)
		p.Trace = func(e Event) {
			if e.Kind == Stepped && e.Cause == ByRepeat {
				steps++
			}
		}
		p.Start(draw.NewTrial(1, "", 0), 0)
		p.Detent(int64(time.Second), +1)
		p.Finish()
		return p.kept - steps
	}
	if few, many := cost(10), cost(500); few != many {
		t.Errorf("besides the repeats %d events with few of them, %d with many", few, many)
	}
}

// What becomes of a pulse is told once, though frame after frame finds its button down.
func TestALossIsToldOnce(t *testing.T) {
	rig := Default()
	rig.Knob.Bounce, rig.Firmware.Debounce, rig.Program.Jitter, rig.Program.Frames = 0, 1, 0, 25
	rig.Firmware.Pulse, rig.Firmware.Gap = 190*time.Millisecond, 10*time.Millisecond // gaps between two frames
	rig.Firmware.Phase, rig.USB.Phase, rig.Program.Phase = PhaseAt(0), PhaseAt(0), PhaseAt(0)
	p, err := NewPath(Setup{Rig: &rig})
	if err != nil {
		t.Fatal(err)
	}
	told := map[int]int{}
	p.Trace = func(e Event) {
		if e.Kind == Lost {
			told[e.Detent]++
		}
	}
	p.Start(draw.NewTrial(1, "", 0), 0)
	for i := range int64(4) {
		p.Detent((125+20*i)*int64(time.Millisecond), +1)
	}
	p.Finish()
	if merged := p.Account().Merged; merged < 2 || len(told) != merged {
		t.Errorf("%d detents merged, %d told", merged, len(told))
	}
	for d, n := range told {
		if n != 1 {
			t.Errorf("detent %d is lost %d times", d, n)
		}
	}
}
