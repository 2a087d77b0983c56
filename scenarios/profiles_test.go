package scenarios

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
)

func TestBuiltInProfilesCompileAndFitTheDefaultRig(t *testing.T) {
	seen := map[string]bool{}
	for _, p := range Profiles() {
		if seen[p.Name] {
			t.Errorf("%s is there twice", p.Name)
		}
		seen[p.Name] = true
		if _, err := p.Acceleration.Compile(); err != nil {
			t.Errorf("%s: %v", p.Name, err)
		}
		r := encoder.Default()
		r.Knob.Push = true
		if _, err := Apply(&p, r); err != nil {
			t.Errorf("%s: %v", p.Name, err)
		}
		if err := Fits(&p, Heading()); err != nil {
			t.Errorf("%s: %v", p.Name, err)
		}
	}
	for _, name := range strings.Fields("plain ladder linear power logistic coarse-pair press") {
		if !seen[name] {
			t.Errorf("%s is missing", name)
		}
	}
}

// Tolerance rule of the model, section 2.
func TestBaseStepNeedsAToleranceOrAWayRoundIt(t *testing.T) {
	base := func(n, landing int) *Profile {
		return &Profile{Name: "p", Acceleration: accel.Acceleration{Base: n, Landing: landing}}
	}
	fives := Distribution{MultiplesOf: 5 * Unity, Share: 1}
	for _, c := range []struct {
		name    string
		profile *Profile
		change  func(*Task)
		fits    bool
	}{
		{"base 1", base(1, 0), func(*Task) {}, true},
		{"base 3 needs 1", base(3, 0), func(t *Task) { t.Tolerance = Unity }, true},
		{"base 4 needs 2", base(4, 0), func(t *Task) { t.Tolerance = Unity }, false},
		{"base 2 needs 1", base(2, 0), func(*Task) {}, false},
		{"press, base 1", &Profile{PressCoarse: 10}, func(*Task) {}, true},
		{"press, base too large in both modes", &Profile{Acceleration: accel.Acceleration{Base: 5}, PressCoarse: 10}, func(*Task) {}, false},
		{"landing on multiples", base(5, 4), func(t *Task) { t.Target = fives }, true},
		{"landing beside them", base(10, 4), func(t *Task) { t.Target = fives }, false},
		{"landing above the base", base(5, 5), func(t *Task) { t.Target = fives }, false},
		{"landing, any number", base(5, 4), func(t *Task) { t.Target = Distribution{MultiplesOf: 5 * Unity, Share: 0.8} }, false},
		{"landing, list", base(5, 4), func(t *Task) { t.Target = Distribution{List: []Amount{5 * Unity, 90 * Unity}} }, true},
		{"landing, list beside", base(5, 4), func(t *Task) { t.Target = Distribution{List: []Amount{5 * Unity, 91 * Unity}} }, false},
		{"landing, pairs", base(5, 4), func(t *Task) { t.Target = Distribution{Pairs: []Pair{{7 * Unity, 90 * Unity}}} }, true},
		{"constant 5", &Profile{Acceleration: accel.Acceleration{Curve: accel.Constant{Gain: 5}}}, func(*Task) {}, false},
		{"constant 1.5 carries", &Profile{Acceleration: accel.Acceleration{Curve: accel.Constant{Gain: 1.5}}}, func(*Task) {}, true},
	} {
		task := Heading()
		task.Target = Distribution{}
		c.change(task)
		if err := Fits(c.profile, task); (err == nil) != c.fits {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	want := "acceleration.base: a slow detent of p makes 5 steps and may end 2 steps beside a target of heading, whose tolerance is 0; a base of at most 1 (with press-for-coarse for the long way), or landing on the targets, would do"
	if err := Fits(base(5, 0), Heading()); err == nil || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
}

func TestChoicesOfAdjustableSettings(t *testing.T) {
	for _, c := range []struct {
		r    Range
		want string
	}{
		{Range{Key: "firmware.pulse", From: "10ms", To: "30ms", By: "5ms"}, "[10ms 15ms 20ms 25ms 30ms] <nil>"},
		{Range{Key: "firmware.pulse", From: "10ms", To: "20ms", By: "7ms"}, "[10ms 17ms] <nil>"},
		{Range{Key: "firmware.pulse", From: "10ms", To: "10ms", By: "7ms"}, "[10ms] <nil>"},
		{Range{Key: "program.frames", From: "29.9/s", To: "30.1/s", By: "0.1/s"}, "[29.9/s 30/s 30.1/s] <nil>"},
		{Range{Key: "program.jitter", From: "0%", To: "10%", By: "2.5%"}, "[0% 2.5% 5% 7.5% 10%] <nil>"},
		{Range{Key: "firmware.queue", From: "0", To: "8", By: "4"}, "[0 4 8] <nil>"},
		{Range{Key: "firmware.output", Values: []string{"buttons", "keys"}}, "[buttons keys] <nil>"},
		{Range{Key: "firmware.hold", Values: []string{"none", "150ms"}}, "[none 150ms] <nil>"},
		{Range{Key: "firmware.output", Values: []string{"buttons", "key"}}, "[buttons key] firmware.output[1]: key; did you mean keys?"},
		{Range{Key: "firmware.output", Values: []string{}}, "[] firmware.output: an empty list; one value or more would do"},
		{Range{Key: "firmware.output", From: "a", To: "b", By: "c"}, "[] firmware.output: has no from and to; a list such as [buttons] would do"},
		{Range{Key: "firmware.puls", From: "a", To: "b", By: "c"}, "[] firmware.puls: there is no key firmware.puls; did you mean firmware.pulse?"},
		{Range{Key: "firmware.pulse", From: "10ms", To: "20ms", By: "0ms"}, "[] firmware.pulse.by: 0ms leads nowhere; a step above 0 would do"},
		{Range{Key: "firmware.pulse", From: "20ms", To: "10ms", By: "1ms"}, "[] firmware.pulse.to: 10ms is below from, 20ms; from the smaller to the larger would do"},
		{Range{Key: "firmware.pulse", From: "0ms", To: "10ms", By: "1/s"}, "[] firmware.pulse.from: 0ms is too little; from 1us to 10s would do"},
		{Range{Key: "firmware.pulse", From: "1ms", To: "10ms", By: "1/s"}, "[] firmware.pulse.by: 1/s has the unit /s; a time in ns, us, ms or s would do, such as 20ms"},
		{Range{Key: "firmware.pulse", From: "1ms", To: "10s", By: "1ms"}, "[] firmware.pulse.by: 1ms makes 10000 values; a step that makes at most 1000 would do"},
	} {
		list, err := c.r.Choices()
		if got := fmt.Sprint(list, " ", err); got != c.want {
			t.Errorf("%+v: %s, want %s", c.r, got, c.want)
		}
	}
	if v, ok := Number("firmware.pulse", "40ms"); v != float64(40*time.Millisecond) || !ok {
		t.Error(v, ok)
	}
	if _, ok := Number("firmware.output", "keys"); ok {
		t.Error("a word has no size")
	}
}
