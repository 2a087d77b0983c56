package follow_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/follow"
	"dialwright/scenarios/trial"

	"pgregory.net/rapid"
)

func Example() {
	rig := encoder.Default()
	rig.Firmware.Output = encoder.Relative
	turn, err := follow.Run(encoder.Setup{Rig: &rig}, draw.NewTrial(1, "example", 0), 100, follow.Even(-3, 600*time.Millisecond))
	if err != nil {
		fmt.Println(err)
		return
	}
	last := turn.Steps[len(turn.Steps)-1]
	fmt.Println(turn.Account.Delivered, "delivered, the number is", last.Value)
	// Output: 3 delivered, the number is 97
}

func TestDetentsMustRise(t *testing.T) {
	rig := encoder.Default()
	_, err := follow.Run(encoder.Setup{Rig: &rig}, draw.NewTrial(1, "", 0), 0, []follow.Detent{{At: 5, Dir: 1}, {At: 5, Dir: 1}})
	if err == nil || !strings.Contains(err.Error(), "detent 2") {
		t.Errorf("%v", err)
	}
}

// A first detent that comes before the knob can have travelled to it begins at its
// first edge; what happens on the way does not come before 0.
func TestNothingHappensBeforeZero(t *testing.T) {
	rig := encoder.Default()
	rig.Knob.Bounce, rig.Firmware.Scan, rig.Firmware.Debounce = 0, 100*time.Microsecond, 1
	rig.Firmware.Decoder, rig.Firmware.Output = encoder.Edge, encoder.Relative
	rig.USB.Poll, rig.Program.Sampling = 125*time.Microsecond, encoder.Immediate
	for _, first := range []time.Duration{0, time.Millisecond, 39 * time.Millisecond, 40 * time.Millisecond, time.Second} {
		detents := []follow.Detent{{At: first, Dir: 1}, {At: first + 50*time.Millisecond, Dir: -1}}
		turn, err := follow.Run(encoder.Setup{Rig: &rig}, draw.NewTrial(1, "zero", 0), 0, detents)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range turn.Events {
			if e.At < 0 {
				t.Errorf("first detent at %v: %v at %v", first, e.Kind, time.Duration(e.At))
			}
		}
		if gap := turn.Detents[1].At - turn.Detents[0].At; gap != 50*time.Millisecond || len(turn.Steps) == 0 || detents[0].At != first {
			t.Errorf("first detent at %v: %v, %v", first, turn.Detents, turn.Steps)
		}
	}
}

// The chart is never wider than a terminal and names every click's end once.
func TestChartNamesEveryClick(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rig := encoder.Default()
		rig.Firmware.Queue = rapid.IntRange(0, 20).Draw(t, "queue")
		n := rapid.IntRange(1, 52).Draw(t, "detents")
		over := time.Duration(rapid.IntRange(n*10, 20_000).Draw(t, "ms")) * time.Millisecond
		turn, err := follow.Run(encoder.Setup{Rig: &rig}, draw.NewTrial(1, "chart", 0), 0, follow.Even(n, over))
		if err != nil {
			t.Fatal(err)
		}
		var out strings.Builder
		if err := turn.Page(nil, nil).Print(&out, columns.Width); err != nil {
			t.Fatal(err)
		}
		letters := 0
		for line := range strings.Lines(out.String()) {
			if w := len([]rune(strings.TrimRight(line, "\n"))); w > 80 {
				t.Errorf("%d columns: %s", w, line)
			}
		}
		for _, name := range []string{"delivered", "merged", "queue-dropped", "frame-missed", "poll-missed", "illegal"} {
			for line := range strings.Lines(out.String()) {
				if f := strings.Fields(line); len(f) == 3 && f[0] == name {
					letters += len(f[2])
				}
			}
		}
		if letters != n {
			t.Errorf("%d clicks have an end, %d were turned:\n%s", letters, n, out.String())
		}
	})
}

// A replayed trial is the trial: the same result, and fates that add up to its
// account.
func TestReplayIsTheTrial(t *testing.T) {
	rig, operator := &scenarios.Rig{Rig: encoder.Default()}, scenarios.Practised()
	knob := &scenarios.Knob{Name: "knob", Rings: 1, Inner: rig}
	b, err := new(trial.Grips).Seat(scenarios.Served{Task: scenarios.Heading(), Knob: knob}, &scenarios.Profiles()[3], &operator)
	if err != nil {
		t.Fatal(err)
	}
	for n := range 30 {
		want := b.Run(1, n)
		turn, got := follow.Trial(b, 1, n)
		if got != want {
			t.Fatalf("trial %d: %+v, replayed %+v", n, want, got)
		}
		delivered := 0
		for _, f := range turn.Fates {
			if f == encoder.Delivered {
				delivered++
			}
		}
		if len(turn.Detents) != want.Account.Detents || delivered != want.Account.Delivered || len(turn.Steps) != want.Account.Steps {
			t.Errorf("trial %d: %d detents, %d delivered, %d steps; the account says %+v", n, len(turn.Detents), delivered, len(turn.Steps), want.Account)
		}
	}
}

// A button that stays down is repeated by the program, a key by the system: every
// step of theirs has its own sign, and no click's letter.
func TestRepeatsHaveSignsOfTheirOwn(t *testing.T) {
	for _, x := range []struct {
		sign  string
		spoil func(*encoder.Rig)
		extra func(encoder.Account) int
	}{
		{"#", func(r *encoder.Rig) {
			r.Program.Hold = encoder.Hold{Delay: 100 * time.Millisecond, Period: 100 * time.Millisecond}
		}, func(a encoder.Account) int { return a.Extra.Hold }},
		{"*", func(r *encoder.Rig) {
			r.Firmware.Output, r.Program.Sampling = encoder.Keys, encoder.Events
			r.System.Repeat = encoder.Repeat{Delay: 100 * time.Millisecond, Rate: 10}
		}, func(a encoder.Account) int { return a.Extra.Repeat }},
	} {
		rig := encoder.Default()
		rig.Firmware.Pulse = 500 * time.Millisecond
		x.spoil(&rig)
		turn, err := follow.Run(encoder.Setup{Rig: &rig}, draw.NewTrial(1, "hold", 0), 0, follow.Even(1, 20*time.Millisecond))
		if err != nil {
			t.Fatal(err)
		}
		var out strings.Builder
		if err := turn.Page(nil, nil).Print(&out, columns.Width); err != nil {
			t.Fatal(err)
		}
		want, got, letters := x.extra(turn.Account), 0, 0
		for line := range strings.Lines(out.String()) {
			if strings.HasPrefix(line, "value |") {
				got += strings.Count(line, x.sign)
				letters += strings.Count(line[7:], "a")
			}
		}
		if want < 3 || got != want || letters != 1 {
			t.Errorf("%d steps by %s, %d shown beside %d of the click's own:\n%s", want, x.sign, got, letters, out.String())
		}
	}
}

// No line is wider than the terminal, and a turn of two seconds fits three rows.
func TestTheChartFitsItsTerminal(t *testing.T) {
	rig := encoder.Default()
	turn, err := follow.Run(encoder.Setup{Rig: &rig}, draw.NewTrial(1, "chart", 0), 0, follow.Even(30, 2*time.Second))
	if err != nil {
		t.Fatal(err)
	}
	for _, width := range []int{60, 80, 140} {
		var out strings.Builder
		if err := turn.Page([]string{"a turn"}, nil).Print(&out, width); err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(out.String()) {
			if n := len([]rune(strings.TrimRight(line, "\n"))); n > width {
				t.Errorf("%d columns of %d: %s", n, width, line)
			}
		}
		if n := strings.Count(out.String(), " knob |"); n < 1 || n > 3 {
			t.Errorf("%d rows at %d columns", n, width)
		}
	}
}
