package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"dialwright/scenarios/columns"
	"dialwright/scenarios/file"
	"dialwright/scenarios/report"
	"dialwright/scenarios/workbench"
)

func newReport(s streams) *cobra.Command {
	study := workbench.NewReport(builtins(s))
	var figures string
	c, out := asked(s, study, workbench.Command{
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
		Forms: []string{"html", "text", "json"},
	})
	f := c.Flags()
	f.StringVar(&figures, "figures", "", "write every figure into this directory too, as SVG and PNG, and share.png")
	f.Lookup("date").NoOptDefVal = "today"
	f.Lookup("format").Usage = "html, text, json; without it html, on a terminal text"
	f.Lookup("force").Usage = "replace the files that --output and --figures name"
	c.RunE = func(c *cobra.Command, args []string) error {
		if err := errors.Join(out.checked(study, args), checkFigures(figures, out.force)); err != nil {
			return err
		}
		shown := out.onTerminal() && !c.Flags().Changed("format")
		if shown {
			out.format = "text"
		}
		o, err := out.run(c, study, args)
		if o == nil {
			return err
		}
		r := o.Result.(*report.Result)
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
		if out.format == "text" {
			return out.write(r.Partial, func(w io.Writer) error {
				if err := r.Text(w, study.Origin, unicodeLocale()); err != nil || !shown || out.quiet {
					return err
				}
				_, err := fmt.Fprintln(w, "\nThis is the short form; --output report.html writes the page.")
				return err
			})
		}
		return out.result(o)
	}
	return c
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
