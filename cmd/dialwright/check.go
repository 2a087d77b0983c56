package main

import (
	"errors"
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"dialwright/scenarios/columns"
	"dialwright/scenarios/file"
	"dialwright/scenarios/workbench"
)

func newCheck(s streams) *cobra.Command {
	var kind string
	study := workbench.NewCheck(builtins(s))
	c := &cobra.Command{
		Use:   "check FILE ...",
		Short: "Check files; with --schema, print a JSON Schema for editors",
		Long: `Check reads rigs, panels, profiles, tasks, operators and populations and names
everything that is wrong with them. It exits with 3 when a file has faults.

With --schema it prints the JSON Schema of a kind of file (rig, profile, panel, task,
operator, population) or of what a command writes with --format json (compare,
overshoot, explain, tune, decide for tune --decide, over for tune --over, fit, follow,
evidence, report, survey). Results say their format, now 1: the number rises when a
field goes away or changes its meaning, its unit or its kind. New fields may come at
any time, and the words of sentences may change.`,
		Example: `  dialwright check my-rig.yaml my-panel.yaml
  dialwright check --schema rig
  dialwright check --schema compare`,
	}
	c.Flags().StringVar(&kind, "schema", "", "print the JSON Schema of a kind of file, or of a command's JSON")
	kinds := slices.Clone(file.Kinds)
	for _, r := range results() {
		kinds = append(kinds, r.Word)
	}
	mustComplete(c, "schema", kinds)
	out := newOutput(s, c, "table", "json")
	c.Args = func(_ *cobra.Command, args []string) error {
		if (kind == "") == (len(args) == 0) {
			return fmt.Errorf("files to check, or --schema and a kind, would do")
		}
		return nil
	}
	c.RunE = func(c *cobra.Command, args []string) error {
		if err := out.check(&study.Loader); err != nil {
			return err
		}
		if kind != "" {
			text, err := resultSchema(kind)
			if text == nil && err == nil {
				text, err = file.Schema(kind)
			}
			if err != nil {
				return err
			}
			return out.write(false, func(w io.Writer) error {
				_, err := fmt.Fprintf(w, "%s\n", text)
				return err
			})
		}
		o, err := out.run(c, study, args)
		if err != nil {
			return err
		}
		r := o.Result.(workbench.Checked)
		faults := 0
		var unread error
		for _, f := range r.Files {
			faults += len(f.Faults)
			unread = errors.Join(unread, f.Err)
		}
		err = out.write(false, func(w io.Writer) error {
			if out.format == "json" {
				return o.JSON(w)
			}
			for _, f := range r.Files {
				if len(f.Faults) == 0 {
					if _, err := fmt.Fprintf(w, "%s: a good %s\n", columns.Line(f.File), f.Kind); err != nil {
						return err
					}
				}
				for _, x := range f.Faults {
					if _, err := fmt.Fprintln(w, x.Error()); err != nil {
						return err
					}
				}
			}
			return nil
		})
		switch {
		case err != nil:
			return err
		case unread != nil:
			return errUnread
		case faults > 0:
			return errFalse
		}
		return nil
	}
	return c
}
