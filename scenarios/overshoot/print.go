package overshoot

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
)

// Detail is everything that the answers say.
func (r *Result) Detail() *columns.Page {
	p := &columns.Page{}
	for i, f := range r.Answers {
		task := f.Use.Task
		if i == 0 || r.Answers[i-1].Use != f.Use {
			p.Heading(fmt.Sprintf("%s; on %s, %s", task.Heading(), f.Use.Knob.Called(), r.Study.Profile.Name))
			rows := [][]string{}
			for _, g := range r.Answers[i:] {
				if g.Use != f.Use {
					break
				}
				rows = append(rows, []string{g.Operator, sample.Percent(g.Summary().Overshoot), seconds(g.Extra), nearest(g.Distance), farthest(g.Distance)})
			}
			p.Table([]string{"", "overshoot, %", "extra, s", "near, %", "far, %"}, rows)
		}
		if f.Stays != nil {
			p.Text(fmt.Sprintf("%s cannot be set on this knob, which stays plain: %v", r.Study.Profile.Name, f.Stays))
		}
		p.Text("")
		p.Heading(f.Operator)
		for _, ring := range f.Rings {
			r.histogram(p, f, ring)
		}
		p.Item(f.causesText())
		p.Item("by distance: " + growth(f.Distance, func(x float64) string { return task.Travel(int64(x)) }))
		p.Item("by the speed at which the target was reached: " + growth(f.Speed, func(x float64) string { return fmt.Sprintf("%.3g clicks a second", x) }))
		if len(task.Alarms) > 0 {
			p.Item(fmt.Sprintf("an alarm code was on the screen on the way in %s %% of the trials", sample.Percent(f.Alarms)))
		}
		if len(f.Worst) > 0 {
			var worst []string
			for _, x := range f.Worst {
				worst = append(worst, fmt.Sprintf("trial %d (%s)", x.Trial, counted(x.Steps)))
			}
			again := ""
			if r.Study.Replay != nil {
				again = "; see one with " + r.again(f)
			}
			p.Item("worst: " + strings.Join(worst, ", ") + again)
		}
		p.Text("")
	}
	for _, t := range r.tasks() {
		if len(t.Alarms) > 0 {
			p.Text(safe(t))
		}
	}
	p.Text(fmt.Sprintf("%d trials a line, seed %d; in brackets 95 %% intervals. Extra: median time from the first instant past the target until the number is right for good. Near and far: the quarters of the trials with the nearest and the farthest targets. Speed: that of the stroke that first brought the number to its target.", r.Study.Trials, r.Study.Seed))
	if r.Partial {
		p.Text(r.partial())
	}
	return p
}

// partial says how much of what was asked for is there.
func (r *Result) partial() string {
	done := 0
	for _, f := range r.Answers {
		done += f.Len()
	}
	return fmt.Sprintf("Partial: interrupted after %d of %d trials; lines that were not begun are left out.", done, r.Study.Trials*len(r.Study.Tasks)*len(r.Study.Operators))
}

// again is the command that shows the worst trial of an answer.
func (r *Result) again(f *Answer) string {
	return fmt.Sprintf("follow %s --seed %d --trial %d", r.Study.Replay(f.Use.Name(), f.Operator), r.Study.Seed, f.Worst[0].Trial)
}

// growth says how often the quarters overshot.
func growth(list []Quarter, what func(float64) string) string {
	var parts []string
	for i, q := range list {
		to := "up to " + what(q.To)
		switch {
		case i == len(list)-1 && i > 0:
			to = "beyond, to " + what(q.To)
		case i > 0:
			to = "to " + what(q.To)
		}
		parts = append(parts, fmt.Sprintf("%s %s %%", to, sample.Percent(q.Share)))
	}
	if len(parts) == 0 {
		return "no trial tells"
	}
	return strings.Join(parts, ", ")
}

func nearest(list []Quarter) string {
	if len(list) < 2 {
		return "–"
	}
	return sample.Percent(list[0].Share)
}

func farthest(list []Quarter) string {
	if len(list) < 2 {
		return "–"
	}
	return sample.Percent(list[len(list)-1].Share)
}

// tasks lists the tasks once each.
func (r *Result) tasks() []*scenarios.Task {
	var list []*scenarios.Task
	for _, f := range r.Answers {
		if !slices.Contains(list, f.Use.Task) {
			list = append(list, f.Use.Task)
		}
	}
	return list
}

// mostLines is how many sizes a histogram shows; larger ones share its last line, which
// never holds more than a tenth of them.
const mostLines = 8

// bin is a line of a histogram: the sizes from one to another, and how many there are.
type bin struct {
	from, to int64
	trials   int
	open     bool // sizes beyond are in it too
}

// bins divides sizes, 1 and more, into lines of equal width, the narrowest that leave
// no more than a tenth for what lies beyond the last.
func bins(sizes map[int64]int) []bin {
	all, largest := 0, int64(0)
	for s, n := range sizes {
		all, largest = all+n, max(largest, s)
	}
	for width := int64(1); ; width++ {
		last := width*(mostLines-1) + 1 // where the open line begins
		beyond := 0
		for s, n := range sizes {
			if s >= last {
				beyond += n
			}
		}
		if largest > width*mostLines && 10*beyond > all {
			continue
		}
		var list []bin
		for from := int64(1); from <= largest && len(list) < mostLines; from += width {
			b := bin{from: from, to: from + width - 1}
			if b.open = len(list) == mostLines-1 && b.to < largest; b.open {
				b.to = largest
			}
			for s, n := range sizes {
				if s >= b.from && s <= b.to {
					b.trials += n
				}
			}
			if b.trials > 0 || width > 1 {
				list = append(list, b)
			}
		}
		return list
	}
}

// histogram draws the sizes of the overshoots of a ring.
func (r *Result) histogram(p *columns.Page, f *Answer, ring Ring) {
	name := ring.Name
	if name != "" && len(f.Use.Task.Digits) == 0 {
		name += " ring"
	}
	if name != "" {
		name += ": "
	}
	lines := bins(ring.Sizes)
	if len(lines) == 0 {
		p.Item(name + "never past the target")
		return
	}
	p.Item(fmt.Sprintf("%spast the target in %s %% of the trials, by", name, sample.Percent(ring.Share)))
	most := slices.MaxFunc(lines, func(a, b bin) int { return a.trials - b.trials }).trials
	for _, b := range lines {
		what := counted(b.from)
		if b.to > b.from && !b.open {
			what = fmt.Sprintf("%d to %s", b.from, counted(b.to))
		}
		if len(f.Use.Task.Digits) == 0 {
			units := f.units(ring, b.from)
			if b.to > b.from && !b.open {
				units += " to " + f.units(ring, b.to)
			}
			what = fmt.Sprintf("%s (%s)", units, what)
		}
		if b.open {
			what += " or more"
		}
		p.Bar(what, 100*float64(b.trials)/float64(ring.Trials), float64(b.trials)/float64(most))
	}
}

// counted writes a number of steps.
func counted(n int64) string {
	if n == 1 {
		return "1 step"
	}
	return fmt.Sprintf("%d steps", n)
}

// causesText lists the causes, the most frequent first.
func (f *Answer) causesText() string {
	type line struct {
		c Cause
		n int
	}
	var lines []line
	total := 0
	for c, n := range f.Causes {
		if n > 0 {
			lines = append(lines, line{Cause(c), n})
			total += n
		}
	}
	if total == 0 {
		return "no overshoot in any trial"
	}
	slices.SortStableFunc(lines, func(a, b line) int { return b.n - a.n })
	var parts []string
	for _, l := range lines {
		parts = append(parts, fmt.Sprintf("%s %.0f %%", l.c, 100*float64(l.n)/float64(total)))
	}
	return "causes: " + strings.Join(parts, ", ")
}

// safe says in which order and direction a code is dialed so that no alarm code
// is shown, by an example.
func safe(t *scenarios.Task) string {
	from, okFrom := t.Index(1200 * scenarios.Unity)
	to, okTo := t.Index(7401 * scenarios.Unity)
	if !okFrom || !okTo {
		return ""
	}
	turns, crossed := t.SafeTurns(from, to)
	var parts []string
	for _, x := range turns {
		way := "up"
		n := x.Clicks
		if n < 0 {
			way, n = "down", -n
		}
		parts = append(parts, fmt.Sprintf("digit %d %d %s", len(t.Digits)-x.Digit, n, way))
	}
	return fmt.Sprintf("The order and direction of the digits that shows no alarm code is known for every pair of codes; from %s to %s: %s (%d shown).", t.Format(from), t.Format(to), strings.Join(parts, ", "), crossed)
}

func seconds(e paired.Estimate) string {
	if e.Value == 0 && e.High == 0 {
		return "–"
	}
	return fmt.Sprintf("%.1f (%.1f–%.1f)", e.Value, e.Low, e.High)
}

// trialKeys are the values of a trial. ring_steps is the overshoot of every ring or
// digit, in the order in which they are dialed, with spaces between; speed_per_s is
// that of the arriving stroke, detents a second, empty where none arrived.
var trialKeys = []string{"task", "operator", "trial", "start", "target", "time_to_target_s", "timeout", "overshot", "ring", "overshoot_steps", "overshoot_whole_steps", "cause", "strokes", "detents", "lost", "alarms", "ring_steps", "extra_time_s", "distance_steps", "speed_per_s"}

// Trials is a line for every trial, in the order of tasks, operators and numbers, of a
// study that keeps every one.
func (r *Result) Trials() columns.Table {
	return columns.Table{Columns: []columns.Column{{Hidden: true, Keys: trialKeys}}, Rows: func(yield func([]columns.Cell) bool) {
		for _, a := range r.Answers {
			for i := range a.every {
				if !yield([]columns.Cell{{Values: a.values(&a.every[i])}}) {
					return
				}
			}
		}
	}}
}

// values are those of a trial.
func (f *Answer) values(t *Trial) []any {
	fixed := func(x float64, known bool) any {
		if !known {
			return nil
		}
		return columns.Written(strconv.FormatFloat(x, 'f', 6, 64))
	}
	extra, some := t.Extra()
	rings := make([]string, len(f.Rings))
	for i := range rings {
		rings[i] = strconv.FormatInt(t.ByDial[i], 10)
	}
	cause := ""
	if t.Overshot {
		cause = t.Cause.String()
	}
	task := f.Use.Task
	return []any{
		f.Use.Name(), f.Operator, t.Number, columns.Written(task.At(t.Start).String()), columns.Written(task.At(t.Target).String()),
		fixed(t.Seconds(), true), t.Timeout, t.Overshot, t.Ring, t.Overshoot, t.Past, cause,
		t.Strokes, t.Account.Detents, t.Account.Lost(), t.Alarms,
		strings.Join(rings, " "), fixed(extra, some), t.Distance, fixed(t.Speed, t.Speed > 0),
	}
}

// Rows is a line for each ring of each task with each operator; causes, extra time
// and alarms are the task's as a whole.
func (r *Result) Rows() columns.Table {
	keys := []string{"task", "operator", "ring", "trials", "overshoot_share", "overshoot_low", "overshoot_high", "extra_time_s", "alarm_share"}
	for c := range causes {
		keys = append(keys, strings.ReplaceAll(c.String(), " ", "_")+"_trials")
	}
	var rows [][]columns.Cell
	for _, f := range r.Answers {
		for _, ring := range f.Rings {
			row := []any{f.Use.Name(), f.Operator, ring.Name, ring.Trials, ring.Share.Value, ring.Share.Low, ring.Share.High, nil, f.Alarms.Value}
			if f.Extra.High > 0 {
				row[7] = f.Extra.Value
			}
			for _, n := range f.Causes {
				row = append(row, n)
			}
			rows = append(rows, []columns.Cell{{Values: row}})
		}
	}
	return columns.Table{Columns: []columns.Column{{Hidden: true, Keys: keys}}, Rows: slices.Values(rows)}
}

// Report is the answer as it is written in JSON.
type Report struct {
	Tasks []TaskReport `json:"tasks"`
}

// TaskReport is a ring of a task with an operator.
type TaskReport struct {
	Task     string          `json:"task"`
	Operator string          `json:"operator"`
	Ring     string          `json:"ring"`
	Trials   int             `json:"trials"`
	Share    float64         `json:"share"`
	Interval sample.Interval `json:"interval"`
	Sizes    []SizeReport    `json:"sizes"`
	ExtraS   *float64        `json:"extra_time_s"`
	Causes   []CauseReport   `json:"causes"`
	Worst    []WorstReport   `json:"worst"`
	Alarms   float64         `json:"alarm_share"`
	Distance []GrowthSteps   `json:"by_distance"`
	Speed    []GrowthSpeed   `json:"by_speed"`
}

// GrowthSteps is how often the trials up to a distance overshot that lie beyond the
// one before.
type GrowthSteps struct {
	Steps    int64           `json:"to_steps"`
	Units    string          `json:"to_units"`
	Trials   int             `json:"trials"`
	Share    float64         `json:"share"`
	Interval sample.Interval `json:"interval"`
}

// GrowthSpeed is the same by the speed of the arriving stroke, detents a second.
type GrowthSpeed struct {
	PerS     float64         `json:"to_per_s"`
	Trials   int             `json:"trials"`
	Share    float64         `json:"share"`
	Interval sample.Interval `json:"interval"`
}

// SizeReport is how many trials went past by so much.
type SizeReport struct {
	Steps  int64  `json:"steps"`
	Units  string `json:"units"`
	Trials int    `json:"trials"`
}

// CauseReport is how many overshoots had a cause.
type CauseReport struct {
	Cause  string `json:"cause"`
	Trials int    `json:"trials"`
}

// WorstReport is a trial to look at.
type WorstReport struct {
	Trial int   `json:"trial"`
	Steps int64 `json:"steps"`
}

// Report returns the answer for JSON. Extra time, causes and worst trials are the
// task's as a whole and stand with each of its rings.
func (r *Result) Report() Report {
	out := Report{Tasks: []TaskReport{}}
	for _, f := range r.Answers {
		for _, ring := range f.Rings {
			t := TaskReport{
				Task: f.Use.Name(), Operator: f.Operator, Ring: ring.Name, Trials: ring.Trials, Share: sample.Round(ring.Share.Value),
				Interval: sample.IntervalOf(ring.Share), Alarms: sample.Round(f.Alarms.Value),
				Sizes: []SizeReport{}, Causes: []CauseReport{}, Worst: []WorstReport{},
				Distance: []GrowthSteps{}, Speed: []GrowthSpeed{},
			}
			for _, q := range f.Distance {
				n := int64(q.To)
				t.Distance = append(t.Distance, GrowthSteps{n, f.Use.Task.Travel(n), q.Trials, sample.Round(q.Share.Value), sample.IntervalOf(q.Share)})
			}
			for _, q := range f.Speed {
				t.Speed = append(t.Speed, GrowthSpeed{sample.Round(q.To), q.Trials, sample.Round(q.Share.Value), sample.IntervalOf(q.Share)})
			}
			for _, steps := range sortedSizes(ring.Sizes) {
				t.Sizes = append(t.Sizes, SizeReport{steps, f.units(ring, steps), ring.Sizes[steps]})
			}
			if f.Extra.High > 0 {
				x := sample.Round(f.Extra.Value)
				t.ExtraS = &x
			}
			for c, n := range f.Causes {
				if n > 0 {
					t.Causes = append(t.Causes, CauseReport{Cause(c).String(), n})
				}
			}
			for _, x := range f.Worst {
				t.Worst = append(t.Worst, WorstReport(x))
			}
			out.Tasks = append(out.Tasks, t)
		}
	}
	return out
}

func sortedSizes(sizes map[int64]int) []int64 {
	var list []int64
	for s := range sizes {
		list = append(list, s)
	}
	slices.Sort(list)
	return list
}

// units writes so many steps of a ring in the task's own units.
func (f *Answer) units(ring Ring, steps int64) string {
	if len(f.Use.Task.Digits) > 0 {
		return counted(steps)
	}
	if ring.Name == "outer" {
		steps *= f.Use.Task.PerOuter
	}
	return f.Use.Task.Travel(steps)
}
