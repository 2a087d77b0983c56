package overshoot

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/paired"
)

// Table writes the answer for a terminal.
func (r *Result) Table(w io.Writer) error { return r.text(w, false) }

// Markdown writes the answer for a document.
func (r *Result) Markdown(w io.Writer) error { return r.text(w, true) }

func (r *Result) text(w io.Writer, markdown bool) error {
	p := columns.New(w, markdown)
	for i, f := range r.Found {
		if i == 0 || r.Found[i-1].Task != f.Task {
			p.Heading(fmt.Sprintf("%s; on the %s knob, %s", f.Task.Heading(), f.Knob, r.Study.Profile.Name))
			rows := [][]string{}
			for _, g := range r.Found[i:] {
				if g.Task != f.Task {
					break
				}
				rows = append(rows, []string{g.Operator, share(g.Share), seconds(g.Extra), nearest(g.Distance), farthest(g.Distance)})
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
		p.Item("by distance: " + growth(f.Distance, func(x float64) string { return f.Task.Travel(int64(x)) }))
		p.Item("by the speed at which the target was reached: " + growth(f.Speed, func(x float64) string { return fmt.Sprintf("%.3g clicks a second", x) }))
		if len(f.Task.Alarms) > 0 {
			p.Item(fmt.Sprintf("an alarm code was on the screen on the way in %s %% of the trials", share(f.Alarms)))
		}
		if len(f.Worst) > 0 {
			var worst []string
			for _, x := range f.Worst {
				worst = append(worst, fmt.Sprintf("trial %d (%s)", x.Trial, clicks(x.Steps)))
			}
			p.Item(fmt.Sprintf("worst: %s; see one with follow --task %s --operator %s%s --seed %d --trial %d",
				strings.Join(worst, ", "), f.Task.Name, f.Operator, r.Study.Replay, r.Study.Seed, f.Worst[0].Trial))
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
	return p.Err()
}

// partial says how much of what was asked for is there.
func (r *Result) partial() string {
	done := 0
	for _, f := range r.Found {
		done += f.Trials
	}
	return fmt.Sprintf("Partial: interrupted after %d of %d trials; lines that were not begun are left out.", done, r.Study.Trials*len(r.Study.Tasks)*len(r.Study.Operators))
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
		parts = append(parts, fmt.Sprintf("%s %s %%", to, share(q.Share)))
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
	return share(list[0].Share)
}

func farthest(list []Quarter) string {
	if len(list) < 2 {
		return "–"
	}
	return share(list[len(list)-1].Share)
}

// tasks lists the tasks once each.
func (r *Result) tasks() []*scenarios.Task {
	var list []*scenarios.Task
	for _, f := range r.Found {
		if !slices.Contains(list, f.Task) {
			list = append(list, f.Task)
		}
	}
	return list
}

// mostLines is how many sizes a histogram shows; larger ones share its last line.
const mostLines = 8

// histogram draws the sizes of the overshoots of a ring.
func (r *Result) histogram(p *columns.Printer, f *Found, ring Ring) {
	name := ring.Name
	if name != "" && len(f.Task.Digits) == 0 {
		name += " ring"
	}
	if name != "" {
		name += ": "
	}
	sizes := sortedSizes(ring.Sizes)
	if len(sizes) == 0 {
		p.Item(name + "never past the target")
		return
	}
	p.Item(fmt.Sprintf("%spast the target in %s %% of the trials, by", name, share(ring.Share)))
	most, beyond := 0, 0
	for i, s := range sizes {
		most = max(most, ring.Sizes[s])
		if i >= mostLines-1 {
			beyond += ring.Sizes[s]
		}
	}
	most = max(most, beyond)
	for i, s := range sizes {
		n, what := ring.Sizes[s], fmt.Sprintf("%s (%s)", f.units(ring, s), clicks(s))
		if len(f.Task.Digits) > 0 {
			what = clicks(s)
		}
		if i == mostLines-1 && len(sizes) > mostLines {
			n, what = beyond, what+" or more"
		}
		if i == mostLines {
			return
		}
		p.Bar(what, 100*float64(n)/float64(ring.Trials), float64(n)/float64(most))
	}
}

func clicks(n int64) string {
	if n == 1 {
		return "1 click"
	}
	return fmt.Sprintf("%d clicks", n)
}

// causesText lists the causes, the most frequent first.
func (f *Found) causesText() string {
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

func share(e paired.Estimate) string {
	return fmt.Sprintf("%.0f (%.0f–%.0f)", 100*e.Value, 100*e.Low, 100*e.High)
}

func seconds(e paired.Estimate) string {
	if e.Value == 0 && e.High == 0 {
		return "–"
	}
	return fmt.Sprintf("%.1f (%.1f–%.1f)", e.Value, e.Low, e.High)
}

// Header is the first line of the file of all trials. ring_steps is the overshoot
// of every ring or digit, in the order in which they are dialed, with spaces
// between; speed_per_s is that of the arriving stroke, detents a second, empty
// where none arrived.
var Header = []string{"task", "operator", "trial", "start", "target", "time_to_target_s", "timeout", "overshot", "ring", "overshoot_steps", "overshoot_whole_steps", "cause", "strokes", "detents", "lost", "alarms", "ring_steps", "extra_time_s", "distance_steps", "speed_per_s"}

// WriteTrial writes one trial as a line.
func WriteTrial(w *csv.Writer, task *scenarios.Task, t Trial) error {
	extra, speed := "", ""
	if s, ok := t.Extra(); ok {
		extra = strconv.FormatFloat(s, 'f', 6, 64)
	}
	if t.Speed > 0 {
		speed = strconv.FormatFloat(t.Speed, 'f', 6, 64)
	}
	rings := make([]string, t.Dials)
	for i := range rings {
		rings[i] = strconv.FormatInt(t.ByDial[i], 10)
	}
	cause := ""
	if t.Overshot {
		cause = t.Cause.String()
	}
	return w.Write([]string{
		plainText(t.Task), plainText(t.Operator), strconv.Itoa(t.Number), task.At(t.Start).String(), task.At(t.Target).String(),
		strconv.FormatFloat(t.Seconds(), 'f', 6, 64), strconv.FormatBool(t.Timeout), strconv.FormatBool(t.Overshot), t.Ring,
		strconv.FormatInt(t.Overshoot, 10), strconv.FormatInt(t.Past, 10), cause,
		strconv.Itoa(t.Strokes), strconv.Itoa(t.Account.Detents), strconv.Itoa(t.Account.Lost()), strconv.Itoa(t.Alarms),
		strings.Join(rings, " "), extra, strconv.FormatInt(t.Distance, 10), speed,
	})
}

// plainText keeps a name from being taken for a formula by a spreadsheet.
func plainText(name string) string {
	if name != "" && strings.ContainsRune("=+-@\t\r", rune(name[0])) {
		return "'" + name
	}
	return name
}

// CSV writes a line for each ring of each task with each operator; causes, extra
// time and alarms are the task's as a whole.
func (r *Result) CSV(w io.Writer) error {
	out := csv.NewWriter(w)
	number := func(x float64) string { return strconv.FormatFloat(x, 'g', 6, 64) }
	head := []string{"task", "operator", "ring", "trials", "overshoot_share", "overshoot_low", "overshoot_high", "extra_time_s", "alarm_share"}
	for c := range causes {
		head = append(head, strings.ReplaceAll(c.String(), " ", "_")+"_trials")
	}
	out.Write(head) // Flush tells
	for _, f := range r.Found {
		for _, ring := range f.Rings {
			row := []string{
				plainText(f.Task.Name), plainText(f.Operator), ring.Name, strconv.Itoa(ring.Trials),
				number(ring.Share.Value), number(ring.Share.Low), number(ring.Share.High), "", number(f.Alarms.Value),
			}
			if f.Extra.High > 0 {
				row[7] = number(f.Extra.Value)
			}
			for _, n := range f.Causes {
				row = append(row, strconv.Itoa(n))
			}
			out.Write(row)
		}
	}
	out.Flush()
	return out.Error()
}

// Report is the answer as it is written in JSON.
type Report struct {
	Tasks []TaskReport `json:"tasks"`
}

// TaskReport is a ring of a task with an operator.
type TaskReport struct {
	Task     string        `json:"task"`
	Operator string        `json:"operator"`
	Ring     string        `json:"ring"`
	Trials   int           `json:"trials"`
	Share    float64       `json:"share"`
	Interval Interval      `json:"interval"`
	Sizes    []SizeReport  `json:"sizes"`
	ExtraS   *float64      `json:"extra_time_s"`
	Causes   []CauseReport `json:"causes"`
	Worst    []WorstReport `json:"worst"`
	Alarms   float64       `json:"alarm_share"`
	Distance []GrowthSteps `json:"by_distance"`
	Speed    []GrowthSpeed `json:"by_speed"`
}

// GrowthSteps is how often the trials up to a distance overshot that lie beyond the
// one before.
type GrowthSteps struct {
	Steps    int64    `json:"to_steps"`
	Units    string   `json:"to_units"`
	Trials   int      `json:"trials"`
	Share    float64  `json:"share"`
	Interval Interval `json:"interval"`
}

// GrowthSpeed is the same by the speed of the arriving stroke, detents a second.
type GrowthSpeed struct {
	PerS     float64  `json:"to_per_s"`
	Trials   int      `json:"trials"`
	Share    float64  `json:"share"`
	Interval Interval `json:"interval"`
}

// Interval is a 95 % interval.
type Interval struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
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
	for _, f := range r.Found {
		for _, ring := range f.Rings {
			t := TaskReport{
				Task: f.Task.Name, Operator: f.Operator, Ring: ring.Name, Trials: ring.Trials, Share: round(ring.Share.Value),
				Interval: Interval{round(ring.Share.Low), round(ring.Share.High)}, Alarms: round(f.Alarms.Value),
				Sizes: []SizeReport{}, Causes: []CauseReport{}, Worst: []WorstReport{},
				Distance: []GrowthSteps{}, Speed: []GrowthSpeed{},
			}
			for _, q := range f.Distance {
				n := int64(q.To)
				t.Distance = append(t.Distance, GrowthSteps{n, f.Task.Travel(n), q.Trials, round(q.Share.Value), Interval{round(q.Share.Low), round(q.Share.High)}})
			}
			for _, q := range f.Speed {
				t.Speed = append(t.Speed, GrowthSpeed{round(q.To), q.Trials, round(q.Share.Value), Interval{round(q.Share.Low), round(q.Share.High)}})
			}
			for _, steps := range sortedSizes(ring.Sizes) {
				t.Sizes = append(t.Sizes, SizeReport{steps, f.units(ring, steps), ring.Sizes[steps]})
			}
			if f.Extra.High > 0 {
				x := round(f.Extra.Value)
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

func round(x float64) float64 { return math.Round(x*1e6) / 1e6 }

func sortedSizes(sizes map[int64]int) []int64 {
	var list []int64
	for s := range sizes {
		list = append(list, s)
	}
	slices.Sort(list)
	return list
}

// units writes so many steps of a ring in the task's own units.
func (f *Found) units(ring Ring, steps int64) string {
	if len(f.Task.Digits) > 0 {
		return clicks(steps)
	}
	if ring.Name == "outer" {
		steps *= f.Task.PerOuter
	}
	return f.Task.Travel(steps)
}
