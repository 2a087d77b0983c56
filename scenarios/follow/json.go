package follow

import "time"

// Report is the turn as it is written in JSON; names end in their unit.
type Report struct {
	Detents []DetentReport `json:"detents"`
	Steps   []StepReport   `json:"steps"`
	Account any            `json:"account"`
}

// DetentReport is one click; its fate is null under a firmware hold.
type DetentReport struct {
	TimeMs    float64 `json:"time_ms"`
	Direction int     `json:"direction"`
	Fate      *string `json:"fate"`
}

// StepReport is one step that the program applied, before display latency.
type StepReport struct {
	TimeMs    float64 `json:"time_ms"`
	Direction int     `json:"direction"`
	Count     int64   `json:"count"` // task steps
	Value     float64 `json:"value"` // the number after it, in the task's unit; steps without a task
	Cause     string  `json:"cause"`
}

// AccountReport is the balance of detents.
type AccountReport struct {
	Detents            int         `json:"detents"`
	Delivered          int         `json:"delivered"`
	Merged             int         `json:"merged"`
	QueueDropped       int         `json:"queue_dropped"`
	Cleared            int         `json:"cleared"`
	Illegal            int         `json:"illegal"`
	PollMissed         int         `json:"poll_missed"`
	FrameMissed        int         `json:"frame_missed"`
	Clipped            int         `json:"clipped"`
	Pulses             int         `json:"pulses"`
	PulsesLost         int         `json:"pulses_lost"`
	IllegalTransitions int         `json:"illegal_transitions"`
	ExtraSteps         ExtraReport `json:"extra_steps"`
}

// ExtraReport is the steps that belong to no detent, by cause.
type ExtraReport struct {
	Repeat int `json:"repeat"`
	Hold   int `json:"hold"`
	Bounce int `json:"bounce"`
}

// HoldReport is the balance under a firmware hold, where detents have no fate.
type HoldReport struct {
	Detents            int     `json:"detents"`
	IllegalTransitions int     `json:"illegal_transitions"`
	Presses            int     `json:"presses"`
	HeldMs             float64 `json:"held_ms"`
	Steps              int     `json:"steps"`
}

// Report returns the turn for JSON.
func (t *Turn) Report() Report {
	r := Report{Detents: []DetentReport{}, Steps: []StepReport{}}
	for i, d := range t.Detents {
		x := DetentReport{ms(d.At), int(d.Dir), nil}
		if t.Fates != nil {
			fate := t.Fates[i].String()
			x.Fate = &fate
		}
		r.Detents = append(r.Detents, x)
	}
	for _, s := range t.Steps {
		r.Steps = append(r.Steps, StepReport{ms(s.At), int(s.Dir), s.Count, t.number(s.Value), s.Cause.String()})
	}
	a := t.Account
	if t.Fates == nil {
		r.Account = HoldReport{a.Detents, a.IllegalTransitions, a.Presses, ms(time.Duration(a.Held)), a.Steps}
		return r
	}
	r.Account = AccountReport{
		a.Detents, a.Delivered, a.Merged, a.QueueDropped, a.Cleared, a.Illegal, a.PollMissed, a.FrameMissed, a.Clipped,
		a.Pulses, a.PulsesLost, a.IllegalTransitions, ExtraReport{a.Extra.Repeat, a.Extra.Hold, a.Extra.Bounce},
	}
	return r
}

// ms returns a time in milliseconds, exact to the nanosecond.
func ms(d time.Duration) float64 { return float64(d) / 1e6 }

// number returns a value in the task's unit.
func (t *Turn) number(index int64) float64 {
	if t.Task == nil || index < 0 || index >= t.Task.Count() {
		return float64(index)
	}
	return t.Task.At(index).Float()
}
