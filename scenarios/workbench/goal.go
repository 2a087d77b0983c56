package workbench

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"dialwright/scenarios"
	"dialwright/scenarios/tune"
)

// leastTrials is how many trials a proof needs.
const leastTrials = 20

// enough holds that there are trials enough for a proof.
func (i *Asked) enough() error {
	if i.Trials > 0 && i.Trials < leastTrials { // with none at all there is another fault
		return fmt.Errorf("--trials: %d; %d or more would do: fewer prove nothing", i.Trials, leastTrials)
	}
	return nil
}

// goal is what a search is for, as the flags say it.
type goal struct{ aim, overshoot, lost string }

// newGoal returns the goal that is meant where no flag is given.
func newGoal() goal { return goal{string(tune.Speed), "10%", "5%"} }

func (g *goal) flags(usage string, more ...tune.Aim) []Flag {
	return []Flag{
		{Name: "max-overshoot", Usage: "cap for what is recommended: share of dialings that overshoot", Value: &g.overshoot},
		{Name: "max-lost", Usage: "cap for what is recommended: share of clicks that are lost", Value: &g.lost},
		{Name: "for", Usage: usage, Value: &g.aim, Words: aims(more...)},
	}
}

// aims are the words for what counts, with some that not every command takes.
func aims(more ...tune.Aim) (list []string) {
	for _, a := range append([]tune.Aim{tune.Speed, tune.Balance, tune.Calm}, more...) {
		list = append(list, string(a))
	}
	return list
}

func (g *goal) read(more ...tune.Aim) (aim tune.Aim, overshoot, lost float64, err error) {
	aim = tune.Aim(g.aim)
	var faults [3]error
	if known := aims(more...); !slices.Contains(known, g.aim) {
		last := len(known) - 1
		faults[0] = fmt.Errorf("--for: %q; %s or %s would do", g.aim, strings.Join(known[:last], ", "), known[last])
	}
	overshoot, faults[1] = Capped("max-overshoot", g.overshoot)
	lost, faults[2] = Capped("max-lost", g.lost)
	return aim, overshoot, lost, errors.Join(faults[:]...)
}

// Capped reads a share that caps something.
func Capped(flag, text string) (float64, error) {
	v, err := scenarios.Share.Parse(text)
	if err != nil || v < 0 || v > 1 {
		would := "a share from 0% to 100%"
		if v, err := scenarios.Share.Parse(text + "%"); err == nil && v >= 0 && v <= 1 {
			would = text + "%"
		}
		return 0, fmt.Errorf("--%s: %s; %s would do", flag, scenarios.Shown(text), would)
	}
	return v, nil
}
