package scenarios

import (
	"cmp"
	"reflect"
	"slices"
	"strings"
)

// Panel says which knob serves which tasks and how often each is done.
type Panel struct {
	Name  string
	Title string
	Knobs []Knob
}

// Knob is a control of a panel.
type Knob struct {
	Name     string
	Board    string // knobs of one board share its settings; "": those with the same rigs are one; own: this knob alone
	Rings    int    // 1 or 2
	Inner    *Rig   // the only ring of a knob with one
	Outer    *Rig   // nil on a knob with one ring
	Selector bool   // a button chooses which of the tasks the knob dials
	Tasks    []Use
	Omitted  float64 // dialings an hour of further tasks behind the selector, which are not of interest
}

// Use is a task that a knob serves and how often it is done.
type Use struct {
	Task    *Task
	PerHour float64
	Guest   bool // the panel itself does not have the task: no other task of the knob is done less often for it
}

// Served is a task on the knob that serves it.
type Served struct {
	Task    *Task
	Knob    *Knob
	PerHour float64
	Others  float64 // share of the knob's dialings that other tasks have, behind a selector button

	several bool // knobs of the panel serve the task
}

// Name is what a task is called among those of its panel: with its knob, as in a profile's
// parts, where several knobs serve it.
func (s Served) Name() string {
	if s.several {
		return s.Knob.Name + "/" + s.Task.Name
	}
	return s.Task.Name
}

// OwnBoard is what Knob.Board says of a knob that shares its settings with no other.
const OwnBoard = "own"

// Boards groups the numbers of the panel's knobs by the board that they are on.
func (p *Panel) Boards() [][]int {
	var list [][]int
	same := func(a, b *Knob) bool {
		if a.Board != "" || b.Board != "" {
			return a.Board == b.Board && a.Board != OwnBoard
		}
		return reflect.DeepEqual(a.Inner, b.Inner) && reflect.DeepEqual(cmp.Or(a.Outer, a.Inner), cmp.Or(b.Outer, b.Inner))
	}
	for i := range p.Knobs {
		n := slices.IndexFunc(list, func(b []int) bool { return same(&p.Knobs[b[0]], &p.Knobs[i]) })
		if n < 0 {
			list = append(list, nil)
			n = len(list) - 1
		}
		list[n] = append(list[n], i)
	}
	return list
}

// With returns the panel with every knob as a function has it.
func (p *Panel) With(change func(*Knob) *Knob) *Panel {
	with := *p
	with.Knobs = slices.Clone(p.Knobs)
	for i := range with.Knobs {
		with.Knobs[i] = *change(&p.Knobs[i])
	}
	return &with
}

// Served lists the panel's tasks, knob by knob.
func (p *Panel) Served() []Served {
	var list []Served
	knobs := map[string]int{} // that serve a task
	for i := range p.Knobs {
		for _, u := range p.Knobs[i].Tasks {
			knobs[u.Task.Name]++
		}
	}
	for i := range p.Knobs {
		k := &p.Knobs[i]
		own := k.Omitted
		for _, u := range k.Tasks {
			if !u.Guest {
				own += u.PerHour
			}
		}
		for _, u := range k.Tasks {
			s := Served{Task: u.Task, Knob: k, PerHour: u.PerHour, several: knobs[u.Task.Name] > 1}
			hour := own
			if u.Guest {
				hour += u.PerHour
			}
			if k.Selector && hour > 0 {
				s.Others = 1 - u.PerHour/hour
			}
			list = append(list, s)
		}
	}
	return list
}

// Pick is a task, on every knob that serves it or on one alone.
type Pick struct {
	Task *Task
	Knob string // "": every one
}

// Pick returns what a name picks of a panel: a task of its own, or of one of its knobs
// where that is written before it (knob/task).
func (p *Panel) Pick(name string) (Pick, bool) {
	for _, s := range p.Served() {
		switch name {
		case s.Task.Name:
			return Pick{Task: s.Task}, true
		case s.Knob.Name + "/" + s.Task.Name:
			return Pick{s.Task, s.Knob.Name}, true
		}
	}
	return Pick{}, false
}

// Only returns the panel with these tasks and no others. Those left out stay behind
// their knob's selector, so that a dialing is the same as beside them; a task takes
// the place of the panel's of the same name; of several of one name the first is taken.
// One that the panel does not have is a guest on its first knob, once an hour, and is
// dialed the same whoever else is.
func (p *Panel) Only(picks ...Pick) *Panel {
	only := *p
	only.Knobs = nil
	taken := make([]bool, len(picks))
	for _, k := range p.Knobs {
		var uses []Use
		for _, u := range k.Tasks {
			var task *Task
			for i, x := range picks {
				if x.Task.Name == u.Task.Name && (x.Knob == "" || x.Knob == k.Name) {
					task, taken[i] = cmp.Or(task, x.Task), true
				}
			}
			if task == nil {
				k.Omitted += u.PerHour
				continue
			}
			u.Task = task
			uses = append(uses, u)
		}
		k.Tasks = uses
		only.Knobs = append(only.Knobs, k)
	}
	for i, x := range picks {
		if !taken[i] && !slices.ContainsFunc(picks[:i], func(o Pick) bool { return o.Task.Name == x.Task.Name }) {
			only.Knobs[0].Tasks = append(only.Knobs[0].Tasks, Use{Task: x.Task, PerHour: 1, Guest: true})
		}
	}
	only.Knobs = slices.DeleteFunc(only.Knobs, func(k Knob) bool { return len(k.Tasks) == 0 })
	return &only
}

// On returns the task on its knob with another rig behind all rings.
func (s Served) On(r *Rig) Served {
	k := *s.Knob
	k.Inner, k.Outer = r, nil
	s.Knob = &k
	return s
}

// Called returns the knob as it is spoken of: "the radio knob".
func (k *Knob) Called() string {
	if strings.HasSuffix(k.Name, "knob") {
		return "the " + k.Name
	}
	return "the " + k.Name + " knob"
}
