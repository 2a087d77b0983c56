package tune

import (
	"cmp"
	"fmt"
	"slices"

	"dialwright/accel"
	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/sample"
)

// Left is a setting in use, or the acceleration, on new hardware: whether it still holds.
type Left struct {
	Knob, What string
	InUse, To  string           // To is "" where it is not to be redone
	ForCaps    bool             // left as it is, a task would be farther beyond a cap
	Unused     bool             // the new hardware does not use it
	Costs      *sample.Interval // if left as it is, all else as chosen, s per dialing; nil: it cannot be left, or is not to be redone
}

// Redo says whether the setting is to be set anew: what leaving it costs is proved, or a
// cap or the others need it.
func (l *Left) Redo() bool { return l.To != "" && (l.Costs == nil || l.Costs.Low > 0 || l.ForCaps) }

// left is what there is of the settings in use on new hardware: first what to redo, what
// costs most first, then what holds, then what is no longer used.
func (r *Result) left() (list []Left) {
	for _, k := range r.Knobs {
		if k.Front == nil { // of the first combination
			continue
		}
		rig := &k.Knob.Inner.Rig
		used := scenarios.Keys(rig)
		if with, err := scenarios.Apply(k.Chosen[0], *rig); err == nil {
			used = scenarios.Keys(&with)
		}
		var said []string
		for _, c := range k.Changes {
			x := Left{Knob: k.Knob.Name, What: c.Setting.Key, To: c.Setting.Value, ForCaps: c.ForCaps}
			if c.Setting.Key == "" {
				x.What, x.InUse, x.To = acceleration, curveOf(k.Now), curveOf(k.Chosen)
			} else {
				x.InUse = value(k.Now[0], rig, c.Setting.Key)
			}
			if !c.Needed {
				costs := sample.IntervalOf(c.Left.Mean)
				x.Costs = &costs
			}
			list, said = append(list, x), append(said, x.What)
		}
		for i := range k.Before {
			was := r.Study.Profile.On(k.Knob.Name, k.Before[i].Use.Task.Name)
			for _, set := range was.Settings {
				if !slices.Contains(said, set.Key) {
					list, said = append(list, Left{Knob: k.Knob.Name, What: set.Key, InUse: set.Value, Unused: !slices.Contains(used, set.Key)}), append(said, set.Key)
				}
			}
			if !plain(was) && !slices.Contains(said, acceleration) {
				list, said = append(list, Left{Knob: k.Knob.Name, What: acceleration, InUse: curveOf(k.Now), Unused: plain(k.Now[i])}), append(said, acceleration)
			}
		}
	}
	place := func(l Left) float64 {
		switch {
		case l.Redo() && l.Costs != nil && l.Costs.Value > 0:
			return -l.Costs.Value
		case l.Redo():
			return 0
		case l.Unused:
			return 2
		}
		return 1
	}
	slices.SortStableFunc(list, func(a, b Left) int { return cmp.Compare(place(a), place(b)) })
	return list
}

// acceleration is what the acceleration as a whole is called.
const acceleration = "acceleration"

// curveOf says which curve the tasks of a knob have, and where.
func curveOf(tasks []*scenarios.Profile) string {
	var list []string
	for _, p := range tasks {
		s := "none"
		if !plain(p) {
			s = fmt.Sprintf("%s, %s", accel.KindOf(p.Acceleration.Curve).Word, p.Home)
		}
		if !slices.Contains(list, s) {
			list = append(list, s)
		}
	}
	if len(list) > 1 {
		return "by task"
	}
	return list[0]
}

// pageOld says what of the settings in use still holds on new hardware.
func (r *Result) pageOld(p *columns.Page) {
	if r.Was == nil {
		return
	}
	p.Text("")
	p.Text(fmt.Sprintf("With the settings in use a dialing took %.2f s on the hardware before and takes %.2f s on this.", r.Was.Seconds.Value, r.Before.Seconds.Value))
	var rows [][]string
	redo, capped := 0, false
	for _, l := range r.left() {
		costs, do := "–", "holds"
		if l.Costs != nil {
			costs = sample.Plus(l.Costs.Value, 2)
		}
		switch {
		case l.Unused:
			do = "no longer used"
		case l.Redo():
			redo++
			if do = fmt.Sprintf("%d. %s", redo, l.To); l.ForCaps {
				do += "*"
				capped = true
			}
		}
		rows = append(rows, []string{l.Knob, l.What, l.InUse, do, costs})
	}
	if rows == nil {
		return
	}
	p.Table([]string{"knob", "set", "in use", "redo, in this order", "costs if left, s"}, rows)
	if capped {
		p.Text("* Left as it is, more dialings overshoot or more clicks are lost, beyond a cap.")
	}
}

// LeftReport is a setting in use on new hardware.
type LeftReport struct {
	Knob    string           `json:"knob"`
	What    string           `json:"what"` // a key, or acceleration
	InUse   string           `json:"in_use"`
	Redo    *string          `json:"redo"`     // what to set it to; null: it holds, or is not used
	ForCaps bool             `json:"for_caps"` // left, a task would be farther beyond a cap
	Unused  bool             `json:"no_longer_used"`
	Costs   *sample.Interval `json:"left_costs_s"` // null: it cannot be left, or is not to be redone
}

// leftReport is the same for JSON, in the order in which to redo it.
func (r *Result) leftReport() (list []LeftReport) {
	if r.Was == nil {
		return nil
	}
	list = []LeftReport{}
	for _, l := range r.left() {
		x := LeftReport{l.Knob, l.What, l.InUse, nil, l.ForCaps, l.Unused, l.Costs}
		if l.Redo() {
			x.Redo = &l.To
		}
		list = append(list, x)
	}
	return list
}
