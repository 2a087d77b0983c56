package scenarios_test

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"dialwright/encoder"
	"dialwright/scenarios"
)

func weighted[T any](of T, w float64) scenarios.Weighted[T] {
	return scenarios.Weighted[T]{Of: of, Weight: w}
}

// crowd is a population that varies these keys.
func crowd(vary ...scenarios.Varied) *scenarios.Population {
	buttons, relative := &scenarios.Rig{Rig: encoder.Default()}, &scenarios.Rig{Rig: encoder.Default()}
	buttons.Name, relative.Name = "buttons", "relative"
	relative.Firmware.Output = encoder.Relative
	scenarios.Settle(&relative.Rig)
	o := scenarios.Practised()
	two := scenarios.OneKnob(scenarios.Heading(), 2)
	return &scenarios.Population{
		Rigs: []scenarios.Weighted[*scenarios.Rig]{weighted(buttons, 3), weighted(relative, 1)}, Vary: vary,
		Operators: []scenarios.Weighted[*scenarios.Operator]{weighted(&o, 1)},
		Dialed:    []scenarios.Weighted[*scenarios.Panel]{weighted(two, 0), weighted(scenarios.OneKnob(scenarios.Altitude(), 1), 2)},
	}
}

func drawn(t interface{ Fatal(...any) }, p *scenarios.Population, n int) *scenarios.Member {
	m, err := p.Draw(5, n)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// Members are spread as the population says: shares follow weights, ranges are
// uniform in their value or its logarithm, a median halves.
func TestMembersAreSpreadAsThePopulationSays(t *testing.T) {
	const n = 20_000
	p := crowd(
		scenarios.Varied{Key: "firmware.pulse", From: "10ms", To: "50ms"},
		scenarios.Varied{Key: "program.frames", From: "10/s", To: "1000/s", Log: true},
		scenarios.Varied{Key: "display.latency", Median: "40ms", Spread: 0.5, From: "20ms", To: "200ms"},
		scenarios.Varied{Key: "firmware.debounce", From: "1", To: "4"},
		scenarios.Varied{Key: "usb.poll", Values: []scenarios.Weighted[string]{weighted("1ms", 1), weighted("8ms", 0), weighted("10ms", 3)}},
	)
	counts := map[string]float64{}
	for i := range n {
		m := drawn(t, p, i)
		count := func(what string, is bool) {
			if is {
				counts[what]++
			}
		}
		r := &m.Rig.Rig
		if r.Firmware.Output == encoder.Relative {
			counts["relative"]++
			if m.At[3] != scenarios.NotUsed {
				t.Fatalf("a pulse of %d on a rig that counts", m.At[3])
			}
		} else {
			count("pulse below 20 ms", r.Firmware.Pulse < 20e6)
			if r.Firmware.Pulse < 10e6 || r.Firmware.Pulse > 50e6 || int64(r.Firmware.Pulse) != m.At[3] {
				t.Fatalf("a pulse of %v, which stands at %d", r.Firmware.Pulse, m.At[3])
			}
		}
		count("frames below 100", r.Program.Frames < 100)
		count("latency below 40 ms", r.Display.Latency < 40e6)
		count("latency of 20 ms", r.Display.Latency == 20e6)
		count("latency below 40·e^0.5 ms", float64(r.Display.Latency) < 40e6*math.Exp(0.5))
		count("debounce 3", r.Firmware.Debounce == 3)
		count("poll 10 ms", r.USB.Poll == 10e6)
		count("poll 8 ms", r.USB.Poll == 8e6)
		if m.Dialed.Name != "altitude" || m.Dialed.Knobs[0].Inner != m.Rig || len(m.At) != len(p.Keys()) {
			t.Fatalf("%+v", m)
		}
	}
	for what, want := range map[string]float64{
		"relative": 0.25, "pulse below 20 ms": 0.75 * 0.25, "frames below 100": 0.5, "latency below 40 ms": 0.5, "latency of 20 ms": 0.0828, "latency below 40·e^0.5 ms": 0.8413,
		"debounce 3": 0.25, "poll 10 ms": 0.75, "poll 8 ms": 0,
	} {
		if got := counts[what] / n; math.Abs(got-want) > 4*math.Sqrt(want*(1-want)/n)+1e-4 {
			t.Errorf("%s: %.4f, want %.4f", what, got, want)
		}
	}
	if p.Dialed[1].Of.Knobs[0].Inner != nil || p.Rigs[0].Of.Firmware.Pulse != encoder.Default().Firmware.Pulse {
		t.Error("drawing changed the population")
	}
}

// A member is a function of seed and number, and writes of it read back.
func TestAMemberIsAFunctionOfSeedAndNumber(t *testing.T) {
	p := crowd(
		scenarios.Varied{Key: "knob.part", Values: []scenarios.Weighted[string]{weighted("24x24", 1), weighted("15x30", 1)}},
		scenarios.Varied{Key: "firmware.output", Values: []scenarios.Weighted[string]{weighted("buttons", 1), weighted("relative", 1), weighted("axis", 1)}},
		scenarios.Varied{Key: "firmware.gap", Median: "30ms", Spread: 0.4},
		scenarios.Varied{Key: "program.jitter", From: "0%", To: "40%"},
		scenarios.Varied{Key: "knob.min_state", From: "0.1", To: "0.25"},
	)
	keys := p.Keys()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 1_000_000).Draw(t, "member")
		a, b := drawn(t, p, n), drawn(t, p, n)
		if !reflect.DeepEqual(a.At, b.At) || !reflect.DeepEqual(a.Rig, b.Rig) || a.Seed != b.Seed {
			t.Fatalf("%+v and %+v", a, b)
		}
		if c := drawn(t, p, n+1); c.Seed == a.Seed {
			t.Fatal("two members with one seed")
		}
		for k := range keys {
			if keys[k].Key == "knob.part" || k < 3 || a.At[k] == scenarios.NotUsed {
				continue
			}
			if got, want := scenarios.Get(&a.Rig.Rig, keys[k].Key), keys[k].Written(a.At[k]); got != want {
				t.Fatalf("%s is %s, said to be %s", keys[k].Key, got, want)
			}
		}
		if faults := scenarios.Check(&a.Rig.Rig); faults != nil {
			t.Fatal(faults)
		}
	})
}

func TestASpreadThatCannotBeIsRefused(t *testing.T) {
	for _, x := range []struct {
		scenarios.Varied
		want string
	}{
		{scenarios.Varied{Key: "firmware.puls", From: "1ms", To: "2ms"}, "there is no key firmware.puls"},
		{scenarios.Varied{Key: "firmware.pulse", From: "3ms", To: "2ms"}, "from: 3ms is above to: 2ms"},
		{scenarios.Varied{Key: "firmware.output", From: "keys", To: "buttons"}, "takes words, not a range"},
		{scenarios.Varied{Key: "firmware.gap", From: "0ms", To: "2ms", Log: true}, "from: 0ms has no logarithm"},
		{scenarios.Varied{Key: "firmware.pulse", Median: "3ms", Spread: 0.2, From: "4ms"}, "median: 3ms lies outside"},
		{scenarios.Varied{Key: "firmware.pulse", Median: "3ms", Spread: 4}, "spread: 400%"},
		{scenarios.Varied{Key: "firmware.pulse", Median: "-3ms", Spread: 0.2}, "median: -3ms is negative"},
		{scenarios.Varied{Key: "firmware.pulse", Values: []scenarios.Weighted[string]{weighted("3ms", 1), weighted("x", 1)}}, "[1]: x is not a time"},
	} {
		if got := x.Check().Error(); !strings.HasPrefix(strings.TrimPrefix(got, "firmware.puls: "), x.want) {
			t.Errorf("%+v: %s, want %s", x.Varied, got, x.want)
		}
	}
	bad := crowd(scenarios.Varied{Key: "knob.cycles", Values: []scenarios.Weighted[string]{weighted("24", 1), weighted("7", 1)}})
	if err := bad.Check(50); err == nil || !strings.Contains(err.Error(), "knob.cycles: 7 cycles give") {
		t.Errorf("%v", err)
	}
}

// A member's tasks are dialed as often as its panel says.
func TestAMemberDialsAsOftenAsItsPanelSays(t *testing.T) {
	p := crowd()
	panel := &scenarios.Panel{Name: "two", Knobs: []scenarios.Knob{{Name: "k", Rings: 1, Selector: true, Tasks: []scenarios.Use{{Task: scenarios.Heading(), PerHour: 3}, {Task: scenarios.Altitude(), PerHour: 1}}}}}
	p.Dialed = []scenarios.Weighted[*scenarios.Panel]{weighted(panel, 1)}
	m := drawn(t, p, 1)
	counts := make([]float64, 2)
	for n := range 4000 {
		counts[m.Use(n)]++
	}
	if math.Abs(counts[0]/4000-0.75) > 0.03 || slices.Contains(counts, 0) {
		t.Errorf("%v", counts)
	}
}
