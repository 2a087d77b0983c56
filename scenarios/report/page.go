package report

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"

	"dialwright/scenarios"
	"dialwright/scenarios/compare"
	"dialwright/scenarios/evidence"
	"dialwright/scenarios/export"
	"dialwright/scenarios/figure"
	"dialwright/scenarios/file"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
)

// Origin is what it takes to make a report again.
type Origin struct {
	Command string // the command line
	Version string
	Date    string // "": the page has none, and is the same whenever it is made
	Inputs  []file.Input
}

// The two widths in CSS pixels for which figures are laid out. A page of paper and
// a screen have room for the wide ones, or for two narrow ones beside each other; a
// phone for one narrow one.
const (
	wideFigure   = 672
	narrowFigure = 328
)

// page is what the template shows.
type page struct {
	*Report
	Origin
	Finding, About string
	Lead           []string
	Sets           []set
	Caps           []string
	Top            []*drawn // not folded
	Sure           string
	Not            string
	Cautions       []string

	Times, Sizes, Stories, Lost, Gains, Fronts, Around group
	NotLost                                            []string // knobs that lose no clicks
	Words                                              []words
	Singles                                            []single
	TradeOffs                                          []tradeOff
	Levels                                             []string // of overshoot, %, at which it is said what can be had
	Same                                               []string // settings that do not matter
	Variants                                           []variant
	Costs                                              []string
	Warnings                                           []string
	Checks                                             string // a sentence on the evidence
	Broken                                             []evidence.Check
	Open                                               []evidence.Check

	Builtin []string // inputs that are no files
	Digest  string
	Card    string // HTML
	Partial bool
	All     int // tasks of the panel
	Seed    uint64
	Style   string
}

// set is what to set on a knob, and what that brings.
type set struct {
	Knob, Tasks     string
	Keep            bool
	Items           []item
	Time, Overshoot string
}

// item is something to set.
type item struct{ What, How string }

// words is what to set on a knob as the profile's file has it.
type words struct {
	Knob, Tasks string
	Keep        bool
	Items       []string
}

// single is what one change does by itself.
type single struct{ Knob, What, Time, Overshoot string }

// tradeOff is the least time that was found for a task, level of overshoot by level.
type tradeOff struct {
	Task  string
	Times []string
}

// variant is the recommendation elsewhere.
type variant struct{ Name, Before, After, Gain string }

// drawn is a figure for the page.
type drawn struct {
	*figure.Figure
	Level        int    // of its heading
	Wide, Narrow string // SVG; Wide is empty where two stand side by side
	Below        string // the caption, unless the group has it
	Short        string // in the contents
}

// contents are the names of figures in the list of contents, by what their own names
// begin with.
var contents = []struct{ begins, name string }{{"tasks", "All tasks"}, {"dialing", "One dialing"}, {"gain", "What a click counts"}, {"links", "Where the time goes"}}

// HTML writes the report as one page that needs nothing else to be read.
func (r *Result) HTML(w io.Writer, o Origin) error {
	x := r.Report()
	p := page{
		Report: &x, Origin: o, Finding: x.finding(), About: x.about(), Lead: x.lead(), Sets: x.sets(), Caps: x.caps(),
		Sure: r.sure(), Words: r.words(), Costs: r.costs(), Warnings: r.warnings(), Not: evidence.NotValidated, Cautions: scenarios.Cautions,
		Partial: r.Partial, All: len(r.Study.Panel.Served()), Seed: r.Study.Seed, Style: export.CardCSS + figure.CSS(),
	}
	for _, f := range x.top() {
		d, err := lay(f, 2, false)
		if err != nil {
			return err
		}
		d.Below = f.Caption
		for _, c := range contents {
			if strings.HasPrefix(f.Name, c.begins) {
				d.Short = c.name
			}
		}
		p.Top = append(p.Top, d)
	}
	for _, part := range []struct {
		to      *group
		figures []*figure.Figure
		half    bool
	}{
		{&p.Times, x.times(), true}, {&p.Sizes, x.sizes(), true}, {&p.Stories, slices.Concat(after(x.stories()), x.turns()), false}, {&p.Lost, x.lost(), true},
		{&p.Gains, x.otherGains(), false}, {&p.Fronts, x.fronts(), true}, {&p.Around, x.around(), false},
	} {
		var err error
		if *part.to, err = layAll(part.figures, part.half); err != nil {
			return err
		}
	}
	for _, k := range x.Knobs {
		if before, after := k.losses(); before.Lost+after.Lost == 0 && !k.Held {
			p.NotLost = append(p.NotLost, short(k.Knob))
		}
		if list := x.Search.Unimportant[k.Knob]; len(list) > 0 {
			p.Same = append(p.Same, strings.Join(list, ", ")+" on the "+short(k.Knob)+" knob")
		}
	}
	for i := range x.Changes {
		p.Singles = append(p.Singles, x.single(&x.Changes[i]))
	}
	for _, t := range x.Search.TradeOff {
		row := tradeOff{Task: x.called(t.Knob, t.Task)}
		p.Levels = nil
		for _, l := range t.Levels {
			p.Levels = append(p.Levels, bare(100*l.Most, 0))
			time := "–"
			if l.TimeS != nil {
				time = plain(*l.TimeS, 1)
			}
			row.Times = append(row.Times, time)
		}
		p.TradeOffs = append(p.TradeOffs, row)
	}
	for _, v := range x.Search.Robustness {
		if v.Cannot != "" {
			p.Variants = append(p.Variants, variant{v.Name, "–", "–", clean(v.Cannot, 400)})
			continue
		}
		b, a := v.Before.WeightedS, v.After.WeightedS
		p.Variants = append(p.Variants, variant{v.Name, inSeconds(b), inSeconds(a), byHand(a, b, v.Gain)})
	}
	if len(r.Evidence) > 0 {
		p.Checks = r.checks()
		p.Broken = evidence.Broken(r.Evidence)
		p.Open = evidence.Open(r.Evidence)
	}
	card, err := r.card()
	if err != nil {
		return err
	}
	for _, in := range o.Inputs {
		if in.SHA256 == "" {
			p.Builtin = append(p.Builtin, short(in.Name))
		}
	}
	p.Digest, p.Card = card.Digest, card.Section()
	_, err = io.WriteString(w, pageText(&p))
	return err
}

// group is figures of one kind. What they all say below is said once.
type group struct {
	Note    string
	Figures []*drawn
}

func layAll(figures []*figure.Figure, half bool) (group, error) {
	var g group
	if half && len(figures) > 1 {
		g.Note = figures[0].Caption
	}
	for _, f := range figures {
		if f.Caption != g.Note {
			g.Note = ""
		}
	}
	for _, f := range figures {
		d, err := lay(f, 3, half)
		if err != nil {
			return g, err
		}
		if g.Note == "" {
			d.Below = f.Caption
		}
		g.Figures = append(g.Figures, d)
	}
	return g, nil
}

func lay(f *figure.Figure, level int, half bool) (*drawn, error) {
	d := &drawn{Figure: f, Level: level}
	for _, x := range []struct {
		width float64
		to    *string
	}{{wideFigure, &d.Wide}, {narrowFigure, &d.Narrow}} {
		if x.width == wideFigure && half {
			continue
		}
		var out bytes.Buffer
		if err := f.Inline(&out, x.width); err != nil {
			return d, err
		}
		*x.to = out.String()
	}
	return d, nil
}

// checks says how the evidence stands.
func (r *Result) checks() string {
	return "In a small run made for this report, of what this program is checked against: " + evidence.Verdict(r.Evidence)
}

// sure says what the intervals are worth.
func (r *Result) sure() string {
	return fmt.Sprintf("Before and after are %d simulated dialings of each task by the same people with the same targets, and people whom the search for the settings never met. An interval says what another such set of people would give; it does not say how far simulated people are from you. Comparisons on the same path are worth more than single times.", r.Study.Trials)
}

// sets says knob by knob what to set, and what that brings.
func (r *Report) sets() []set {
	var list []set
	for i := range r.Knobs {
		k := &r.Knobs[i]
		var tasks []string
		for _, t := range r.Tasks {
			if t.Knob == k.Knob {
				tasks = append(tasks, short(t.Task))
			}
		}
		x := set{Knob: short(k.Knob), Tasks: strings.Join(tasks, ", "), Keep: !k.Changed, Time: inSeconds(k.Before.Time.Value), Overshoot: inPercent(k.Before.Overshoot)}
		if k.Changed {
			x.Time, x.Overshoot = becomes(x.Time, inSeconds(k.After.Time.Value)), becomes(x.Overshoot, inPercent(k.After.Overshoot))
		}
		x.Overshoot += r.mark(k.After.Overshoot)
		for j := range r.Changes {
			c := &r.Changes[j]
			switch {
			case c.Knob != k.Knob:
			case c.Key == accelerated:
				x.Items = append(x.Items, k.accelerations()...)
			default:
				x.Items = append(x.Items, item{What: c.name()})
			}
		}
		list = append(list, x)
	}
	return list
}

// accelerations say what a click counts at turning speeds.
func (k *Knob) accelerations() []item {
	var list []item
	for i := range k.Gains {
		g := &k.Gains[i]
		if g.Before || len(g.Points) == 0 {
			continue
		}
		what := "acceleration"
		if g.Name != "after" {
			what += " for" + strings.TrimPrefix(short(g.Name), "after, for")
		}
		list = append(list, item{what, fmt.Sprintf("in the %s: %s", g.Home, g.counts())})
	}
	if list == nil {
		list = append(list, item{What: accelerated})
	}
	return list
}

// words says knob by knob what to set as in the profile's file.
func (r *Result) words() []words {
	var list []words
	for _, ds := range r.knobs() {
		x := words{Knob: short(ds[0].Use.Knob.Name), Keep: true, Items: settings(ds)}
		var tasks []string
		for _, d := range ds {
			tasks = append(tasks, short(d.Use.Task.Name))
			x.Keep = x.Keep && !d.Changed
		}
		x.Tasks = strings.Join(tasks, ", ")
		list = append(list, x)
	}
	return list
}

func (r *Report) single(c *ChangeReport) single {
	s := single{Knob: short(c.Knob), What: c.name(), Time: "only with another change", Overshoot: "–"}
	if x := c.Alone; x != nil {
		b, a := x.Before.Time.Value, x.After.Time.Value
		s.Time = fmt.Sprintf("%s: %s", becomes(inSeconds(b), inSeconds(a)), byHand(a, b, x.Gain))
		if !useful(b, a) {
			s.Time += ", no useful difference"
		}
		s.Overshoot = becomes(inPercent(x.Before.Overshoot), inPercent(x.After.Overshoot)) + r.mark(x.After.Overshoot)
	}
	return s
}

// knobs returns the dialings of each knob.
func (r *Result) knobs() [][]*Dialing {
	var list [][]*Dialing
	for i, d := range r.Dialings {
		if i == 0 || r.Dialings[i-1].Use.Knob != d.Use.Knob {
			list = append(list, nil)
		}
		list[len(list)-1] = append(list[len(list)-1], d)
	}
	return list
}

// settings says what to set for the tasks of a knob: first what is the same for
// all of them.
func settings(ds []*Dialing) []string {
	common := slices.DeleteFunc(slices.Clone(ds[0].card.Set), func(s string) bool {
		return slices.ContainsFunc(ds, func(d *Dialing) bool { return !slices.Contains(d.card.Set, s) })
	})
	list := slices.Clone(common)
	for i, d := range ds {
		if slices.ContainsFunc(ds[:i], func(e *Dialing) bool { return slices.Equal(e.card.Set, d.card.Set) }) {
			continue
		}
		var tasks []string
		for _, e := range ds[i:] {
			if slices.Equal(e.card.Set, d.card.Set) {
				tasks = append(tasks, short(e.Use.Task.Name))
			}
		}
		for _, s := range d.card.Set {
			if !slices.Contains(common, s) {
				list = append(list, "for "+strings.Join(tasks, ", ")+", "+s)
			}
		}
	}
	return list
}

// costs says of the links that cost something what they do.
func (r *Result) costs() []string {
	if r.Explain == nil {
		return nil
	}
	var list []string
	for _, b := range r.Explain.Blames {
		if b.Seconds.Low > 0 || b.Seconds.High < 0 {
			list = append(list, clean(upper(b.Link.String())+": "+b.Sentence+".", 400))
		}
	}
	return list
}

// warnings are what can be said of the rigs without running them, with the settings
// of now and, where they change, with those recommended.
func (r *Result) warnings() []string {
	knobs := map[string][]string{} // what is wrong → where
	var order []string
	for _, d := range r.Dialings {
		ways := []struct {
			name string
			*Way
		}{{"now", &d.Before}, {"after the change", &d.After}}
		if !d.Changed {
			ways = ways[:1]
		}
		for _, w := range ways {
			for _, rig := range []*scenarios.Rig{d.Use.Knob.Inner, d.Use.Knob.Outer} {
				if rig == nil {
					continue
				}
				set, err := scenarios.Apply(w.Profile, rig.Rig)
				if err != nil {
					continue // that knob stays plain, and the card says so
				}
				for _, x := range scenarios.Warnings(&set, r.Study.Operator) {
					text := clean(upper(x.Link.String())+", "+w.name+": "+x.Text, 400)
					if knobs[text] == nil {
						order = append(order, text)
					}
					if k := short(d.Use.Knob.Name); !slices.Contains(knobs[text], k) {
						knobs[text] = append(knobs[text], k)
					}
				}
			}
		}
	}
	for i, text := range order {
		order[i] = text + " (" + strings.Join(knobs[text], ", ") + ")."
	}
	return order
}

// card is what to keep beside the panel.
func (r *Result) card() (*export.Card, error) {
	// A comparison with nothing but the settings of now has the digest of all inputs.
	now := &compare.Result{Study: &compare.Study{
		Panel: r.Study.Panel, Trials: r.Study.Trials, Seed: r.Study.Seed,
		Candidates: []compare.Candidate{{Name: r.Study.Profile.Name, Profile: r.Study.Profile, Operator: r.Study.Operator}},
	}, Partial: r.Partial, Trials: []sample.Panel{nil}, Against: [][]*paired.Verdict{nil}}
	for _, d := range r.Dialings {
		now.Uses = append(now.Uses, d.Use)
		now.Trials[0] = append(now.Trials[0], d.Before.Trials)
		now.Against[0] = append(now.Against[0], nil)
	}
	c, err := export.NewCard(now, 0)
	if err != nil {
		return nil, err
	}
	c.Profile, c.Before, c.Knobs, c.Expect = recommended, short(r.Study.Profile.Name), nil, nil
	for _, ds := range r.knobs() {
		k := ds[0].card
		k.Set, k.Brief, k.Stays, k.Tasks = settings(ds), nil, nil, nil
		for _, d := range ds {
			k.Tasks = append(k.Tasks, d.card.Tasks...)
			for _, b := range d.card.Brief {
				if !slices.Contains(k.Brief, b) {
					k.Brief = append(k.Brief, b)
				}
			}
			for _, why := range d.card.Stays {
				if !slices.Contains(k.Stays, why) {
					k.Stays = append(k.Stays, why)
				}
			}
		}
		c.Knobs = append(c.Knobs, k)
	}
	return c, nil
}

//go:generate go tool qtc

func medianOf(t sample.Time) string {
	return tied(fmt.Sprintf("%s (%s–%s)", timeOr(t.Median, 1), timeOr(t.Low, 1), timeOr(t.High, 1)))
}

func meanOf(t sample.Time) string { return inSeconds(t.Mean) }

func shareOf(o sample.Share) string {
	return tied(fmt.Sprintf("%s (%s–%s)", inPercent(o.Share), inPercent(o.Low), inPercent(o.High)))
}

func lostOf(x *float64) string {
	if x == nil {
		return "–"
	}
	return inPercent(*x)
}

func lateOf(x *float64) string { return timeOr(x, 1) }

func gainOf(t Task) string {
	if t.Gain == nil {
		return ""
	}
	return tied(byHand(t.After.Time.Mean, t.Before.Time.Mean, *t.Gain))
}

func holds(c evidence.Check) string { return strings.ToLower(c.Answer()) }
