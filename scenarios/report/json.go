package report

import (
	"cmp"
	"maps"
	"slices"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/evidence"
	"dialwright/scenarios/explain"
	"dialwright/scenarios/follow"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
)

// Report is everything that the page shows, as it is written in JSON. Names end in
// their unit, shares are 0 to 1. The figures are drawn from it and from nothing
// else.
type Report struct {
	Verdict      []string           `json:"verdict"` // the finding, then what it costs and where it comes from
	Panel        string             `json:"panel"`
	Title        string             `json:"title"` // of the panel
	Profile      string             `json:"profile"`
	Operator     string             `json:"operator"`
	Main         string             `json:"main_task"` // that the single dialings are of
	Trials       int                `json:"trials"`    // a task, before and after
	For          string             `json:"for"`
	MaxOvershoot float64            `json:"max_overshoot_share"`
	MaxLost      float64            `json:"max_lost_share"`
	Before       sample.ScoreReport `json:"before"`
	After        sample.ScoreReport `json:"after"`
	Gain         sample.Interval    `json:"gain_s"` // after less before, of a dialing
	Alternatives []Alternative      `json:"alternatives"`
	Tasks        []Task             `json:"tasks"`
	Knobs        []Knob             `json:"knobs"`
	Changes      []ChangeReport     `json:"changes"`
	Stories      []StoryReport      `json:"stories"`
	Turns        []TurnReport       `json:"turns"`
	Explain      *explain.Report    `json:"explain"`
	Search       Search             `json:"search"`
	Evidence     []evidence.Check   `json:"evidence"`
}

// ChangeReport is one change by itself.
type ChangeReport struct {
	Knob  string        `json:"knob"`
	Key   string        `json:"key"` // of a setting, or acceleration
	From  string        `json:"from"`
	To    string        `json:"to"`
	Alone *AloneReport  `json:"alone"` // null where it cannot be made without another change
	Tasks []ChangedTask `json:"tasks"`
}

// AloneReport is what a change does by itself to the knob's tasks.
type AloneReport struct {
	Before sample.ScoreReport `json:"before"`
	After  sample.ScoreReport `json:"after"`
	Gain   sample.Interval    `json:"gain_s"`
}

// ChangedTask is the mean time of a task without and with a change.
type ChangedTask struct {
	Task   string  `json:"task"`
	Before float64 `json:"before_s"`
	After  float64 `json:"after_s"`
}

// Task is a task before and after.
type Task struct {
	Task    string           `json:"task"`
	Title   string           `json:"title"`
	Knob    string           `json:"knob"`
	PerHour float64          `json:"per_hour"`
	Changed bool             `json:"changed"`
	Set     []string         `json:"set"`
	Outcome string           `json:"outcome,omitempty"` // of the tests: faster, slower, mixed, no difference found
	Gain    *sample.Interval `json:"gain_s,omitempty"`  // after less before, mean of the pairs; absent where nothing changed
	Before  sample.Report    `json:"before"`
	After   sample.Report    `json:"after"`
	Done    []Done           `json:"done"`
	Sizes   []Size           `json:"sizes"`
}

// Done is by when a share of the dialings was done; null where that lies among
// timeouts.
type Done struct {
	Share  float64  `json:"share"`
	Before *float64 `json:"before_s"`
	After  *float64 `json:"after_s"`
}

// Size is how many trials went past by so many steps, ring by ring the furthest.
type Size struct {
	From   int64 `json:"from_steps"`
	To     int64 `json:"to_steps"`
	Before int   `json:"before_trials"`
	After  int   `json:"after_trials"`
}

// Knob is a knob before and after: what its accelerations do at a turning rate,
// how it is turned, and what it loses.
type Knob struct {
	Knob    string             `json:"knob"`
	Rig     string             `json:"rig"`
	Changed bool               `json:"changed"`
	Before  sample.ScoreReport `json:"before"` // of its tasks
	After   sample.ScoreReport `json:"after"`
	Gains   []Gain             `json:"gains"`
	Rates   []Rate             `json:"rates"`
	Held    bool               `json:"held"` // a firmware holds its line, so that clicks have no fate
}

// Gain is the gain of an acceleration at turning rates, task steps per detent.
type Gain struct {
	Name   string      `json:"name"`
	Before bool        `json:"before"`
	Home   string      `json:"home"`        // where it is made: firmware or program
	Reach  *float64    `json:"reach_per_s"` // the highest rate that gets through; null where nothing limits it
	Points []GainPoint `json:"points"`      // up to that rate
}

// GainPoint is the gain at a rate.
type GainPoint struct {
	PerS float64 `json:"per_s"`
	Gain float64 `json:"gain"`
}

// Rate is the clicks of all trials of a knob that came at a turning rate; what is
// quicker than the last bin is in it.
type Rate struct {
	From   float64 `json:"from_per_s"`
	To     float64 `json:"to_per_s"`
	Before Count   `json:"before"`
	After  Count   `json:"after"`
}

// Count is clicks and those without a step of their own.
type Count struct {
	Detents int `json:"detents"`
	Lost    int `json:"lost"`
}

// StoryReport is one trial by the same person before and after.
type StoryReport struct {
	Kind   string        `json:"kind"`
	Task   string        `json:"task"`
	Trial  int           `json:"trial"`
	Start  string        `json:"start"`
	Target string        `json:"target"`
	Unit   string        `json:"unit"` // of the readings
	Within float64       `json:"tolerance"`
	Aim    float64       `json:"target_reading"`
	Wrap   Wrap          `json:"ring"`
	Before CourseReport  `json:"before"`
	After  *CourseReport `json:"after"` // null where nothing changed
}

// Wrap is where readings wrap, zero where they do not: Low comes after Low+Span.
type Wrap struct {
	Low  float64 `json:"low"`
	Span float64 `json:"span"`
}

// CourseReport is what happened in a trial.
type CourseReport struct {
	Time      *float64  `json:"time_to_target_s"`
	Overshoot int64     `json:"overshoot_steps"`
	Strokes   int       `json:"strokes"`
	Lost      int       `json:"lost"`
	Detents   []float64 `json:"detents_s"`
	Shown     []Reading `json:"shown"`
	Waiting   []Reading `json:"waiting"` // where the number would be with all that waits in the firmware
}

// Reading is a number from a time on. On a ring it goes on counting.
type Reading struct {
	Time  float64 `json:"time_s"`
	Value float64 `json:"value"`
}

// TurnReport is a turn, click by click, with some settings.
type TurnReport struct {
	Name  string        `json:"name"`
	Knob  string        `json:"knob"`
	Lanes []follow.Lane `json:"lanes"`
	follow.Report
}

// Report returns the result for JSON.
func (r *Result) Report() Report {
	out := Report{
		Title: r.Study.Panel.Title, Main: r.main().Use.Name(), For: string(r.Study.For), MaxOvershoot: r.Study.MaxOvershoot, MaxLost: r.Study.MaxLost,
		Alternatives: r.alternatives(), Changes: []ChangeReport{}, Search: *r.Search, Panel: r.Study.Panel.Name, Profile: r.Study.Profile.Name, Operator: r.Study.Operator.Name, Trials: r.Study.Trials,
		Before: r.Before.Report(), After: r.After.Report(), Gain: sample.IntervalOf(r.Gain.Mean),
		Evidence: r.Evidence, Tasks: []Task{}, Knobs: []Knob{}, Stories: []StoryReport{}, Turns: []TurnReport{},
	}
	if r.Evidence == nil {
		out.Evidence = []evidence.Check{}
	}
	if r.Explain != nil {
		x := r.Explain.Report()
		out.Explain = &x
	}
	for _, d := range r.Dialings {
		out.Tasks = append(out.Tasks, d.report())
	}
	for _, ds := range r.knobs() {
		out.Knobs = append(out.Knobs, knob(ds))
	}
	for _, c := range r.Changes {
		out.Changes = append(out.Changes, c.report())
	}
	for _, s := range r.Stories {
		out.Stories = append(out.Stories, s.report())
	}
	for _, t := range r.Turns {
		out.Turns = append(out.Turns, TurnReport{t.Name, t.Knob, t.Turn.Lanes(), t.Turn.Report()})
	}
	out.Verdict = append([]string{out.finding() + "."}, out.lead()...)
	return out
}

func (c *Change) report() ChangeReport {
	x := ChangeReport{Knob: c.Knob.Name, Key: cmp.Or(c.Key, accelerated), From: c.From, To: c.To, Tasks: []ChangedTask{}}
	if c.Before != nil {
		x.Alone = &AloneReport{c.Before.Score().Report(), c.After.Score().Report(), sample.IntervalOf(c.Gain.Mean)}
	}
	for i, t := range c.Before {
		x.Tasks = append(x.Tasks, ChangedTask{t.Use.Task.Name, sample.Round(t.Summary().Mean), sample.Round(c.After[i].Summary().Mean)})
	}
	return x
}

func (d *Dialing) report() Task {
	t := Task{
		Task: d.Use.Task.Name, Title: d.Use.Task.Title, Knob: d.Use.Knob.Name, PerHour: d.Use.PerHour, Changed: d.Changed, Set: d.card.Set,
		Before: d.Before.Trials.Report(), After: d.After.Trials.Report(), Sizes: sizes(d.Before.Watched.Sizes, d.After.Watched.Sizes),
	}
	if t.Set == nil {
		t.Set = []string{}
	}
	if d.Verdict != nil {
		t.Outcome = d.Verdict.Outcome().String()
		g := sample.IntervalOf(d.Verdict.Time.Average.Mean)
		t.Gain = &g
	}
	before, after := slices.Sorted(slices.Values(d.Before.Trials.Seconds)), slices.Sorted(slices.Values(d.After.Trials.Seconds))
	for n := range 101 {
		share := float64(n) / 100
		t.Done = append(t.Done, Done{share, sample.Finite(paired.Quantile(before, share)), sample.Finite(paired.Quantile(after, share))})
	}
	return t
}

// sizes puts overshoots into classes that grow with their size.
func sizes(before, after map[int64]int) []Size {
	most := int64(0)
	for _, m := range []map[int64]int{before, after} {
		for steps := range maps.Keys(m) {
			most = max(most, steps)
		}
	}
	list := []Size{}
	for from := int64(1); from <= most; {
		to := from
		for _, end := range []int64{2, 5, 10, 20, 50} {
			if from > 1 && end >= from {
				to = end
				break
			}
		}
		if from > 50 {
			to = from*2 - 2
		}
		s := Size{From: from, To: to}
		for steps := from; steps <= to && steps <= most; steps++ {
			s.Before += before[steps]
			s.After += after[steps]
		}
		list = append(list, s)
		from = to + 1
	}
	return list
}

func knob(ds []*Dialing) Knob {
	k := Knob{Knob: ds[0].Use.Knob.Name, Rig: ds[0].Use.Knob.Inner.Name, Gains: []Gain{}, Rates: []Rate{}}
	var before, after sample.Panel
	for _, d := range ds {
		before, after = append(before, d.Before.Trials), append(after, d.After.Trials)
		k.Changed = k.Changed || d.Changed
		k.Held = k.Held || d.Before.seat.Holds() || d.After.seat.Holds()
	}
	k.Before, k.After = before.Score().Report(), after.Score().Report()
	k.Gains = append(k.Gains, gain("before", true, ds[0].Use.Knob, ds[0].Before.Profile))
	for i, d := range ds {
		if !d.Changed || slices.ContainsFunc(ds[:i], func(e *Dialing) bool { return e.Changed && e.After.Profile == d.After.Profile }) {
			continue
		}
		name := "after"
		if slices.ContainsFunc(ds, func(e *Dialing) bool { return e.After.Profile != d.After.Profile }) {
			name = "after, for"
			for _, e := range ds {
				if e.After.Profile == d.After.Profile {
					name += " " + e.Use.Task.Name
				}
			}
		}
		k.Gains = append(k.Gains, gain(name, false, d.Use.Knob, d.After.Profile))
	}
	for i := range rateBins {
		x := Rate{From: RateStep * float64(i), To: RateStep * float64(i+1)}
		for _, d := range ds {
			b, a := d.Before.Watched.Rates[i], d.After.Watched.Rates[i]
			x.Before = Count{x.Before.Detents + b.Detents, x.Before.Lost + b.Lost}
			x.After = Count{x.After.Detents + a.Detents, x.After.Lost + a.Lost}
		}
		k.Rates = append(k.Rates, x)
	}
	return k
}

// gain is what a profile makes of a click on a knob, the coarse pair with it.
func gain(name string, before bool, k *scenarios.Knob, p *scenarios.Profile) Gain {
	g := Gain{Name: name, Before: before, Home: p.Home.String(), Points: []GainPoint{}}
	compiled, err := p.Acceleration.Compile()
	rig, err2 := scenarios.Apply(p, k.Inner.Rig)
	if cmp.Or(err, err2) != nil || rig.Firmware.Output == encoder.AxisOutput {
		return g // an axis moves a position, whatever the rate
	}
	reach := scenarios.Reach(&rig, p.Home)
	g.Reach = sample.Finite(reach)
	for at := range int(RateStep*rateBins) + 1 {
		rate := min(float64(at), reach)
		x := compiled.At(rate)
		if c := rig.Firmware.Coarse; c.Above > 0 && rate > float64(c.Above) {
			x *= float64(c.Steps)
		}
		g.Points = append(g.Points, GainPoint{sample.Round(rate), sample.Round(x)})
		if rate == reach {
			break
		}
	}
	return g
}

func (s *Story) report() StoryReport {
	task := s.Dialing.Use.Task
	x := StoryReport{
		Kind: s.Kind, Task: task.Name, Trial: s.Trial, Start: task.Format(s.Before.Start), Target: task.Format(s.Before.Target),
		Unit: "steps from the target",
	}
	low, per := 0.0, 1.0
	within := task.ToleranceSteps()
	if task.Named == nil && len(task.Digits) == 0 {
		x.Unit = cmp.Or(task.Unit, "steps")
		low = task.At(s.Before.Target).Float()
		per = task.At(1).Float() - task.At(0).Float()
		if task.Wrap {
			x.Wrap = Wrap{task.At(0).Float(), sample.Round(per * float64(task.Count()))}
		}
	}
	x.Aim, x.Within = sample.Round(low), sample.Round(per*float64(within))
	reading := func(steps int64) float64 { return sample.Round(low + float64(per*float64(steps))) }
	x.Before = s.Before.report(reading)
	if s.Dialing.Changed {
		a := s.After.report(reading)
		x.After = &a
	}
	return x
}

func (c *Course) report(reading func(int64) float64) CourseReport {
	x := CourseReport{Overshoot: c.Overshoot, Strokes: c.Strokes, Lost: c.Account.Lost(), Detents: []float64{}}
	if !c.Timeout {
		x.Time = sample.Finite(c.Seconds())
	}
	for _, at := range c.Detents {
		x.Detents = append(x.Detents, seconds(at))
	}
	readings := func(list []Shown) []Reading {
		out := []Reading{}
		for _, s := range list {
			out = append(out, Reading{seconds(s.At), reading(s.Steps)})
		}
		return out
	}
	x.Shown, x.Waiting = readings(c.Shown), readings(c.Waiting)
	return x
}

func seconds(ns int64) float64 { return sample.Round(float64(ns) / 1e9) }
