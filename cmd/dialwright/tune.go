package main

import (
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"dialwright/scenarios"
	"dialwright/scenarios/file"
	"dialwright/scenarios/tune"
)

func newTune(s streams) *cobra.Command {
	in := newInputs(s)
	var goal goal
	var write, question, caps, was string
	var change []string
	c := &cobra.Command{
		Use:   "tune",
		Short: "Find the settings you can change, proved on fresh people",
		Long: `Tune searches what the rigs mark as adjustable, and an acceleration for each task,
for the least time per dialing within caps on overshoot and lost clicks. What it
recommends is measured again on people that the search never met.

With --decide it answers a question of design instead: one accelerated knob or two
rings; press-for-coarse or acceleration; buttons, keys, relative counts or an axis
(output); acceleration in the program, the firmware or as a second button pair
(home). Each alternative is tuned by itself, so that it is fair, and all meet the same
fresh people.

With several --rig or --operator it looks for one profile for all of them: the best
on average, or with --for worst for the slowest. With --was, the rig that there was
before a change of hardware, it says which settings of --profile still hold.

With --write the profile goes to a file, with parts where knobs or tasks want their
own. One that is there already keeps its name, its comments and the order of its
keys (--force); a new one takes those of the file that --profile names.`,
		Example: `  dialwright tune
  dialwright tune --task heading --for calm
  dialwright tune --change program
  dialwright tune --decide rings
  dialwright tune --rig mine.yaml --max-overshoot 5% --write tuned.yaml`,
		Args: cobra.NoArgs,
	}
	f := c.Flags()
	in.panelFlag(f)
	in.rigFlag(f, "rig of every knob: a built-in name or a file (repeatable: one profile for all)")
	f.StringVar(&in.profile, "profile", "plain", "what is set now: a built-in name or a file")
	in.operatorFlag(f, "operator: a built-in name or a file (repeatable: one profile for all)")
	in.taskFlag(f)
	goal.flags(c, tune.Worst)
	f.Lookup("for").Usage = "speed, balance, calm or, of several rigs and operators, worst: what counts within the caps"
	f.StringVar(&caps, "caps", string(tune.Each), "each or panel: what the cap on overshoot is for, every task or the panel's average")
	f.StringArrayVar(&change, "change", nil, "only this may change: a key of a rig file, or firmware, program, acceleration, system (repeatable); with firmware and program goes the acceleration there")
	f.StringVar(&was, "was", "", "the rig that there was before a change of hardware: what still holds, what to redo")
	f.StringVar(&question, "decide", "", "rings, press, output or home: answer a question of design instead")
	f.StringVar(&write, "write", "", "write the tuned profile to this file")
	in.trialFlags(f, 400)
	out := newOutput(s, c, "table", "markdown", "json")
	out.detailFlag(c)
	f.Lookup("force").Usage = "replace the files that --output and --write name"
	f.Lookup("trials").Usage = "trials a task for each finalist, and again for the proof"
	var questions []string
	for _, q := range tune.Questions {
		questions = append(questions, string(q))
	}
	mustComplete(c, "decide", questions)
	mustComplete(c, "caps", []string{string(tune.Each), string(tune.Whole)})
	in.complete(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		study := &tune.Study{Trials: in.trials, Seed: in.seed, Workers: in.workers}
		study.Caps, study.Change = tune.Caps(caps), change
		faults := []error{in.check(), out.check(&in.Loader, target{"write", write}), in.enough(), changeable(change)}
		if study.Caps != tune.Each && study.Caps != tune.Whole {
			faults = append(faults, fmt.Errorf("--caps: %s; each or panel would do", scenarios.Shown(caps)))
		}
		switch {
		case question == "":
		case !slices.Contains(questions, question):
			faults = append(faults, fmt.Errorf("--decide: %s; rings, press, output or home would do", scenarios.Shown(question)))
		case write != "":
			faults = append(faults, errors.New("--decide recommends no profile, so there is nothing to --write; one of the two would do"))
		}
		var err error
		study.For, study.MaxOvershoot, study.MaxLost, err = goal.read(tune.Worst)
		faults = append(faults, err)
		if err := errors.Join(faults...); err != nil {
			return err
		}
		if write != "" && file.Same(write, in.profile) { // the profile that is there is rewritten
			in.Outputs = slices.DeleteFunc(in.Outputs, func(o file.Output) bool { return o.Flag == "write" })
		}
		rigs, operators := in.rigs, in.operators
		in.rigs, in.operators = rigs[:min(1, len(rigs))], operators[:min(1, len(operators))]
		if study.Panel, study.Profile, study.Operator, err = in.loadAll(); err != nil {
			return err
		}
		if study.Combinations, err = in.combinations(rigs, operators); err != nil {
			return err
		}
		if question != "" && study.Combinations != nil {
			return errors.New("--decide is for one rig and one operator")
		}
		if was != "" {
			in.rigs = []string{was}
			if study.Was, err = in.loadPanel(); err != nil {
				return fmt.Errorf("--was: %w", err)
			}
		}
		out.beyond(scenarios.Beyond(study.Panel, nil, study.Profile, study.Operator))
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
			text, err := in.profileText(write, r.Profile())
			if err != nil {
				return failure{err}
			}
			if r.Partial {
				text = append([]byte(partialLine), text...)
			}
			if err := out.writeFile(write, r.Partial, text); err != nil {
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

func (g *goal) flags(c *cobra.Command, more ...tune.Aim) {
	f := c.Flags()
	f.StringVar(&g.overshoot, "max-overshoot", "10%", "cap for what is recommended: share of dialings that overshoot")
	f.StringVar(&g.lost, "max-lost", "5%", "cap for what is recommended: share of clicks that are lost")
	f.StringVar(&g.aim, "for", string(tune.Speed), "speed, balance or calm: what counts within the caps")
	mustComplete(c, "for", aims(more...))
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
	if !slices.Contains(aims(more...), g.aim) {
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

// combinations are the rigs and people that one profile is to suit; nil for one of each.
func (i *inputs) combinations(rigs, operators []string) (list []tune.Combination, err error) {
	if len(rigs) < 2 && len(operators) < 2 {
		return nil, nil
	}
	if operators == nil {
		operators = []string{defaultOperator}
	}
	if rigs == nil {
		rigs = []string{""}
	}
	for _, name := range rigs {
		var r *scenarios.Rig
		if name != "" {
			if r, err = i.Rig(name); err != nil {
				return nil, err
			}
		}
		for _, who := range operators {
			c := tune.Combination{Name: who, Rig: r}
			if len(rigs) > 1 {
				c.Name = name
				if len(operators) > 1 {
					c.Name += ", " + who
				}
			}
			if c.Operator, err = i.Operator(who); err != nil {
				return nil, err
			}
			list = append(list, c)
		}
	}
	return list, nil
}

// changeable holds that what may change is a key of a rig file or a group of keys.
func changeable(names []string) error {
	known := []string{"acceleration"}
	for _, k := range scenarios.Describe() {
		group, _, _ := strings.Cut(k.Name, ".")
		if !slices.Contains(known, group) {
			known = append(known, group)
		}
		known = append(known, k.Name)
	}
	var faults []error
	for _, n := range names {
		if !slices.Contains(known, n) {
			faults = append(faults, fmt.Errorf("--change: %s; a key such as firmware.pulse, or firmware, usb, system, program, acceleration would do", scenarios.Shown(n)))
		}
	}
	return errors.Join(faults...)
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
