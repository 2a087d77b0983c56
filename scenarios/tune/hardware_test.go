package tune

import (
	"strings"
	"testing"

	"dialwright/accel"
	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
)

// After a change of hardware what to redo comes first, what costs most before the rest by
// number; then what cannot be left while the others change, what holds, and what the new
// hardware does not use. Nothing is to be redone whose cost is not proved.
func TestAfterAChangeOfHardwareEverySettingIsInTheTable(t *testing.T) {
	curve := accel.Acceleration{Curve: accel.Constant{Gain: 3}}
	now := &scenarios.Profile{Acceleration: curve, Settings: []scenarios.Setting{{Key: "firmware.queue", Value: "4"}, {Key: "usb.poll", Value: "8ms"}}}
	costs := func(mean, low float64) paired.Average {
		return paired.Average{Mean: paired.Estimate{Value: mean, Low: low, High: 2*mean - low}}
	}
	set := func(key, value string) scenarios.Setting { return scenarios.Setting{Key: key, Value: value} }
	knob := &scenarios.Knob{Name: "left", Rings: 1, Inner: demo.Rig("right-relative")}
	task := scenarios.Served{Task: demo.Task("heading"), Knob: knob}
	k := &KnobResult{Knob: knob, Now: []*scenarios.Profile{now}, Chosen: []*scenarios.Profile{{}}, Before: sample.Panel{{Use: task}}, Front: []Finalist{}, Changes: []Change{
		{Setting: set("firmware.scan", "2ms"), Left: costs(0.3, -0.1)},
		{Setting: set("firmware.debounce", "2"), Left: costs(9.5, 9)},
		{Setting: set("program.frames", "60/s"), Left: costs(12, 11)},
		{Setting: set("firmware.output", "relative"), Needed: true},
		{Setting: set("usb.poll", "2ms"), Left: costs(-1.5, -2), ForCaps: true},
	}}
	r := &Result{Study: &Study{Profile: now}, Was: &sample.Score{}, Knobs: []*KnobResult{k}}
	var got []string
	for _, l := range r.left() {
		got = append(got, l.What)
	}
	if want := "program.frames firmware.debounce firmware.output usb.poll firmware.scan acceleration firmware.queue"; strings.Join(got, " ") != want {
		t.Errorf("%v, want %s", got, want)
	}
	p := &columns.Page{}
	r.pageOld(p)
	var out strings.Builder
	if err := p.Print(&out, columns.Width); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"1. 60/s", "+12.00", "2. 2", "+9.50", "3. relative", "4. 2ms*", "beyond a cap", "holds", "no longer used"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("no %q in\n%s", want, out.String())
		}
	}
	for _, l := range r.leftReport() {
		if redo := l.What == "program.frames" || l.What == "firmware.debounce" || l.What == "firmware.output" || l.ForCaps; redo != (l.Redo != nil) {
			t.Errorf("%+v", l)
		}
	}
}

// A setting that is left breaks a cap where with it a task is beyond a limit, and shown to
// be farther from it than with the choice, or loses more.
func TestWhatIsLeftCanBreakACap(t *testing.T) {
	f := finals(2)
	f.most[1] = 0.25
	with := func(a, b, lost float64) sample.Panel {
		return sample.Panel{steady(400, 5, a, 0), steady(400, 5, b, lost)}
	}
	chosen := with(0.1, 0.25, 0.01)
	for _, x := range []struct {
		name string
		left sample.Panel
		want bool
	}{
		{"as chosen", chosen, false},
		{"calmer", with(0.02, 0.1, 0), false},
		{"hardly more", with(0.12, 0.25, 0.01), false},
		{"the first overshoots", with(0.15, 0.25, 0.01), true},
		{"the second, whose limit is higher", with(0.1, 0.35, 0.01), true},
		{"clicks are lost", with(0.1, 0.25, 0.06), true},
		{"few clicks are lost", with(0.1, 0.25, 0.04), false},
	} {
		if got := f.breaks([]int{0, 1}, x.left, chosen); got != x.want {
			t.Errorf("%s: %t", x.name, got)
		}
	}
}
