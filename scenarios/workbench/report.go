package workbench

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"dialwright/scenarios"
	"dialwright/scenarios/file"
	"dialwright/scenarios/report"
)

// Report is one page with figures, tables and the printed card.
type Report struct {
	Asked
	// Origin is where the page comes from, once it was run.
	Origin report.Origin

	goal   goal
	checks bool
	date   string
}

// NewReport returns the report on the demo's panel.
func NewReport(l file.Loader) *Report { return &Report{Asked: NewAsked(l, 400), goal: newGoal()} }

// Flags are what can be asked.
func (x *Report) Flags() []Flag {
	return slices.Concat(
		x.TrialFlags("trials a task, before and after"),
		x.goal.flags("speed, balance or calm: what counts within the caps"),
		[]Flag{
			x.panelFlag(),
			x.rigFlag("rig of every knob: a built-in name or a file"),
			x.profileFlag("what is set now: a built-in name or a file"),
			x.operatorFlag("operator: a built-in name or a file"),
			x.taskFlag(),
			{Name: "checks", Usage: "put what this program is checked against on the page too", Value: &x.checks},
			{Name: "date", Usage: "print a date: today's, or that of --date=YYYY-MM-DD", Value: &x.date},
		})
}

// Check says what is wrong with the flags.
func (x *Report) Check([]string) error {
	_, _, _, err := x.goal.read()
	_, e := dated(x.date)
	return errors.Join(x.CheckTrials(), x.enough(), err, e)
}

// Run measures, searches and measures again.
func (x *Report) Run(ctx context.Context, _ []string, at Progress) (*Outcome, error) {
	study := &report.Study{Trials: x.Trials, Seed: x.Seed, Workers: x.Workers, Checks: x.checks, Progress: at.at}
	date, err := dated(x.date)
	if err != nil {
		return nil, err
	}
	if study.For, study.MaxOvershoot, study.MaxLost, err = x.goal.read(); err != nil {
		return nil, err
	}
	if study.Panel, study.Profile, study.Operator, err = x.loadAll(); err != nil {
		return nil, err
	}
	if x.given("rig") && !x.given("panel") {
		study.Panel = of(study.Panel)
	}
	if err := x.affords(8000 * served(study.Panel)); err != nil {
		return nil, err
	}
	r, err := report.Run(ctx, study)
	if r == nil {
		return nil, err
	}
	x.Origin = report.Origin{Command: commandLine("report", x.Flags(), x.given), Version: Version(), Date: date, Inputs: x.Inputs()}
	answer := r.Report()
	return &Outcome{
		Header: x.Header("report", r.Partial), Result: r, Report: answer,
		Text:    func(w io.Writer) error { return r.HTML(w, x.Origin) },
		Figures: answer.Figures,
	}, nil
}

// of is the demo's panel with another rig, which is what a report on it is of.
func of(demo *scenarios.Panel) *scenarios.Panel {
	p := *demo
	p.Name = p.Knobs[0].Inner.Name
	p.Title = "Rig " + p.Name
	return &p
}

// dated returns the date that --date means, "" without it.
func dated(text string) (string, error) {
	switch text {
	case "":
		return "", nil
	case "today":
		return time.Now().Format(time.DateOnly), nil
	}
	if _, err := time.Parse(time.DateOnly, text); err != nil {
		return "", fmt.Errorf("--date: %q; a date such as 2026-01-31 would do", text)
	}
	return text, nil
}
