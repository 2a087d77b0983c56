package evidence

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/hand"
	"dialwright/scenarios/trial"
	"dialwright/testdata/golden"
)

// The page about the operator works through a trial of this task, rig and seed.
const (
	workedTask = "heading"
	workedRig  = "left-pulse"
	workedSeed = 1
)

// tells says whether a trial is worth telling: a few strokes with a regrip, past
// the target and back, not the long way nor over north, and soon over.
func tells(r *trial.Result) bool {
	way := max(r.Target-r.Start, r.Start-r.Target)
	return !r.Timeout && r.Overshot() && r.Strokes >= 4 && r.Strokes <= 7 && r.Regrips >= 1 && way >= 30 && way <= 120 && r.Confirmed < 9e9
}

// looked are the rules and the bands that were chosen while looking at rows other
// than those that the people were set on, and the rows.
var looked = []struct{ rule, rows string }{
	{"slow pace, finger noise, reluctance to run past the target", "A4, the saving without clutch time (A1), the laws (A16, A17)"},
	{"reluctance 1.3 s instead of 1.5 s; familiarity 0.40, at the upper end of what A2's ratios leave open; the start of the fit for the regrip at MTM-1's time", "A19, C10, the saving without clutch time (A1)"},
	{"memories are blurred by the gain error, some strokes of the experience follow another one, few boxes", "A17 with acceleration, the calibration law of package hand"},
	{"who has much under way waits earlier, by the stroke noise of it", "overshoot at lags above 1.5 s"},
	{"a slow steady stroke is watched and broken off; a stroke ends where the arm does; no pace is further off than two standard deviations", "A8, A17, B16"},
	{"grid of whole gains (in finer ones the share of overshoots crosses 10 % between gains of 8 and 9, 2 kHz a turn); taken is the quickest whose interval ends below the cap", "C10"},
	{"distances with acceleration are compared pooled over the built-in curves, not curve by curve", "A17"},
	{"the lag study's time runs from the first movement to a click one act after the number was seen inside", "A19"},
}

// shown is a number on the screen from a time on.
type shown struct{ at, value int64 }

// worked writes a page that explains the simulated person by one trial of the
// demo, act by act, in Markdown. Every figure in it comes from the trial itself.
func worked(w io.Writer) error {
	task, rig := demo.Task(workedTask), demo.Rig(workedRig)
	var profile scenarios.Profile
	for _, p := range accelerated() {
		if p.Name == "power" {
			profile = p
		}
	}
	o := scenarios.Practised()
	b, err := trial.NewBench(trial.Cell{Task: task, Rings: 1, Inner: &rig.Rig, Profile: &profile, Operator: &o})
	if err != nil {
		return err
	}
	number := 0
	r := b.Run(workedSeed, number)
	for ; !tells(&r); r = b.Run(workedSeed, number) {
		if number++; number == 10_000 {
			return errors.New("no trial shows what the page is about")
		}
	}
	var log trial.Log
	b.Record(&log, workedSeed, number)
	run := &log.Runs[0] // of the only dial
	var values []shown
	for _, e := range run.Events {
		if e.Kind == encoder.Stepped {
			values = append(values, shown{e.At + run.Latency, e.Value})
		}
	}

	var page strings.Builder
	say := func(format string, a ...any) { fmt.Fprintf(&page, format+"\n", a...) }
	say("# The person at the knob, one trial at a time")
	say("")
	say("This page is written by the tool (`go test ./scenarios/evidence -run Worked -update`);")
	say("it is trial %d of seed %d, rig %s, profile %s; `dialwright follow` shows a trial click by", number, workedSeed, workedRig, profile.Name)
	say("click. The rules are in `go doc ./scenarios/hand`, the numbers behind them in")
	say("`dialwright evidence`.")
	say("")
	say("A practised person sets the %s knob from %s to %s. The knob has %d", workedTask, task.Format(r.Start), task.Format(r.Target), rig.Knob.Detents)
	say("clicks a turn and sends button pulses; the program looks %g times a second and makes", float64(rig.Program.Frames))
	say("bigger steps when the knob turns fast (profile %s).", profile.Name)
	say("")
	say("## What happens")
	say("")
	say("| s | act | what the person sees, thinks and does |")
	say("|---|---|---|")
	for _, a := range run.Acts {
		say("| %.2f | %s | %s |", float64(a.At)/1e9, a.Kind, story(a, task, r.Target))
	}
	say("")
	say("The number last came to %s at %.2f s: that is the time to target. It went %s past it,", task.Format(r.Target), r.Seconds(), plural(r.Overshoot, "step"))
	say("in %d strokes with %d clicks, %d of which never became a step of their own.", r.Strokes, r.Account.Detents, r.Account.Lost())
	say("")
	say("## The number on the screen")
	say("")
	say("```")
	page.WriteString(graph(values, run.Turned, r, run.Acts))
	say("```")
	say("")
	say("`#` is the number, the dashed line the target, `|` below are the clicks, `o` the looks.")
	say("Far from the target the strokes follow each other as fast as the fingers can go back;")
	say("near it the person waits for the number to stand, which costs the time between the last")
	say("clicks.")
	say("")
	say("## Which rules were chosen while looking at which rows")
	say("")
	say("A row that somebody looked at while choosing a rule is no blind check of that rule.")
	say("Numbers that were set, and on which rows, are in `go doc ./scenarios/hand`.")
	say("")
	say("| rule | rows looked at |")
	say("|---|---|")
	for _, r := range looked {
		say("| %s | %s |", r.rule, r.rows)
	}
	_, err = io.WriteString(w, page.String())
	return err
}

func plural(n int64, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}

// story tells an act.
func story(a hand.Act, task *scenarios.Task, target int64) string {
	steps := func(fine int64) string { return fmt.Sprintf("%.0f", float64(max(fine, -fine))/256) }
	way := "up"
	if a.Missing < 0 {
		way = "down"
	}
	switch a.Kind {
	case hand.Look:
		state := "moves"
		if a.Standing {
			state = "stands"
		}
		if a.Missing == 0 {
			return fmt.Sprintf("the number %s at %s, as it was at this instant: it is right", state, task.Format(a.Seen))
		}
		s := fmt.Sprintf("the number %s and reads %s", state, task.Format(a.Seen))
		if task.Scale().Distance(a.Seen, target)*256 != a.Missing {
			s += "; own clicks still on their way counted in"
		}
		return s + fmt.Sprintf(": %s %s to go", plural((max(a.Missing, -a.Missing)+128)/256, "step"), way)
	case hand.Stroke:
		turned := max(a.Turned, -a.Turned)
		s := fmt.Sprintf("plans %s, which should bring %s; turns %s until %.2f s, %.0f a second", plural(a.Planned, "click"), steps(a.Travel), plural(turned, "click"), float64(a.Until)/1e9, float64(turned)*1e9/float64(max(1, a.Until-a.At)))
		if turned != a.Planned {
			s += " (a stroke is never quite as planned)"
		}
		return s
	case hand.Regrip:
		return fmt.Sprintf("the arm is at its end: takes the fingers back until %.2f s", float64(a.Until)/1e9)
	case hand.Push:
		return fmt.Sprintf("pushes the knob until %.2f s", float64(a.Until)/1e9)
	case hand.Confirm:
		return fmt.Sprintf("makes sure until %.2f s that it stays so", float64(a.Until)/1e9)
	}
	return fmt.Sprintf("moves the hand until %.2f s", float64(a.Until)/1e9)
}

// graph draws the number over the time, 72 columns wide.
func graph(values []shown, clicks []int64, r trial.Result, acts []hand.Act) string {
	const columns, rows = 72, 16
	end := r.Confirmed
	low, high := min(r.Start, r.Target), max(r.Start, r.Target)
	for _, v := range values {
		low, high = min(low, v.value), max(high, v.value)
	}
	row := func(v int64) int { return int((high - v) * (rows - 1) / max(1, high-low)) }
	column := func(t int64) int { return int(min(t*columns/end, columns-1)) }
	var field [rows][columns]byte
	for i := range field {
		for k := range field[i] {
			field[i][k] = ' '
			if i == row(r.Target) && k%2 == 0 {
				field[i][k] = '-'
			}
		}
	}
	now, next := r.Start, 0
	for k := range columns {
		for next < len(values) && column(values[next].at) <= k {
			now = values[next].value
			next++
		}
		field[row(now)][k] = '#'
	}
	lane := func(at []int64, mark byte) string {
		line := []byte(strings.Repeat(" ", columns))
		for _, t := range at {
			if t < end {
				line[column(t)] = mark
			}
		}
		return strings.TrimRight(string(line), " ")
	}
	var looks []int64
	for _, a := range acts {
		if a.Kind == hand.Look {
			looks = append(looks, a.At)
		}
	}
	var out strings.Builder
	for i := range field {
		label := "      "
		if i == 0 || i == rows-1 || i == row(r.Target) {
			label = fmt.Sprintf("%5d ", high-int64(i)*(high-low)/(rows-1)+1)
			if i == row(r.Target) {
				label = fmt.Sprintf("%5d ", r.Target+1)
			}
		}
		out.WriteString(strings.TrimRight(label+string(field[i][:]), " ") + "\n")
	}
	out.WriteString("clicks" + lane(clicks, '|') + "\n")
	out.WriteString("looks " + lane(looks, 'o') + "\n")
	scale := []byte(strings.Repeat(" ", columns+4))
	for s := int64(0); s*1e9 < end; s++ {
		copy(scale[column(s*1e9):], fmt.Sprintf("%ds", s))
	}
	out.WriteString("      " + strings.TrimRight(string(scale), " ") + "\n")
	return out.String()
}

func TestTheWorkedTrialIsWhatThisBuildDoes(t *testing.T) {
	var want strings.Builder
	if err := worked(&want); err != nil {
		t.Fatal(err)
	}
	golden.Check(t, "OPERATOR.md", want.String())
}
