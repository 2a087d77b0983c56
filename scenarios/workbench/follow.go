package workbench

import (
	"context"
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/figure"
	"dialwright/scenarios/file"
	"dialwright/scenarios/follow"
	"dialwright/scenarios/trial"
)

// Follow sends one turn of the knob through the path.
type Follow struct {
	Asked
	turn, detents, start string
	number               int
}

// NewFollow returns the question for a turn of 24 detents on the demo's rig left-pulse.
func NewFollow(l file.Loader) *Follow {
	f := &Follow{Asked: NewAsked(l, 1), turn: "24 in 800ms", number: -1}
	f.Workers, f.profile = 1, ""
	return f
}

// Command is how it is asked on a command line.
func (*Follow) Command() Command {
	return Command{
		Use:   "follow",
		Short: "Follow one turn of the knob through the path, click by click",
		Long: `Follow sends a turn through a rig and shows in lanes what became of every click:
the knob, the firmware's counts and pulses, the polls and frames that looked, and
the steps that the program applied. With --trial it replays a trial that compare
or overshoot have done, as the simulated person turned the knob.`,
		Example: `  dialwright follow
  dialwright follow --rig right-relative --turn '24 in 800ms'
  dialwright follow --detents turn.csv --format json
  dialwright follow --task com-25 --trial 17 --profile power`,
		Forms:   []string{"table", "json"},
		Reports: []Reported{{"follow", follow.Report{}}},
	}
}

// Flags are what can be asked.
func (i *Follow) Flags() []Flag {
	return []Flag{
		i.panelFlag(),
		i.rigFlag("rig: a built-in name or a file (default left-pulse)"),
		i.operatorFlag("who turns the knob in --trial, and whom warnings are for"),
		i.taskFlag(),
		i.profileFlag("profile: a built-in name or a file; without it every step is one task step"),
		{Name: "turn", Usage: "so many detents, equally spaced, the last at the end of the time; negative: counter-clockwise", Value: &i.turn},
		{Name: "detents", Usage: "file with the detents: CSV with header time_ms,direction", Value: &i.detents},
		{Name: "start", Usage: "the number that the program shows first, in the task's unit", Value: &i.start},
		{Name: "trial", Usage: "replay this trial of --task", Value: &i.number},
		i.seedFlag(),
	}
}

// Check says what is wrong with the flags.
func (i *Follow) Check([]string) error {
	if i.number < 0 && i.given("trial") {
		return fmt.Errorf("--trial: %d; trials count from 0", i.number)
	}
	if i.number < 0 && i.given("panel") {
		return errors.New("--panel: a turn is of one rig; --rig, or --task and --trial beside the panel, would do")
	}
	return nil
}

// Run follows the turn, or the trial.
func (i *Follow) Run(context.Context, []string, Progress) (*Outcome, error) {
	t, err := i.follow()
	if err != nil {
		return nil, err
	}
	return &Outcome{
		Header: i.Header("follow", false), Result: t, Report: t.Report(),
		Figures: func() []*figure.Figure { return []*figure.Figure{t.Figure()} },
	}, nil
}

// followed is a turn and what is printed around it.
type followed struct {
	*follow.Turn
	said     []string // above the lanes
	warnings []scenarios.Warning
}

// Page is the turn with what is said around it.
func (f *followed) Page() *columns.Page { return f.Turn.Page(f.said, f.warnings) }

// follow does what the flags say.
func (i *Follow) follow() (*followed, error) {
	turn, detents, start, number, turnGiven := i.turn, i.detents, i.start, i.number, i.given("turn")
	operator, err := i.loadOperator()
	if err != nil {
		return nil, err
	}
	profile := &scenarios.Profile{Name: "no profile"}
	if i.profile != "" {
		if profile, err = i.Profile(i.profile); err != nil {
			return nil, err
		}
	}
	name, err := one("task", i.tasks, "")
	if err != nil {
		return nil, err
	}
	if number >= 0 {
		if turnGiven || detents != "" || start != "" {
			return nil, errors.New("--trial: the trial says what is turned and from where; leave out --turn, --detents and --start")
		}
		if name == "" {
			return nil, errors.New("--trial: of which task? add --task")
		}
		return i.replay(profile, operator, number)
	}
	var task *scenarios.Task
	if name != "" {
		if task, err = i.Task(name); err != nil {
			return nil, err
		}
	}
	if turnGiven && detents != "" {
		return nil, errors.New("--turn and --detents are both given; one of them would do")
	}
	rigName, err := one("rig", i.rigs, "left-pulse")
	if err != nil {
		return nil, err
	}
	rig, err := i.Rig(rigName)
	if err != nil {
		return nil, err
	}
	applied, err := scenarios.Apply(profile, rig.Rig)
	if err != nil {
		return nil, err
	}
	setup := encoder.Setup{Rig: &applied, Home: profile.Home}
	first := int64(0)
	if task != nil {
		if setup.Scale = task.Scale(); len(task.Digits) > 0 {
			return nil, fmt.Errorf("--task: %s is dialed digit by digit; only --trial can follow that", task.Name)
		}
		first = setup.Scale.Count / 2
	}
	if start != "" {
		if first, err = i.startNumber(task, start); err != nil {
			return nil, err
		}
	}
	if !profile.Acceleration.Plain() {
		if setup.Gain, err = profile.Acceleration.Compile(); err != nil {
			return nil, err
		}
	}
	var ds []follow.Detent
	if detents != "" {
		ds, err = i.Detents(detents)
	} else {
		ds, err = parseTurn(turn)
	}
	if err != nil {
		return nil, err
	}
	t, err := follow.Run(setup, draw.NewTrial(i.Seed, "follow", 0), first, ds)
	if err != nil {
		return nil, err
	}
	t.Task = task
	return &followed{t, []string{fmt.Sprintf("%d detents on %s, %s", len(ds), rig.Name, profile.Name)}, scenarios.Warnings(&applied, operator)}, nil
}

// startNumber reads --start: a number of the task, or without a task a whole
// number.
func (i *Asked) startNumber(task *scenarios.Task, text string) (int64, error) {
	if task == nil {
		n, err := strconv.ParseInt(text, 10, 64)
		if err != nil || n > 1e15 || n < -1e15 {
			return 0, fmt.Errorf("--start: %q; a whole number, or --task and one of its numbers, would do", text)
		}
		return n, nil
	}
	a, err := scenarios.ParseAmount(text)
	if err != nil {
		return 0, fmt.Errorf("--start: %w", err)
	}
	n, ok := task.Index(a)
	if !ok {
		return 0, fmt.Errorf("--start: %s has no number %s; %s to %s would do", task.Name, text, task.Format(0), task.Format(task.Count()-1))
	}
	return n, nil
}

// replay does a trial again and follows what the person turned, on the knob of
// the panel that serves the task.
func (i *Asked) replay(profile *scenarios.Profile, operator *scenarios.Operator, number int) (*followed, error) {
	panel, err := i.loadPanel()
	if err != nil {
		return nil, err
	}
	seat, err := trial.SeatOrPlain(panel.Served()[0], profile, operator)
	if err != nil {
		return nil, err
	}
	t, r := follow.Trial(seat, i.Seed, number)
	if err := seat.Bench.Err(); err != nil {
		return nil, err
	}
	task := seat.Task
	said := []string{fmt.Sprintf("%s, trial %d of seed %d: %s to %s in %.2f s, %d detents in %d strokes, overshoot %d",
		task.Name, number, i.Seed, task.Format(r.Start), task.Format(r.Target), r.Seconds(), r.Account.Detents, r.Strokes, r.Overshoot)}
	if seat.Stays != nil {
		said = append(said, fmt.Sprintf("%s cannot be set on this knob, which stays plain: %v", profile.Name, seat.Stays))
	}
	return &followed{t, said, nil}, nil
}

var turnForm = regexp.MustCompile(`^\s*(-?\d{1,6})\s+in\s+(\S+)\s*$`)

// parseTurn reads "24 in 800ms".
func parseTurn(text string) ([]follow.Detent, error) {
	m := turnForm.FindStringSubmatch(text)
	if m == nil {
		return nil, fmt.Errorf("--turn: %q; '24 in 800ms' would do", text)
	}
	n, err := strconv.Atoi(m[1])
	if err != nil || n == 0 || n > 100_000 || n < -100_000 {
		return nil, fmt.Errorf("--turn: %q detents; 1 to 100000, or negative for counter-clockwise, would do", m[1])
	}
	over, err := scenarios.ParseTime(m[2])
	if err != nil {
		return nil, fmt.Errorf("--turn: %w", err)
	}
	if over < time.Duration(max(n, -n)) || over > time.Hour {
		return nil, fmt.Errorf("--turn: %s; a time above 0 and up to 1 h would do", m[2])
	}
	return follow.Even(n, over), nil
}
