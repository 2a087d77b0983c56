package report

import (
	"bytes"
	"context"
	"strings"
	"testing"

	"dialwright/scenarios"
	"dialwright/scenarios/demo"
)

// Whatever a knob sends and whatever is dialed, there is a page, valid and whole.
func TestEveryKindOfKnobAndTaskHasAReport(t *testing.T) {
	set := func(pairs ...string) []scenarios.Setting {
		var list []scenarios.Setting
		for i := 0; i < len(pairs); i += 2 {
			list = append(list, scenarios.Setting{Key: pairs[i], Value: pairs[i+1]})
		}
		return list
	}
	for _, x := range []struct {
		name, task string
		rings      int
		settings   []scenarios.Setting
	}{
		{"digits, one by one", "transponder", 1, nil},
		{"named numbers on two rings", "com-833", 2, nil},
		{"two rings", "nav", 2, set("firmware.output", "relative")},
		{"numbers that double", "map-range", 1, nil},
		{"a wide target", "hf-20m-200hz", 1, set("firmware.output", "relative")},
		{"hundredths", "altimeter-inhg", 1, set("firmware.output", "keys")},
		{"a line held down", "heading", 1, set("firmware.output", "keys", "firmware.hold", "150ms")},
		{"a position", "heading", 1, set("firmware.output", "axis")},
		{"no detents", "heading", 1, set("knob.detents", "none", "firmware.output", "relative")},
		{"a second pair", "altitude", 1, set("firmware.coarse.above", "12/s", "firmware.coarse.steps", "10")},
	} {
		t.Run(x.name, func(t *testing.T) {
			if testing.Short() && x.rings == 1 && x.task != "heading" {
				t.Skip("short")
			}
			rig := *demo.Rig("left-pulse")
			rig.Adjustable = scenarios.Adjustable{}
			var err error
			if rig.Rig, err = scenarios.With(rig.Rig, x.settings); err != nil {
				t.Fatal(err)
			}
			s := smallStudy()
			s.Trials = 24
			s.Panel = &scenarios.Panel{Name: "one", Knobs: []scenarios.Knob{{Name: "knob", Rings: x.rings, Inner: &rig, Tasks: []scenarios.Use{{Task: demo.Task(x.task), PerHour: 1}}}}}
			if x.rings == 2 {
				s.Panel.Knobs[0].Outer = &rig
			}
			r, err := Run(context.Background(), s)
			if err != nil {
				t.Fatal(err)
			}
			page := pageOf(t, r)
			checkHTML(t, page)
			checkAlone(t, page)
			for _, bad := range []string{"NaN", "Inf", "%!", "&lt;nil"} {
				if strings.Contains(page, bad) {
					t.Errorf("the page says %s", bad)
				}
			}
			var text bytes.Buffer
			if err := r.Text(&text, origin, true); err != nil {
				t.Fatal(err)
			}
			for _, st := range r.Stories {
				if last := st.Before.Shown[len(st.Before.Shown)-1].Steps; !st.Before.Timeout && (last > st.Dialing.Use.Task.ToleranceSteps() || -last > st.Dialing.Use.Task.ToleranceSteps()) {
					t.Errorf("%s: the number ends %d steps from the target", st.Kind, last)
				}
			}
		})
	}
}
