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
	"dialwright/scenarios/file"
	"dialwright/scenarios/tune"
)

func newTune(s streams) *cobra.Command {
	in := newInputs(s.in)
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
		faults := []error{in.check(), out.check(), in.enough()}
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
		if study.Panel, study.Profile, study.Operator, err = in.loadAll(); err != nil {
			return err
		}
		out.beyond(scenarios.Beyond(study.Panel, nil, study.Profile, study.Operator))
		if write != "" {
			for _, path := range profileFiles(write, study.Panel) {
				if err := file.CheckOutput(path, out.force); err != nil {
					return err
				}
			}
		}
		p := out.newProgress("tune")
		study.Progress = func(done, all int, best string) {
			p.at(done, all)
			if best != "" && p.bars != nil {
				fmt.Fprintln(p.bars, best)
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
			if err := in.writeProfiles(write, out.force, r); err != nil {
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
		return 0, fmt.Errorf("--%s: %s; a share from 0%% to 100%% would do", flag, scenarios.Shown(text))
	}
	return v, nil
}

// within puts words into a file's name, before its ending.
func within(path string, words ...string) string {
	ending := filepath.Ext(path)
	name := strings.TrimSuffix(path, ending)
	for _, w := range words {
		name += "-" + strings.Map(func(r rune) rune {
			if strings.ContainsRune(`/\:*?"<>| `, r) || r < ' ' {
				return '-'
			}
			return r
		}, w)
	}
	return name + ending
}

// profileFiles lists every file that profiles of a panel may be written to.
func profileFiles(path string, p *scenarios.Panel) []string {
	list := []string{path}
	for _, k := range p.Knobs {
		list = append(list, within(path, k.Name))
		for _, u := range k.Tasks {
			list = append(list, within(path, k.Name, u.Task.Name))
		}
	}
	return list
}

// writeProfiles writes what is recommended: one file where all knobs and tasks
// have one profile, else one for each knob, or for each task of a knob.
func (i *inputs) writeProfiles(path string, force bool, r *tune.Result) error {
	files := map[string]*scenarios.Profile{}
	for _, k := range r.Knobs {
		for n, t := range k.After {
			p := *k.Chosen[n]
			words := []string{}
			if len(r.Study.Panel.Knobs) > 1 {
				words = append(words, k.Knob.Name)
			}
			if len(k.After) > 1 && !k.OneProfile() {
				if len(words) == 0 {
					words = append(words, k.Knob.Name)
				}
				words = append(words, t.Use.Task.Name)
			}
			p.Name = strings.Join(append([]string{"tuned"}, words...), " ")
			files[within(path, words...)] = &p
		}
	}
	for _, name := range slices.Sorted(maps.Keys(files)) {
		text, err := i.profileText(name, files[name])
		if err != nil {
			return failure{err}
		}
		if err := writeFile(name, force, text); err != nil {
			return err
		}
	}
	return nil
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
	if path == "-" {
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
