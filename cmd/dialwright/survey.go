package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"dialwright/scenarios/file"
	"dialwright/scenarios/survey"
	"dialwright/scenarios/workbench"
)

// surveyed is how a survey's result is shown: what the commands survey and merge
// share.
type surveyed struct {
	*output
	figures string
}

func newSurveyed(s streams, c *cobra.Command) *surveyed {
	o := &surveyed{output: newOutput(s, c, "table", "markdown", "csv", "json")}
	f := c.Flags()
	o.detailFlag(c)
	f.StringVar(&o.figures, "figures", "", "write every figure into this directory too, as SVG and PNG")
	return o
}

func (o *surveyed) check(in *file.Loader) error {
	return errors.Join(o.output.check(in), checkFigures(o.figures, o.force))
}

// show hands the result of a complete or interrupted survey on.
func (o *surveyed) show(p *survey.Part) error {
	r, err := survey.Sum(p)
	if err != nil {
		return failure{err}
	}
	if o.figures != "" && p.Partial {
		fmt.Fprintf(o.err, "no figures are written of a partial result\n")
	} else if o.figures != "" {
		if err := o.draw(r); err != nil {
			return failure{fmt.Errorf("--figures: %w", err)}
		}
	}
	return o.result(&workbench.Outcome{
		Header: workbench.Header{Command: "survey", Version: p.Version, Format: workbench.Format, Seed: p.Seed, Partial: p.Partial, Inputs: p.Inputs},
		Result: r, Report: r.Report(),
	})
}

// draw writes the figures.
func (o *surveyed) draw(r *survey.Result) error {
	if err := os.MkdirAll(o.figures, 0o777); err != nil {
		return err
	}
	files, err := r.Files()
	if err != nil {
		return err
	}
	for _, f := range files {
		if err := o.writeFile(filepath.Join(o.figures, f.Name), false, f.Text); err != nil {
			return err
		}
	}
	return nil
}

func newSurvey(s streams) *cobra.Command {
	in := workbench.NewAsked(builtins(s), 50)
	var members int
	var shard, overshoot, lost string
	var profiles []string
	c := &cobra.Command{
		Use:   "survey [POPULATION]",
		Short: "Find the default that serves many rigs and people best, and where it fails",
		Long: `Survey draws members from a population (a rig, a kind of person, what they dial)
and lets every candidate do the same trials on each. It says which candidate is
quickest over the members, how bad it is for the rest, and where it fails. Without
a name the population is households: desks and radios at home, its shares ours.

A shard is a part of a survey for one machine of many: it writes a file, and
dialwright merge makes of all of them what one run would have said. Inside a Slurm
array or a Kubernetes Indexed Job --shard array takes the number from there. A part
that is there already is skipped, so an array is restarted by submitting it again.`,
		Example: `  dialwright survey
  dialwright survey mine.yaml --rigs 1000 --trials 100 --format json
  dialwright survey mine.yaml --rigs 1000 --shard 3/200
  dialwright merge survey-*-of-200.part`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeNames(in.Populations.Names),
	}
	f := c.Flags()
	f.IntVar(&members, "rigs", 200, "members of the population that are drawn, each a rig with a person and tasks")
	f.StringArrayVar(&profiles, "profile", nil, "candidate instead of the population's: a built-in name or a file (repeatable)")
	f.StringVar(&overshoot, "max-overshoot", "10%", "cap: share of dialings that overshoot")
	f.StringVar(&lost, "max-lost", "5%", "cap: share of clicks that are lost")
	f.StringVar(&shard, "shard", "", "do a part only and write it to a file: 3/200, or array")
	flagsOf(c, in.TrialFlags("trials of each member with each candidate"))
	out := newSurveyed(s, c)
	mustComplete(c, "profile", in.Profiles.Names)
	c.RunE = func(c *cobra.Command, args []string) error {
		study := &survey.Study{Members: members, Trials: in.Trials, Seed: in.Seed, Workers: in.Workers, Version: workbench.Version()}
		faults := []error{in.CheckTrials(), nil, nil, nil, nil}
		if members < 2 || members > survey.MostMembers {
			faults[1] = fmt.Errorf("--rigs: %d; 2 to %d would do", members, survey.MostMembers)
		}
		study.Caps.Overshoot, faults[2] = workbench.Capped("max-overshoot", overshoot)
		study.Caps.Lost, faults[3] = workbench.Capped("max-lost", lost)
		part := survey.Whole
		if shard != "" {
			var err error
			if part, err = survey.ParseShard(shard, os.Getenv); err != nil {
				faults[4] = fmt.Errorf("--shard: %w", err)
			}
			if out.figures != "" || c.Flags().Changed("format") || out.detail {
				faults[4] = errors.Join(faults[4], errors.New("--shard writes a part; --format, --figures and --detail belong to dialwright merge"))
			}
		} else {
			faults = append(faults, out.check(&in.Loader))
		}
		if err := errors.Join(faults...); err != nil {
			return err
		}
		name := defaultPopulation
		if len(args) == 1 {
			name = args[0]
		}
		p, err := in.Population(name)
		if err != nil {
			return err
		}
		if profiles != nil {
			p.Profiles = nil
			for _, name := range profiles {
				q, e := in.Profile(name)
				err = errors.Join(err, e)
				p.Profiles = append(p.Profiles, q)
			}
			if err != nil {
				return err
			}
		}
		study.Population, study.Inputs = p, in.Inputs()
		if err := study.Afford(part, in.Memory); err != nil {
			return fmt.Errorf("--rigs: %w", err)
		}
		if shard != "" {
			return out.shard(c, &in, study, part)
		}
		progress := out.newProgress("survey")
		study.Progress = progress.at
		done, err := survey.Run(c.Context(), study, part)
		progress.end()
		if done == nil {
			return err
		}
		return out.show(done)
	}
	return c
}

const defaultPopulation = "households"

// shard does a part of a survey, unless it is there already.
func (o *surveyed) shard(c *cobra.Command, in *workbench.Asked, study *survey.Study, s survey.Shard) error {
	if o.path == "" {
		o.path = survey.PartName(s)
	}
	h, err := study.Header(s)
	if err != nil {
		return err
	}
	if o.path != "-" && !o.force {
		there, err := survey.Load(c.Context(), o.path)
		_, none := os.Stat(o.path)
		switch {
		case errors.Is(none, fs.ErrNotExist):
		case errors.Is(err, survey.ErrCut):
			if !o.quiet {
				fmt.Fprintf(o.err, "%v; it is done again\n", err)
			}
			o.force = true
		case err != nil:
			return err
		default:
			if err := there.Settled(h, s); err != nil {
				return fmt.Errorf("%s: is there already and of another survey: %w; another --output, or --force, would do", o.path, err)
			}
			if !o.quiet {
				fmt.Fprintf(o.err, "%s: is complete already; skipped\n", o.path)
			}
			return nil
		}
	}
	if err := o.output.check(&in.Loader); err != nil {
		return err
	}
	progress := o.newProgress("shard " + s.String())
	study.Progress = progress.at
	p, err := survey.Run(c.Context(), study, s)
	progress.end()
	if err != nil {
		return err
	}
	return o.part(p)
}

// part writes a part.
func (o *surveyed) part(p *survey.Part) error {
	return o.write(false, func(w io.Writer) error {
		text, err := p.Encode()
		if err != nil {
			return err
		}
		_, err = w.Write(text)
		return err
	})
}
