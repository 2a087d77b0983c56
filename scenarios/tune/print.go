package tune

import (
	"fmt"
	"io"
	"math"
	"strings"

	"dialwright/scenarios/columns"
	"dialwright/scenarios/paired"
)

// Table writes the result for a terminal, at most 80 columns wide.
func (r *Result) Table(w io.Writer) error { return r.text(w, false) }

// Markdown writes the result for a document.
func (r *Result) Markdown(w io.Writer) error { return r.text(w, true) }

func (r *Result) text(w io.Writer, markdown bool) error {
	p := columns.New(w, markdown)
	p.Heading("What to set")
	p.Text(r.Verdict())
	p.Text("")
	for _, k := range r.Knobs {
		if err := r.knob(w, p, k, markdown); err != nil {
			return err
		}
	}
	for _, d := range r.Dead {
		p.Text("The " + d.Knob + " knob is dead: " + strings.ReplaceAll(d.Err.Error(), "\n", "; ") + ".")
		p.Text("")
	}
	if len(r.Robust) > 0 {
		p.Heading("Somewhere else: mean time of a dialing, s")
		var rows [][]string
		for _, v := range r.Robust {
			rows = append(rows, []string{v.Name, fmt.Sprintf("%.2f", v.Before.Seconds.Value), fmt.Sprintf("%.2f", v.After.Seconds.Value), signed(v.Gain.Mean, 2)})
		}
		p.Table([]string{"", "before", "after", "difference"}, rows)
		if r.OnlyHere {
			p.Text("Marked: not better in every one of these. The recommendation wins only close to this rig and these hands.")
		}
		p.Text("")
	}
	if r.Partial {
		p.Text(fmt.Sprintf("Partial: interrupted with %d of %d knobs searched; what stands here is proven.", len(r.Knobs), len(r.Study.Panel.Knobs)))
	}
	p.Text(fmt.Sprintf("%d settings tried in %d trials, seed %d; before and after are %d fresh trials a task that no search has seen. In brackets 95 %% intervals.", r.Evaluations, r.Trials, r.Study.Seed, r.Study.Trials))
	return p.Err()
}

// Verdict says the result in a few sentences.
func (r *Result) Verdict() string {
	var s string
	switch {
	case !r.Changed():
		s = fmt.Sprintf("Nothing found that beats your settings by more than %.0f %%.", 100*Worth)
	case r.Gain.Mean.High < 0:
		s = fmt.Sprintf("A dialing takes %.2f s instead of %.2f s: %.0f %% less (%.2f to %.2f s less).", r.After.Seconds.Value, r.Before.Seconds.Value,
			100*(1-r.After.Seconds.Value/r.Before.Seconds.Value), -r.Gain.Mean.High, -r.Gain.Mean.Low)
	default:
		s = fmt.Sprintf("A dialing takes %.2f s instead of %.2f s (difference %s s).", r.After.Seconds.Value, r.Before.Seconds.Value, signed(r.Gain.Mean, 2))
	}
	s += fmt.Sprintf(" Overshoot %.1f %% of dialings (before: %.1f %%), lost clicks %.1f %% (before: %.1f %%).", 100*r.After.Overshoot, 100*r.Before.Overshoot, 100*r.After.Lost, 100*r.Before.Lost)
	caps := fmt.Sprintf("at most %.3g %% overshoot and %.3g %% lost clicks", 100*r.Study.MaxOvershoot, 100*r.Study.MaxLost)
	if !r.Meets {
		s += " No candidate was found within the caps (" + caps + "); this is the nearest that could be proven."
	} else if !r.NowMeets {
		s += " Your settings are not within the caps (" + caps + "); these are."
	}
	if r.Gain.Mean.Low > 0 {
		s += " They are slower: that is what the caps cost. Keep yours where time matters more, or allow more with --max-overshoot or --max-lost."
	}
	return s
}

func (r *Result) knob(w io.Writer, p *columns.Printer, k *KnobResult, markdown bool) error {
	p.Heading(fmt.Sprintf("The %s knob (%s)", k.Knob.Name, k.Knob.Inner.Name))
	if !k.Changed {
		p.Text("Stays as it is.")
	}
	for i, use := range k.Before {
		if i > 0 && same(k.Chosen[0], k.Chosen[i]) {
			continue
		}
		if k.Changed {
			which := "Set: "
			if i > 0 || len(k.Before) > 1 && !k.OneProfile() {
				which = "For " + use.Use.Task.Name + " set: "
			}
			p.Text(which + k.Chosen[i].About())
		}
	}
	var rows [][]string
	for i, b := range k.Before {
		a := k.After[i]
		rows = append(rows, row(b.Use.Task.Name+" before", b))
		if k.Changed {
			rows = append(rows, row(b.Use.Task.Name+" after", a))
		}
	}
	p.Table([]string{"", "time to target, s", "mean, s", "overshoot, %", "lost, %"}, rows)
	if len(k.Changes) > 0 {
		p.Text("Changed one at a time, the most useful first, s per dialing:")
		for _, c := range k.Changes {
			p.Item(fmt.Sprintf("%s: %s, overshoot %.0f %%, lost %.0f %%", c.What, signed(c.Gain.Mean, 2), 100*c.Overshoot, 100*c.Lost))
		}
	}
	if len(k.Unimportant) > 0 {
		p.Text("Left alone because it does not matter: " + strings.Join(k.Unimportant, ", ") + ".")
	}
	if len(k.Sensitivity) > 0 {
		p.Text("Around the choice, s per dialing against it:")
		for _, n := range k.Sensitivity {
			p.Item(fmt.Sprintf("%s %s: %s, overshoot %.0f %%, lost %.0f %%", n.Key, n.Value, signed(n.Gain.Mean, 2), 100*n.Overshoot, 100*n.Lost))
		}
	}
	if len(k.Front) > 1 && !markdown {
		p.Text("Mean time (across, s) against overshoot (up, %); nothing tried is better in both; N is now, C the choice:")
		if p.Err() == nil {
			if _, err := io.WriteString(w, k.Plot()); err != nil {
				return err
			}
		}
	}
	p.Text("")
	return nil
}

// OneProfile says whether all tasks of the knob have the same profile.
func (k *KnobResult) OneProfile() bool {
	for _, p := range k.Chosen {
		if !same(p, k.Chosen[0]) {
			return false
		}
	}
	return true
}

func row(name string, t *TaskSample) []string {
	q := paired.QuantileInterval(t.Seconds, 0.5)
	mean := paired.MeanInterval(paired.Capped(t.Seconds, t.Limit))
	n := 0
	for _, o := range t.Overshot {
		if o {
			n++
		}
	}
	share := paired.ShareInterval(n, len(t.Overshot))
	lost := "–"
	if t.Detents > 0 {
		lost = fmt.Sprintf("%.0f", 100*float64(t.Lost)/float64(t.Detents))
	}
	return []string{name, fmt.Sprintf("%s (%s–%s)", beyond(q.Value), beyond(q.Low), beyond(q.High)), fmt.Sprintf("%.2f", mean.Value),
		fmt.Sprintf("%.0f (%.0f–%.0f)", 100*share.Value, 100*share.Low, 100*share.High), lost}
}

func beyond(x float64) string {
	if math.IsInf(x, 1) {
		return "> limit"
	}
	return fmt.Sprintf("%.1f", x)
}

func signed(e paired.Estimate, decimals int) string {
	if e.Value == 0 && e.Low == 0 && e.High == 0 {
		return "0"
	}
	return fmt.Sprintf("%+.*f (%+.*f to %+.*f)", decimals, e.Value, decimals, e.Low, decimals, e.High)
}

// Plot draws the front as text: mean time to the right, overshoot upwards.
func (k *KnobResult) Plot() string {
	const width, height = 56, 8
	now, chosen := k.Before.Score(), k.After.Score()
	left, right, top := now.Seconds.Value, now.Seconds.Value, now.Overshoot
	for _, f := range append([]Finalist{{Score: chosen}}, k.Front...) {
		left, right, top = math.Min(left, f.Seconds.Value), math.Max(right, f.Seconds.Value), math.Max(top, f.Overshoot)
	}
	if right == left {
		right++
	}
	if top == 0 {
		top = 0.01
	}
	var field [height + 1][width + 1]byte
	for y := range field {
		for x := range field[y] {
			field[y][x] = ' '
		}
	}
	put := func(s Score, c byte) {
		x := int(math.Round(width * (s.Seconds.Value - left) / (right - left)))
		y := height - int(math.Round(height*s.Overshoot/top))
		field[y][x] = c
	}
	for _, f := range k.Front {
		put(f.Score, 'o')
	}
	put(now, 'N')
	put(chosen, 'C')
	var b strings.Builder
	for y := range field {
		axis := "      "
		if y == 0 || y == height {
			axis = fmt.Sprintf("%5.0f ", 100*top*float64(height-y)/height)
		}
		b.WriteString(strings.TrimRight("  "+axis+"|"+string(field[y][:]), " ") + "\n")
	}
	b.WriteString("        +" + strings.Repeat("-", width+1) + "\n")
	l, r := fmt.Sprintf("%.1f", left), fmt.Sprintf("%.1f", right)
	b.WriteString("         " + l + strings.Repeat(" ", max(1, width+1-len(l)-len(r))) + r + "\n")
	return b.String()
}
