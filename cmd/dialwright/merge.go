package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"dialwright/scenarios/file"
	"dialwright/scenarios/survey"
)

func newMerge(s streams) *cobra.Command {
	var into bool
	c := &cobra.Command{
		Use:   "merge PART ...",
		Short: "Make of the parts of a survey what one run would have said",
		Long: `Merge takes the files that dialwright survey --shard wrote, in any order, and prints
the very bytes that one run on one machine would have printed. Parts of another
survey, parts that are missing and parts that are there twice are named, and nothing
is written. With --part it writes a larger part instead, which may have gaps: parts
can be merged in groups, and those again. A name with * or ? in it is all files that
it matches, where no shell has done that already.`,
		Example: `  dialwright merge survey-*-of-200.part --format json --output result.json
  dialwright merge --part --output first.part survey-1-of-4.part survey-2-of-4.part`,
		Args: cobra.MinimumNArgs(1),
	}
	c.Flags().BoolVar(&into, "part", false, "write a larger part (to --output) instead of the result")
	out := newSurveyed(s, c)
	c.RunE = func(c *cobra.Command, args []string) error {
		if into && (out.path == "" || out.figures != "" || c.Flags().Changed("format") || out.detail) {
			return errors.New("--part: goes with --output FILE, and without --format, --figures and --detail")
		}
		if err := out.check(&file.Loader{}); err != nil {
			return err
		}
		var parts []survey.Named
		var faults []error
		names, err := expanded(args)
		if err != nil {
			return err
		}
		for _, name := range names {
			p, err := survey.Load(c.Context(), name)
			if err != nil {
				faults = append(faults, err)
				continue
			}
			parts = append(parts, survey.Named{Part: p, Name: name})
		}
		if faults != nil {
			return errors.Join(faults...)
		}
		p, err := survey.Merge(parts)
		if err != nil {
			return err
		}
		if into {
			return out.part(p)
		}
		if err := p.Missing(); err != nil {
			return err
		}
		return out.show(p)
	}
	return c
}

// expanded returns the files that names mean: a pattern is all that it matches.
func expanded(names []string) ([]string, error) {
	var list []string
	for _, name := range names {
		if _, err := os.Stat(name); err == nil {
			list = append(list, name)
			continue
		}
		found, err := filepath.Glob(name)
		switch {
		case err != nil:
			return nil, fmt.Errorf("%s: %w", name, err)
		case found == nil:
			found = []string{name} // which is not there, as reading it will say
		}
		slices.Sort(found)
		list = append(list, found...)
	}
	return list, nil
}
