package evidence

import (
	"context"
	"fmt"

	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/trial"
)

// A paper is a study of panel knobs of which only the abstract was read here.
// Whoever has it adds what it measured to its figures, and row A20 compares.
type paper struct {
	source, what string
	figures      []figure
}

// figure is a published time of a task that this program knows.
type figure struct {
	where string  // "Table 2, p. 5"
	task  string  // built-in name: heading, altitude, com-25, …
	rings int     // of the knob; 0 is 1
	meanS float64 // mean time to target in seconds, without what the papers count as reaching or reading
}

const entry = "entry by mode-control-panel knobs, keys or touch, also in turbulence, with Fitts models of time and throughput"

// unread are the papers of row A20. This is the place to add figures.
var unread = []paper{
	{source: "van Zon, Borst, Pool, van Paassen, Human Factors 62 (2020), open access PMC7416334",
		what: entry},
	{source: "Xie, Zhou, Qu, Ergonomics (2022)",
		what: entry},
	{source: "Kline, Anesgart, Hughes, report ADA372597 (1994)",
		what: "dual knob and single knob"},
}

func uncomparedStudies(ctx context.Context, s Size) ([]Check, error) { return compared(ctx, s, unread) }

// compared makes a check of each figure, on the demo's knob that reports counts,
// and a check that is not compared of each paper without one.
func compared(ctx context.Context, s Size, papers []paper) (checks []Check, err error) {
	o, plain, rig := scenarios.Practised(), scenarios.Profile{Name: "plain"}, demo.Rig("right-relative").Rig
	for _, p := range papers {
		c := Check{ID: "A20", What: p.what, Source: p.source, Published: "not read: only the abstract was", Status: Uncompared,
			Reason: "nobody here has read its figures; they belong into scenarios/evidence/unread.go"}
		if len(p.figures) == 0 {
			checks = append(checks, c)
		}
		for _, f := range p.figures {
			task := demo.Task(f.task)
			if task == nil {
				return nil, fmt.Errorf("%s, %s: there is no task %q", p.source, f.where, f.task)
			}
			got, err := run(ctx, trial.Cell{Task: task, Rings: max(1, f.rings), Inner: &rig, Outer: &rig, Profile: &plain, Operator: &o}, s.Seed, s.Trials, nil)
			if err != nil {
				return nil, err
			}
			checks = append(checks, Check{ID: "A20", What: p.what + ": " + f.task, Source: p.source + ", " + f.where, Status: Read,
				Published: fmt.Sprintf("%.2f s", f.meanS), Band: "mean time to target ±25 %", Measured: fmt.Sprintf("%.2f s", got.time),
			}.judged(within(got.time, f.meanS, 0.25)))
		}
	}
	return checks, nil
}
