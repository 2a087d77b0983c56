package main

import (
	"dialwright/scenarios/workbench"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
)

func newExport(s streams) *cobra.Command {
	study := workbench.NewExport(builtins(s))
	c := &cobra.Command{
		Use:   "export [PROFILE]",
		Short: "Write a profile for a firmware, a program or a printed card",
		Long: `Export writes a profile so that it works outside: as one C99 header for a
microcontroller (c; vectors are its test vectors), as an ES module with the same
integers and the same steps (js), as JSON or CSV for a program, or as a card to keep
beside the panel (card is Markdown, html a page). The card needs to know what to
expect, so the profile is measured against the plain one first. Without --as it shows
what it would write.`,
		Example: `  dialwright export power --as c --output dial.h
  dialwright export mine.yaml --as card --panel desk.yaml`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeNames(study.Profiles.Names),
	}
	ask(c, study)
	out := newOutput(s, c, "text")
	c.RunE = func(c *cobra.Command, args []string) error {
		if err := errors.Join(study.Check(args), out.check(&study.Loader)); err != nil {
			return err
		}
		if study.As == "" && out.path != "" {
			return fmt.Errorf("--output without --as; --as %s would do", strings.Join(workbench.Forms(), ", "))
		}
		r, err := out.run(c, study, args)
		if r == nil {
			return err
		}
		return out.result(r)
	}
	return c
}
