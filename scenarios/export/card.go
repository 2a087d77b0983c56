package export

import (
	"cmp"
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/compare"
	"dialwright/scenarios/file"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
)

// Card is what is kept beside the panel: for each knob what to set where, and what
// to expect.
type Card struct {
	Panel, Profile, Before, Operator string

	Knobs    []KnobCard
	Expect   []string // a sentence for each task
	Seed     uint64
	Trials   int  // a task
	Partial  bool // fewer trials than asked for
	Digest   string
	Inputs   []string // further lines on what it rests on; the caller's
	Cautions []string
}

// KnobCard is one knob of a card.
type KnobCard struct {
	Name  string
	Rigs  string   // the rig, or those of both rings
	Set   []string // what to set where
	Brief []string // the same in a few words
	Stays []string // what stays plain, and why
	Tasks []TaskCard
}

// TaskCard is one task of a knob: what a detent does and what to expect.
type TaskCard struct {
	Name       string
	Clicks     []string // by dial: what a slow and a quick detent do
	Dials      []DialCard
	Takes      string  // mean time to target
	Time, Past Change  // before and after
	Overshoot  float64 // share of dialings
	Lost       float64 // share of detents
}

// DialCard is what a slow and a quick detent bring on one dial.
type DialCard struct {
	Ring        string // outer, inner or ""
	Slow, Quick string
	Rate        int     // of the quick one, detents a second
	Times       float64 // how many times as much the quick one is
}

// Change is a measure before and after, with its interval: median time to target,
// or share of dialings that overshoot.
type Change struct{ Before, After string }

// NewCard makes the card of a comparison's candidate with a profile. Before is the
// comparison's first candidate.
func NewCard(r *compare.Result, candidate int) (*Card, error) {
	s := r.Study
	is, was := s.Candidates[candidate], s.Candidates[0]
	c := &Card{
		Panel: s.Panel.Name, Profile: is.Name, Before: was.Name, Operator: is.Operator.Name,
		Seed: s.Seed, Trials: s.Trials, Partial: r.Partial, Cautions: scenarios.Cautions,
	}
	things := []any{s.Panel, is.Profile, was.Profile, is.Operator}
	for j, u := range r.Uses {
		before, after := r.Trials[0][j], r.Trials[candidate][j]
		c.Trials = min(c.Trials, after.Len())
		inner, outer := u.Knob.Inner, cmp.Or(u.Knob.Outer, u.Knob.Inner)
		if is.Rig != nil {
			inner, outer = is.Rig, is.Rig
		}
		things = append(things, inner, outer, u.Task)
		if len(c.Knobs) == 0 || c.Knobs[len(c.Knobs)-1].Name != u.Knob.Name {
			k := KnobCard{Name: u.Knob.Name, Rigs: inner.Name}
			if u.Knob.Rings == 2 && outer != inner {
				k.Rigs = "outer ring " + outer.Name + ", inner ring " + inner.Name
			}
			c.Knobs = append(c.Knobs, k)
		}
		k := &c.Knobs[len(c.Knobs)-1]
		set := is.Profile.On(u.Knob.Name, u.Task.Name)
		if after.Stays != nil {
			set = scenarios.Plain()
			k.stays(u, after.Stays)
		} else {
			items, err := settings(set, &inner.Rig)
			if err != nil {
				return nil, err
			}
			first := k.Set == nil
			for _, item := range items {
				switch {
				case first:
					k.Set = append(k.Set, item)
				case !slices.Contains(k.Set, item):
					k.Set = append(k.Set, "for "+u.Task.Name+" instead, "+item)
				}
			}
			if first {
				k.Brief = brief(set)
			}
		}
		sum := after.Summary()
		t := TaskCard{Name: u.Name(), Takes: fmt.Sprintf("%.1f s", math.Round(sum.Mean*10)/10), Overshoot: sum.Overshoot.Value, Lost: sum.Lost.Value, Time: Change{seconds(before), seconds(after)}, Past: Change{percent(before.Summary().Overshoot), percent(after.Summary().Overshoot)}}
		for _, d := range u.Task.Dials(u.Knob.Rings) {
			rig := inner.Rig
			if d.Ring == scenarios.Outer {
				rig = outer.Rig
			}
			x, text, err := clicks(set, rig, u.Task, d)
			if err != nil {
				return nil, err
			}
			if text != "" && !slices.Contains(t.Clicks, text) {
				t.Clicks, t.Dials = append(t.Clicks, text), append(t.Dials, x)
			}
		}
		k.Tasks = append(k.Tasks, t)
		if v := r.Against[candidate][j]; v != nil && after.Stays == nil {
			c.Expect = append(c.Expect, v.Sentence())
		}
	}
	var err error
	c.Digest, err = digest(things)
	return c, err
}

// digest is the SHA-256 of all inputs as files, one after the other, each written
// once.
func digest(things []any) (string, error) {
	sum := sha256.New()
	for i, x := range things {
		if slices.Contains(things[:i], x) {
			continue
		}
		text, err := file.Write(x)
		if err != nil {
			return "", err
		}
		sum.Write(text)
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

// stays says that a task cannot have the profile.
func (k *KnobCard) stays(u scenarios.Served, why error) {
	reason := strings.ReplaceAll(why.Error(), "\n", "; ")
	if len(u.Knob.Tasks) > 1 {
		reason = u.Task.Name + ": " + reason
	}
	k.Stays = append(k.Stays, reason)
}

// settings says what to set where, as in the profile's file, and what that does on a rig.
func settings(p *scenarios.Profile, on *encoder.Rig) ([]string, error) {
	var list []string
	for _, s := range p.Settings {
		group, _, _ := strings.Cut(s.Key, ".")
		where := map[string]string{
			"knob": "choose the part", "usb": "in the USB descriptor", "system": "in the operating system", "program": "in the program", "display": "at the display",
		}[group]
		list = append(list, fmt.Sprintf("%s: %s %s", cmp.Or(where, "in the firmware"), s.Key, s.Value))
	}
	where := "in the " + p.Home.String() + ": "
	document, err := file.Tree(p)
	if err != nil {
		return nil, err
	}
	if a := under(document, "acceleration"); a != nil {
		for i := 0; i+1 < len(a.Content); i += 2 {
			key := a.Content[i].Value
			if key == "home" {
				continue
			}
			item := where + "acceleration." + key + " " + flow(a.Content[i+1])
			if key == "curve" {
				item += ", which is " + acceleration(p, on)
			}
			list = append(list, item)
		}
	}
	if p.PressCoarse > 0 {
		list = append(list, fmt.Sprintf("in the program: a push of the knob makes a step count %d, another push 1 again", p.PressCoarse))
	}
	if list == nil {
		list = []string{"nothing: one step a detent, at any speed"}
	}
	return list, nil
}

// acceleration says what a profile's acceleration does on a rig with its settings; nil is
// any.
func acceleration(p *scenarios.Profile, on *encoder.Rig) string {
	if on != nil {
		if with, err := scenarios.Apply(p, *on); err == nil {
			on = &with
		}
	}
	bare := scenarios.Profile{Home: p.Home, Acceleration: p.Acceleration}
	return bare.About(on)
}

// clicks says what a slow and a quick detent do on one dial, or nothing for an
// axis, whose detents move a position.
func clicks(p *scenarios.Profile, rig encoder.Rig, t *scenarios.Task, d scenarios.Dial) (x DialCard, text string, err error) {
	rig, err = scenarios.Apply(p, rig)
	if err != nil {
		return x, "", err
	}
	g, err := p.Acceleration.Compile()
	if err != nil {
		return x, "", fmt.Errorf("profile %s: %w", p.Name, err)
	}
	if rig.Firmware.Output == encoder.AxisOutput {
		return x, "", nil
	}
	quick := passes(encoder.Setup{Rig: &rig, Home: p.Home, Gain: g}, p.Acceleration.Plain())
	where := ""
	unit := d.Place
	switch d.Name {
	case "outer", "inner":
		where = d.Name + " ring: "
	case "":
	default:
		where, unit = "each digit: ", 1
	}
	steps := func(rate int) float64 { return gain(g, p.Home, rig.Firmware.Coarse, float64(rate)) }
	does := func(rate int) string { return travel(t, steps(rate)*float64(unit)) }
	x = DialCard{Slow: does(slowRate), Quick: does(quick), Rate: quick, Times: steps(quick) / steps(slowRate)}
	if d.Name == "inner" || d.Name == "outer" {
		x.Ring = d.Name
	}
	text = fmt.Sprintf("%sa slow detent is %s, a quick one (%d a second) %s", where, does(slowRate), quick, does(quick))
	if p.PressCoarse > 0 && d.Name == "" {
		text += fmt.Sprintf("; after a push %d times as much", p.PressCoarse)
	}
	return x, text, nil
}

// gain is what a detent at a rate is worth in steps. A press of the coarse pair is
// worth its steps whatever the program's gain; the firmware's gain is how many
// presses there are.
func gain(g *accel.Gain, home encoder.Home, coarse encoder.Coarse, rate float64) float64 {
	onCoarse := coarse.Above > 0 && rate > float64(coarse.Above)
	switch {
	case !onCoarse:
		return g.At(rate)
	case home == encoder.InFirmware:
		return g.At(rate) * float64(coarse.Steps)
	}
	return float64(coarse.Steps)
}

// travel writes a distance in the task's unit, "about" where it is not whole.
func travel(t *scenarios.Task, steps float64) string {
	whole := math.Round(steps)
	text := t.Travel(int64(whole))
	if whole != steps {
		text = "about " + text
	}
	return text
}

// seconds writes a time; what lies among timeouts is longer than the limit.
func seconds(t *sample.Trials) string {
	e := t.Summary().Time
	number := func(s float64) string {
		if math.IsInf(s, 1) {
			return fmt.Sprintf(">%.0f", t.Limit)
		}
		return fmt.Sprintf("%.1f", s)
	}
	return fmt.Sprintf("%s s (%s–%s)", number(e.Value), number(e.Low), number(e.High))
}

func percent(e paired.Estimate) string {
	return fmt.Sprintf("%.0f %% (%.0f–%.0f)", 100*e.Value, 100*e.Low, 100*e.High)
}

// Notes are what the card rests on, and the cautions.
func (c *Card) Notes() []string {
	lines := []string{
		fmt.Sprintf("Simulated: operator %s, %d trials a task, seed %d. Before is %s. A number takes the mean time; times before and after are medians, from the target's appearance to the number standing on it; overshoot is the share of dialings that went past; in brackets 95 %% intervals.", c.Operator, c.Trials, c.Seed, c.Before),
		fmt.Sprintf("A slow detent is one of %d a second, a quick one of as many a second as this path lets through, up to %d.", slowRate, speeds[0]),
	}
	if c.Partial {
		lines = append(lines, "Partial: interrupted; fewer trials than asked for.")
	}
	lines = append(lines, c.Inputs...)
	lines = append(lines, "All inputs, SHA-256: "+c.Digest)
	return append(lines, c.Cautions...)
}

// Title is the heading of the card.
func (c *Card) Title() string { return "Panel " + c.Panel + ", profile " + c.Profile }

// Markdown writes the card as Markdown.
func (c *Card) Markdown(w io.Writer) error { return c.page().Markdown(w) }

// Text writes the card for a terminal.
func (c *Card) Text(w io.Writer) error { return c.page().Print(w, columns.Width) }

func (c *Card) page() *columns.Page {
	p := &columns.Page{}
	p.Heading(c.Title())
	for _, k := range c.Knobs {
		p.Heading("Knob " + k.Name + " (" + k.Rigs + ")")
		for _, s := range k.Set {
			p.Item("Set " + s)
		}
		for _, s := range k.Stays {
			p.Item("Stays plain: " + s)
		}
		rows := [][]string{}
		for _, t := range k.Tasks {
			for _, s := range t.Clicks {
				p.Item(t.Name + ", " + s)
			}
			rows = append(rows, []string{t.Name, t.Time.Before, t.Time.After, t.Past.Before, t.Past.After})
		}
		p.Text("")
		p.Table([]string{"", "time before", "time after", "overshoot before", "after"}, rows)
		p.Text("")
	}
	for _, lines := range [][]string{c.Expect, c.Notes()} {
		for _, l := range lines {
			p.Item(l)
		}
		p.Text("")
	}
	return p
}

// HTML writes the card as a page of its own, to read on a screen or to print.
func (c *Card) HTML(w io.Writer) error {
	_, err := io.WriteString(w, pageText(c))
	return err
}

// Section is the cards of a page, without the page and without [CardCSS], for a report.
func (c *Card) Section() string { return sectionText(c) }

// CardCSS is the style sheet of the cards, for a page once.
//
//go:embed card.css
var CardCSS string

//go:generate go tool qtc
