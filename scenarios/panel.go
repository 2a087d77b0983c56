package scenarios

// Panel says which knob serves which tasks and how often each is done.
type Panel struct {
	Name  string
	Title string
	Knobs []Knob
}

// Knob is a control of a panel.
type Knob struct {
	Name     string
	Rings    int  // 1 or 2
	Inner    *Rig // the only ring of a knob with one
	Outer    *Rig // nil on a knob with one ring
	Selector bool // a button chooses which of the tasks the knob dials
	Tasks    []Use
	Omitted  float64 // dialings an hour of further tasks behind the selector, which are not of interest
}

// Use is a task that a knob serves and how often it is done.
type Use struct {
	Task    *Task
	PerHour float64
}

// Served is a task on the knob that serves it.
type Served struct {
	Task    *Task
	Knob    *Knob
	PerHour float64
	Others  float64 // share of the knob's dialings that other tasks have, behind a selector button
}

// Served lists the panel's tasks, knob by knob.
func (p *Panel) Served() []Served {
	var list []Served
	for i := range p.Knobs {
		k := &p.Knobs[i]
		hour := k.Omitted
		for _, u := range k.Tasks {
			hour += u.PerHour
		}
		for _, u := range k.Tasks {
			s := Served{Task: u.Task, Knob: k, PerHour: u.PerHour}
			if k.Selector && hour > 0 {
				s.Others = 1 - u.PerHour/hour
			}
			list = append(list, s)
		}
	}
	return list
}

// Serve returns the knob that serves a task: the panel's, or its first knob where
// the panel does not have the task.
func (p *Panel) Serve(t *Task) Served {
	for _, s := range p.Served() {
		if s.Task.Name == t.Name {
			s.Task = t
			return s
		}
	}
	return Served{Task: t, Knob: &p.Knobs[0], PerHour: 1}
}
