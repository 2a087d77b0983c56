package scenarios

import (
	"math"
	"reflect"
	"slices"
	"testing"
)

func others(p *Panel, name string) float64 {
	for _, s := range p.Served() {
		if s.Task.Name == name {
			return s.Others
		}
	}
	return math.NaN()
}

// Looking at some tasks of a panel changes nothing about a dialing of them; a task
// that the panel does not have is dialed the same whoever else is looked at, and takes
// nothing from the panel's own.
func TestATaskIsDialedTheSameAmongAnyOthers(t *testing.T) {
	task := func(name string) *Task { return &Task{Name: name, To: 9 * Unity, Step: Unity} }
	desk := &Panel{Knobs: []Knob{
		{Name: "a", Rings: 1, Selector: true, Tasks: []Use{{Task: task("one"), PerHour: 20}, {Task: task("two"), PerHour: 5}}},
		{Name: "b", Rings: 1, Tasks: []Use{{Task: task("three"), PerHour: 3}}},
	}}
	guest, other := Pick{Task: task("guest")}, Pick{Task: task("other")}
	own := func(name string) Pick {
		pick, ok := desk.Pick(name)
		if !ok {
			t.Fatalf("the panel has no %s", name)
		}
		return pick
	}
	for _, x := range []struct {
		name   string
		panel  *Panel
		others float64
		tasks  int
	}{
		{"one", desk, 0.2, 3},
		{"one", desk.Only(own("one")), 0.2, 1},
		{"one", desk.Only(own("one"), own("one"), guest, guest), 0.2, 2}, // asked for twice
		{"one", desk.Only(own("one"), guest, other), 0.2, 3},
		{"two", desk.Only(own("two"), own("three")), 0.8, 2},
		{"three", desk.Only(own("three"), guest), 0, 2},
		{"guest", desk.Only(guest), 25. / 26, 1},
		{"guest", desk.Only(guest, other, own("two")), 25. / 26, 3},
	} {
		if got := others(x.panel, x.name); math.Abs(got-x.others) > 1e-12 || len(x.panel.Served()) != x.tasks {
			t.Errorf("%s among %d tasks: %v of the dialings are others', want %v of %d tasks", x.name, len(x.panel.Served()), got, x.others, x.tasks)
		}
	}
	if desk.Knobs[0].Omitted != 0 || len(desk.Knobs[0].Tasks) != 2 {
		t.Errorf("the panel itself has changed: %+v", desk.Knobs[0])
	}
	mine := task("one")
	if got := desk.Only(Pick{Task: mine}).Served(); len(got) != 1 || got[0].Task != mine || got[0].PerHour != 20 {
		t.Errorf("a task in the place of the panel's: %+v", got)
	}
	if _, ok := desk.Pick("none"); ok {
		t.Error("the panel has a task that it does not have")
	}
}

// Knobs of one rig share a board, unless they say otherwise.
func TestKnobsOfOneRigShareABoard(t *testing.T) {
	knob := func(rig, board string) Knob {
		r := &Rig{}
		r.Name = rig
		return Knob{Inner: r, Board: board}
	}
	p := &Panel{Knobs: []Knob{knob("a", ""), knob("b", ""), knob("a", ""), knob("a", OwnBoard), knob("a", OwnBoard), knob("a", "x"), knob("b", "x")}}
	if got := p.Boards(); !reflect.DeepEqual(got, [][]int{{0, 2}, {1}, {3}, {4}, {5, 6}}) {
		t.Errorf("%v", got)
	}
}

// A part for a task goes before one for its knob, and one for the task there before both.
func TestAPartIsForTheNearest(t *testing.T) {
	part := func(press int64, names ...string) Part {
		return Part{For: names, Profile: Profile{PressCoarse: press}}
	}
	p := &Profile{Name: "mine", PressCoarse: 2, Parts: []Part{part(3, "autopilot"), part(4, "heading", "nav"), part(5, "radio/heading")}}
	for _, x := range []struct {
		knob, task string
		want       int64
	}{{"autopilot", "altitude", 3}, {"autopilot", "heading", 4}, {"radio", "heading", 5}, {"radio", "com-25", 2}, {"nav", "x", 4}} {
		if on := p.On(x.knob, x.task); on.PressCoarse != x.want || on.Name != "mine" || on.Parts != nil {
			t.Errorf("%s, %s: %+v", x.knob, x.task, on)
		}
	}
}

// Where several knobs serve a task it is called with its knob, and picked on every one
// or on one alone.
func TestATaskOfSeveralKnobsIsCalledWithItsKnob(t *testing.T) {
	radio, heading := &Task{Name: "com", To: 9 * Unity, Step: Unity}, &Task{Name: "heading", To: 9 * Unity, Step: Unity}
	desk := &Panel{Knobs: []Knob{
		{Name: "radio-1", Rings: 1, Tasks: []Use{{Task: radio, PerHour: 12}}},
		{Name: "radio-2", Rings: 1, Selector: true, Tasks: []Use{{Task: radio, PerHour: 4}, {Task: heading, PerHour: 12}}},
	}}
	for _, x := range []struct {
		picks, served []string
		others        float64 // of the last
	}{
		{nil, []string{"radio-1/com", "radio-2/com", "heading"}, 0.25},
		{[]string{"com"}, []string{"radio-1/com", "radio-2/com"}, 0.75},
		{[]string{"radio-2/com"}, []string{"com"}, 0.75},
		{[]string{"radio-1/com", "heading"}, []string{"com", "heading"}, 0.25},
	} {
		p := desk
		if x.picks != nil {
			var picks []Pick
			for _, name := range x.picks {
				pick, ok := desk.Pick(name)
				if !ok {
					t.Fatalf("the panel has no %s", name)
				}
				picks = append(picks, pick)
			}
			p = desk.Only(picks...)
		}
		var got []string
		for _, s := range p.Served() {
			got = append(got, s.Name())
		}
		if others := p.Served()[len(got)-1].Others; !slices.Equal(got, x.served) || others != x.others {
			t.Errorf("%q: %q are served, the last beside %g others, want %q, %g", x.picks, got, others, x.served, x.others)
		}
	}
	for _, name := range []string{"radio-3/com", "radio-1/heading", "radio-1", "/com"} {
		if pick, ok := desk.Pick(name); ok {
			t.Errorf("%s picks %+v", name, pick)
		}
	}
	if name := (Served{Task: heading}).Name(); name != "heading" {
		t.Errorf("a task by itself is called %s", name)
	}
}
