package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"golang.org/x/term"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/file"
	"dialwright/scenarios/report"
)

func newReport(s streams) *cobra.Command {
	in := newInputs(s)
	var goal goal
	var figures, date string
	var checks bool
	c := &cobra.Command{
		Use:   "report",
		Short: "One page with figures, tables and the printed card",
		Long: `Report measures what is set now, searches what to set (as tune does), and puts the
answer on one HTML page that needs nothing else to be read: no script, no font,
nothing from the web. What to set stands first; all numbers, more figures and a card
for each knob are folded below, and printed where they are opened.

Without --output the page goes to standard output. On a terminal that would be a
mess, so there the report is text with plots of characters, as with --format text.
The same seed gives the same bytes, so the page has a date only where --date asks
for one: today's, or the one that --date=2026-01-31 names.`,
		Example: `  dialwright report
  dialwright report --output report.html --figures pictures
  dialwright report --rig mine.yaml --profile now.yaml --for calm --output report.html`,
		Args: cobra.NoArgs,
	}
	f := c.Flags()
	in.panelFlag(f)
	in.rigFlag(f, "rig of every knob: a built-in name or a file")
	f.StringVar(&in.profile, "profile", "plain", "what is set now: a built-in name or a file")
	in.operatorFlag(f, "operator: a built-in name or a file")
	in.taskFlag(f)
	goal.flags(c)
	f.StringVar(&figures, "figures", "", "write every figure into this directory too, as SVG and PNG, and share.png")
	f.BoolVar(&checks, "checks", false, "put what this program is checked against on the page too")
	f.StringVar(&date, "date", "", "print a date: today's, or that of --date=YYYY-MM-DD")
	f.Lookup("date").NoOptDefVal = "today"
	in.trialFlags(f, 400)
	f.Lookup("trials").Usage = "trials a task, before and after"
	out := newOutput(s, c, "html", "text", "json")
	f.Lookup("format").Usage = "html, text, json; without it html, on a terminal text"
	f.Lookup("force").Usage = "replace the files that --output and --figures name"
	in.complete(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		study := &report.Study{Trials: in.trials, Seed: in.seed, Workers: in.workers, Checks: checks}
		faults := []error{in.check(), out.check(&in.Loader), in.enough()}
		var err error
		study.For, study.MaxOvershoot, study.MaxLost, err = goal.read()
		faults = append(faults, err)
		if date, err = dated(date); err != nil {
			faults = append(faults, err)
		}
		faults = append(faults, checkFigures(figures, out.force))
		if err := errors.Join(faults...); err != nil {
			return err
		}
		if study.Panel, study.Profile, study.Operator, err = in.loadAll(); err != nil {
			return err
		}
		if c.Flags().Changed("rig") && !c.Flags().Changed("panel") {
			study.Panel = of(study.Panel)
		}
		shown := out.onTerminal() && !c.Flags().Changed("format")
		if shown {
			out.format = "text"
		}
		if err := in.affords(8000 * served(study.Panel)); err != nil {
			return err
		}
		p := out.newProgress("report")
		study.Progress = p.at
		r, err := report.Run(c.Context(), study)
		p.end()
		if r == nil {
			return err
		}
		origin := report.Origin{Command: commandLine(c), Version: version(), Date: date, Inputs: in.Inputs()}
		if figures != "" && r.Partial {
			fmt.Fprintf(out.err, "no figures are written of a partial result\n")
		} else if figures != "" {
			if err := os.MkdirAll(figures, 0o777); err != nil {
				return failure{fmt.Errorf("--figures: %w", err)}
			}
			if err := r.Files(c.Context(), figures, out.force); err != nil {
				return err
			}
		}
		return out.write(r.Partial, func(w io.Writer) error {
			switch out.format {
			case "json":
				return writeJSON(w, in.header("report", r.Partial), r.Report())
			case "text":
				if err := r.Text(w, origin, unicodeLocale()); err != nil || !shown || out.quiet {
					return err
				}
				_, err := fmt.Fprintln(w, "\nThis is the short form; --output report.html writes the page.")
				return err
			}
			return r.HTML(w, origin)
		})
	}
	return c
}

// of is the demo's panel with another rig, which is what a report on it is of.
func of(demo *scenarios.Panel) *scenarios.Panel {
	p := *demo
	p.Name = p.Knobs[0].Inner.Name
	p.Title = "Rig " + p.Name
	return &p
}

// dated returns the date that --date means, "" without it.
func dated(text string) (string, error) {
	switch text {
	case "":
		return "", nil
	case "today":
		return time.Now().Format(time.DateOnly), nil
	}
	if _, err := time.Parse(time.DateOnly, text); err != nil {
		return "", fmt.Errorf("--date: %q; a date such as 2026-01-31 would do", text)
	}
	return text, nil
}

// checkFigures says what is wrong with a directory for figures before any work is
// done.
func checkFigures(dir string, force bool) error {
	if dir == "" {
		return nil
	}
	if at, err := os.Stat(dir); err == nil && !at.IsDir() {
		return fmt.Errorf("--figures: %s is a file; a directory would do", columns.Line(dir))
	}
	there := filepath.Clean(dir) // as far as there are directories; the others will be made
	for {
		if _, err := os.Stat(there); err == nil || filepath.Dir(there) == there {
			break
		}
		there = filepath.Dir(there)
	}
	if err := file.CheckOutput(filepath.Join(there, "dialwright.svg"), true); err != nil {
		return fmt.Errorf("--figures: %w", err)
	}
	for _, ending := range []string{"*.svg", "*.png"} {
		if found, _ := filepath.Glob(filepath.Join(dir, ending)); len(found) > 0 && !force {
			return fmt.Errorf("--figures: %s has pictures in it, such as %s; another directory, or --force, would do", columns.Line(dir), columns.Line(filepath.Base(found[0])))
		}
	}
	return nil
}

// onTerminal says whether the result goes to a terminal.
func (o *output) onTerminal() bool {
	f, ok := o.out.(*os.File)
	return ok && (o.path == "" || o.path == "-") && term.IsTerminal(int(f.Fd()))
}

// commandLine returns the command with the flags that decide what a report says,
// to be typed into a shell. Where the report goes and how many work on it decide
// nothing.
func commandLine(c *cobra.Command) string {
	line := c.CommandPath()
	c.Flags().Visit(func(f *pflag.Flag) {
		switch f.Name {
		case "output", "force", "quiet", "workers", "format", "figures", "date":
			return
		}
		values := []string{f.Value.String()}
		if list, ok := f.Value.(pflag.SliceValue); ok {
			values = list.GetSlice()
		}
		for _, v := range values {
			line += " --" + f.Name + " " + quoted(v)
		}
	})
	return line
}

var unquoted = regexp.MustCompile(`^[A-Za-z0-9_./:=,+@%-]+$`)

// quoted writes a word so that a shell takes it as it is.
func quoted(word string) string {
	if unquoted.MatchString(word) {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}
