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
}

// Use is a task that a knob serves and how often it is done.
type Use struct {
	Task    *Task
	PerHour float64
}
