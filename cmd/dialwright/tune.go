package main

import (
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/file"
	"dialwright/scenarios/tune"
)

func newTune(s streams) *cobra.Command {
	in := newInputs(s)
	var goal goal
	var write, question string
	c := &cobra.Command{
		Use:   "tune",
		Short: "Find the settings you can change, proved on fresh people",
		Long: `Tune searches what the rigs mark as adjustable, and an acceleration for each task,
for the least time per dialing within caps on overshoot and lost clicks. What it
recommends is measured again on people that the search never met.

With --decide it answers a question of design instead: one accelerated knob or two
rings; press-for-coarse or acceleration; buttons, keys, relative counts or an axis
(output); acceleration in the program, the firmware or as a second button pair
(home). Each alternative is tuned a little, so that it is fair, and all meet the
same fresh people.

With --write the profile goes to a file. One that is there already keeps its name,
its comments and the order of its keys (--force); a new one takes those of the file
that --profile names. Where knobs or tasks want profiles of
their own, the names of knob and task are put into the file's name.`,
		Example: `  dialwright tune
  dialwright tune --task heading --for calm
  dialwright tune --decide rings
  dialwright tune --rig mine.yaml --max-overshoot 5% --write tuned.yaml`,
		Args: cobra.NoArgs,
	}
	f := c.Flags()
	in.panelFlag(f)
	in.rigFlag(f, "rig of every knob: a built-in name or a file")
	f.StringVar(&in.profile, "profile", "plain", "what is set now: a built-in name or a file")
	in.operatorFlag(f, "operator: a built-in name or a file")
	in.taskFlag(f)
	goal.flags(c)
	f.StringVar(&question, "decide", "", "rings, press, output or home: answer a question of design instead")
	f.StringVar(&write, "write", "", "write the tuned profile to this file")
	in.trialFlags(f, 400)
	out := newOutput(s, c, "table", "markdown", "json")
	f.Lookup("force").Usage = "replace the files that --output and --write name"
	f.Lookup("trials").Usage = "trials a task for each finalist, and again for the proof"
	var questions []string
	for _, q := range tune.Questions {
		questions = append(questions, string(q))
	}
	mustComplete(c, "decide", questions)
	in.complete(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		study := &tune.Study{Trials: in.trials, Seed: in.seed, Workers: in.workers}
		faults := []error{in.check(), out.check(&in.Loader, target{"write", write}), in.enough()}
		switch {
		case question == "":
		case !slices.Contains(questions, question):
			faults = append(faults, fmt.Errorf("--decide: %s; rings, press, output or home would do", scenarios.Shown(question)))
		case write != "":
			faults = append(faults, errors.New("--decide recommends no profile, so there is nothing to --write; one of the two would do"))
		}
		var err error
		study.For, study.MaxOvershoot, study.MaxLost, err = goal.read()
		faults = append(faults, err)
		if err := errors.Join(faults...); err != nil {
			return err
		}
		if write != "" && file.Same(write, in.profile) { // the profile that is there is rewritten
			in.Outputs = slices.DeleteFunc(in.Outputs, func(o file.Output) bool { return o.Flag == "write" })
		}
		if study.Panel, study.Profile, study.Operator, err = in.loadAll(); err != nil {
			return err
		}
		out.beyond(scenarios.Beyond(study.Panel, nil, study.Profile, study.Operator))
		if write != "" {
			if err := out.checkProfiles(&in.Loader, profileFiles(write, study.Panel)); err != nil {
				return err
			}
		}
		if err := in.affords(8000 * served(study.Panel)); err != nil {
			return err
		}
		p := out.newProgress("tune")
		study.Progress = func(done, all int, best string) {
			p.at(done, all)
			if best != "" {
				p.say(best)
			}
		}
		if question != "" {
			d, err := tune.Decide(c.Context(), study, tune.Question(question))
			p.end()
			if err != nil {
				return err
			}
			return out.result(in, "tune", false, d, func() any { return d.Report() })
		}
		r, err := tune.Run(c.Context(), study)
		p.end()
		if r == nil {
			return err
		}
		result := out.result(in, "tune", r.Partial, r, func() any { return r.Report() })
		if write != "" {
			if err := in.writeProfiles(write, out, r); err != nil {
				return err
			}
		}
		return result
	}
	return c
}

// leastTrials is how many trials a proof needs.
const leastTrials = 20

// enough holds that there are trials enough for a proof.
func (i *inputs) enough() error {
	if i.trials < leastTrials {
		return fmt.Errorf("--trials: %d; %d or more would do: fewer prove nothing", i.trials, leastTrials)
	}
	return nil
}

// goal is what a search is for, as the flags say it.
type goal struct{ aim, overshoot, lost string }

func (g *goal) flags(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&g.overshoot, "max-overshoot", "10%", "cap for what is recommended: share of dialings that overshoot")
	f.StringVar(&g.lost, "max-lost", "5%", "cap for what is recommended: share of clicks that are lost")
	f.StringVar(&g.aim, "for", string(tune.Speed), "speed, balance or calm: what counts within the caps")
	mustComplete(c, "for", []string{string(tune.Speed), string(tune.Balance), string(tune.Calm)})
}

func (g *goal) read() (aim tune.Aim, overshoot, lost float64, err error) {
	aim = tune.Aim(g.aim)
	var faults [3]error
	if !slices.Contains([]tune.Aim{tune.Speed, tune.Balance, tune.Calm}, aim) {
		faults[0] = fmt.Errorf("--for: %q; speed, balance or calm would do", g.aim)
	}
	overshoot, faults[1] = capped("max-overshoot", g.overshoot)
	lost, faults[2] = capped("max-lost", g.lost)
	return aim, overshoot, lost, errors.Join(faults[:]...)
}

// capped reads a share that caps something.
func capped(flag, text string) (float64, error) {
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

// within puts words into a file's name, before its ending.
func within(path string, words ...string) string {
	ending := filepath.Ext(path)
	name := strings.TrimSuffix(path, ending)
	for _, w := range words {
		name += "-" + strings.Map(func(r rune) rune {
			if strings.ContainsRune(`/\:*?"<>| `, r) || columns.Speaks(r) {
				return '-'
			}
			return r
		}, w)
	}
	return name + ending
}

// profileNames are the names of the files that profiles of a panel go to.
type profileNames struct {
	all  string            // of one profile for all
	knob []string          // by knob
	task map[[2]int]string // by knob and task
}

// profileFiles names every file that profiles of a panel may be written to. No two
// have the same name, also where capitals are not told apart.
func profileFiles(path string, p *scenarios.Panel) profileNames {
	taken := map[string]bool{}
	unique := func(words ...string) string {
		name := within(path, words...)
		for n := 2; taken[strings.ToLower(name)]; n++ {
			name = within(path, append(words[:len(words):len(words)], fmt.Sprint(n))...)
		}
		taken[strings.ToLower(name)] = true
		return name
	}
	names := profileNames{all: unique(), task: map[[2]int]string{}}
	for i, k := range p.Knobs {
		names.knob = append(names.knob, unique(k.Name))
		for j, u := range k.Tasks {
			names.task[[2]int{i, j}] = unique(k.Name, u.Task.Name)
		}
	}
	return names
}

// list returns all names.
func (n profileNames) list() []string {
	return slices.Sorted(func(yield func(string) bool) {
		for _, name := range slices.Concat([]string{n.all}, n.knob, slices.Collect(maps.Values(n.task))) {
			if !yield(name) {
				return
			}
		}
	})
}

// checkProfiles says whether profiles can be written to files that no flag names,
// and that nothing else is read from or written to.
func (o *output) checkProfiles(in *file.Loader, names profileNames) error {
	var faults []error
	for _, path := range names.list() {
		if path == names.all {
			continue // checked with its flag
		}
		if o.path != "" && file.Same(path, o.path) {
			faults = append(faults, fmt.Errorf("--write and --output name the same file, %s; two files would do", columns.Line(path)))
		}
		for _, used := range in.Inputs() {
			if used.SHA256 != "" && file.Same(path, used.Name) {
				faults = append(faults, fmt.Errorf("%s: this file is read, and --write would write over it; another file would do", columns.Line(path)))
			}
		}
		if err := file.CheckOutput(path, o.force); err != nil {
			faults = append(faults, fmt.Errorf("--write: %w", err))
		}
	}
	return errors.Join(faults...)
}

// writeProfiles writes what is recommended: one file where all knobs and tasks
// have one profile, else one for each knob, or for each task of a knob.
func (i *inputs) writeProfiles(path string, out *output, r *tune.Result) error {
	names := profileFiles(path, r.Study.Panel)
	files := map[string]*scenarios.Profile{}
	for _, k := range r.Knobs {
		knobs := r.Study.Panel.Knobs
		at := slices.IndexFunc(knobs, func(x scenarios.Knob) bool { return x.Name == k.Knob.Name })
		for n, t := range k.After {
			p := *k.Chosen[n]
			name, words := names.all, []string{"tuned"}
			if len(knobs) > 1 {
				name, words = names.knob[at], append(words, k.Knob.Name)
			}
			if len(k.After) > 1 && !k.OneProfile() {
				use := slices.IndexFunc(knobs[at].Tasks, func(u scenarios.Use) bool { return u.Task.Name == t.Use.Task.Name })
				name, words = names.task[[2]int{at, use}], []string{"tuned", k.Knob.Name, t.Use.Task.Name}
			}
			p.Name = shortened(strings.Join(words, " "))
			files[name] = &p
		}
	}
	for _, name := range slices.Sorted(maps.Keys(files)) {
		text, err := i.profileText(name, files[name])
		if err != nil {
			return failure{err}
		}
		if r.Partial {
			text = append([]byte(partialLine), text...)
		}
		if err := out.writeFile(name, r.Partial, text); err != nil {
			return err
		}
	}
	return nil
}

// shortened cuts a name that is made of several to what a file takes.
func shortened(name string) string {
	if r := []rune(name); len(r) > file.LongestText {
		return string(r[:file.LongestText])
	}
	return name
}

// profileText returns a profile as it goes to a file: with the comments and in the
// order of the profile that is there, or of the file that says what is set now.
func (i *inputs) profileText(path string, p *scenarios.Profile) ([]byte, error) {
	if old := readProfile(path); old != nil {
		p.Name = old.profile.Name
		return file.Rewrite(old.text, p)
	}
	if !slices.Contains(i.Profiles.Names, i.profile) {
		if old := readProfile(i.profile); old != nil {
			return file.Rewrite(old.text, p)
		}
	}
	return file.Write(p)
}

// writtenProfile is a profile in a file.
type writtenProfile struct {
	text    []byte
	profile *scenarios.Profile
}

// readProfile returns the profile in a file, or nil where there is no such file, or
// it is something else.
func readProfile(path string) *writtenProfile {
	if i, err := os.Stat(path); err != nil || !i.Mode().IsRegular() || i.Size() > file.Largest {
		return nil
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return nil
	}
	loader := file.Loader{In: strings.NewReader("")}
	p, err := loader.Profile(path)
	if err != nil {
		return nil
	}
	return &writtenProfile{text, p}
}
