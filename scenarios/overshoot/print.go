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
			p.Heading(fmt.Sprintf("%s: %s; on the %s knob, %s", f.Task.Name, f.Task.Title, f.Knob, r.Study.Profile.Name))
			rows := [][]string{}
			for _, g := range r.Found[i:] {
				if g.Task != f.Task {
					break
				}
				rows = append(rows, []string{g.Operator, share(g.Share), seconds(g.Extra), share(g.Near), share(g.Far)})
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
		p.Item(fmt.Sprintf("with a quick stroke %s %% of the trials, without one %s %%", share(f.Quick), share(f.Slow)))
		if len(f.Task.Alarms) > 0 {
			p.Item(fmt.Sprintf("an alarm code was on the screen on the way in %s %% of the trials", share(f.Alarms)))
		}
		if len(f.Worst) > 0 {
			var worst []string
			for _, x := range f.Worst {
				worst = append(worst, fmt.Sprintf("trial %d (%s)", x.Trial, clicks(x.Steps)))
			}
			p.Item(fmt.Sprintf("worst: %s; see one with follow --task %s --operator %s --profile %s --seed %d --trial %d",
				strings.Join(worst, ", "), f.Task.Name, f.Operator, r.Study.Profile.Name, r.Study.Seed, f.Worst[0].Trial))
		}
		p.Text("")
	}
	for _, t := range r.tasks() {
		if len(t.Alarms) > 0 {
			p.Text(safe(t))
		}
	}
	p.Text(fmt.Sprintf("%d trials a line, seed %d; in brackets 95 %% intervals. Extra: median time from the first instant past the target until the number is right for good. Near and far: targets in the nearer and the farther half of the distances; a quick stroke is one at the three quicker of a person's six paces.", r.Study.Trials, r.Study.Seed))
	if r.Partial {
		p.Text("Partial: interrupted; only the lines that were finished are shown.")
	}
	return p.Err()
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

// Header is the first line of the file of all trials.
var Header = []string{"task", "operator", "trial", "start", "target", "time_to_target_s", "timeout", "overshot", "ring", "overshoot_steps", "overshoot_whole_steps", "cause", "strokes", "detents", "lost", "alarms"}

// WriteTrial writes one trial as a line.
func WriteTrial(w *csv.Writer, task *scenarios.Task, t Trial) error {
	cause := ""
	if t.Overshot {
		cause = t.Cause.String()
	}
	lead := t.Task
	if lead != "" && strings.ContainsRune("=+-@\t\r", rune(lead[0])) {
		lead = "'" + lead
	}
	return w.Write([]string{
		lead, t.Operator, strconv.Itoa(t.Number), task.At(t.Start).String(), task.At(t.Target).String(),
		strconv.FormatFloat(t.Seconds(), 'f', 6, 64), strconv.FormatBool(t.Timeout), strconv.FormatBool(t.Overshot), t.Ring,
		strconv.FormatInt(t.Overshoot, 10), strconv.FormatInt(t.Past, 10), cause,
		strconv.Itoa(t.Strokes), strconv.Itoa(t.Account.Detents), strconv.Itoa(t.Account.Lost()), strconv.Itoa(t.Alarms),
	})
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
