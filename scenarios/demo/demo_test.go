package demo

import (
	"reflect"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
)

// Every key at its default, but for the push switch that press-for-coarse needs.
func TestLeftPulseIsTheDefaultRig(t *testing.T) {
	got := Rig("left-pulse").Rig
	want := encoder.Default()
	got.Name = want.Name
	want.Knob.Push = true
	if !reflect.DeepEqual(got, want) {
		t.Errorf("left-pulse is %+v, want %+v", got, want)
	}
}

func TestLeftPulseAndRightRelativeDifferInTheOutputAlone(t *testing.T) {
	left, right := Rig("left-pulse").Rig, Rig("right-relative").Rig
	if right.Firmware.Output != encoder.Relative || left.Firmware.Output != encoder.Buttons {
		t.Fatalf("outputs %v and %v", left.Firmware.Output, right.Firmware.Output)
	}
	left.Name, left.Firmware.Output = right.Name, right.Firmware.Output
	if !reflect.DeepEqual(left, right) {
		t.Errorf("left-pulse is %+v, right-relative %+v", left, right)
	}
}

func TestThePanelHasTheKnobsThatItIsDescribedWith(t *testing.T) {
	panel := Panel("quillmoor")
	twoRings, selected, rigs, tasks := 0, 0, map[string]bool{}, 0
	for _, k := range panel.Knobs {
		if k.Rings == 2 {
			twoRings++
			rigs[k.Outer.Name] = true
			for _, use := range k.Tasks {
				if len(use.Task.Dials(2)) != 2 {
					t.Errorf("%s: %s is not dialed with two rings", k.Name, use.Task.Name)
				}
			}
		} else if k.Outer != nil {
			t.Errorf("%s has one ring and a rig for two", k.Name)
		}
		if k.Selector {
			selected = len(k.Tasks)
		} else if len(k.Tasks) != 1 {
			t.Errorf("%s has no selector for its %d tasks", k.Name, len(k.Tasks))
		}
		rigs[k.Inner.Name] = true
		for _, use := range k.Tasks {
			tasks++
			if use.PerHour <= 0 || use.Task == nil {
				t.Errorf("%s: %+v", k.Name, use)
			}
		}
	}
	if len(panel.Knobs) != 4 || twoRings != 2 || selected != 3 || len(rigs) != 3 || tasks != 6 {
		t.Errorf("%d knobs, %d with two rings, %d tasks behind the selector, %d rigs, %d tasks",
			len(panel.Knobs), twoRings, selected, len(rigs), tasks)
	}
}

func TestEveryItemOfAListIsThere(t *testing.T) {
	found := func(kind string, items []Item, name func(string) string) {
		seen := map[string]bool{}
		for _, it := range items {
			if seen[it.Name] || it.About == "" || len(it.About) > 100 {
				t.Errorf("%s %q: %q", kind, it.Name, it.About)
			}
			seen[it.Name] = true
			if got := name(it.Name); got != it.Name {
				t.Errorf("%s %q is called %q", kind, it.Name, got)
			}
		}
	}
	found("rig", Rigs(), func(n string) string { return Rig(n).Name })
	found("panel", Panels(), func(n string) string { return Panel(n).Name })
	found("task", Tasks(), func(n string) string { return Task(n).Name })
	if Rig("left") != nil || Panel("") != nil || Task("com") != nil {
		t.Error("a name that nothing has finds something")
	}
}

func TestWhatIsAskedForTwiceIsTwoCopies(t *testing.T) {
	Rig("left-pulse").Firmware.Pulse = time.Hour
	Panel("quillmoor").Knobs[0].Inner.Firmware.Pulse = time.Hour
	Task("heading").Wrap = false
	if Rig("left-pulse").Firmware.Pulse != 30*time.Millisecond || !Task("heading").Wrap ||
		Panel("quillmoor").Knobs[0].Inner.Firmware.Pulse != 30*time.Millisecond {
		t.Error("a change of one copy shows in the next")
	}
}

// B16, without a person yet: of a turn of 24 clicks at 30 a second the button
// pulses lose some and bring the rest late; reported counts lose none.
func TestPulsesLoseClicksAndCountsDoNot(t *testing.T) {
	const trials, clicks = 200, 24
	turn := func(name string) (lost int, last time.Duration) {
		path, err := encoder.NewPath(encoder.Setup{Rig: &Rig(name).Rig})
		if err != nil {
			t.Fatal(err)
		}
		for n := range trials {
			path.Start(draw.NewTrial(1, "turn", n), 0)
			for i := range int64(clicks) {
				path.Detent((i+1)*int64(time.Second)/30, +1)
			}
			path.Finish()
			lost += clicks - path.Account().Delivered
			if c := path.Changes(); len(c) > 0 {
				last = max(last, time.Duration(c[len(c)-1].At)-clicks*time.Second/30)
			}
		}
		return lost, last
	}
	lost, last := turn("left-pulse")
	if share := float64(lost) / (trials * clicks); share < 0.10 || last < 300*time.Millisecond {
		t.Errorf("left-pulse loses %.1f %% of the clicks and runs on for %v at most", 100*share, last)
	} else {
		t.Logf("left-pulse loses %.1f %% of the clicks and runs on for %v at most", 100*share, last)
	}
	lost, last = turn("right-relative")
	if lost != 0 || last > 120*time.Millisecond {
		t.Errorf("right-relative loses %d clicks and shows the last one %v later at most", lost, last)
	} else {
		t.Logf("right-relative loses none and shows the last one %v later at most", last)
	}
}
