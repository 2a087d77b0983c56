package main

import (
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"dialwright/scenarios/export"
)

func newExport(s streams) *cobra.Command {
	in := newInputs(s.in)
	var as string
	forms := []string{"c", "vectors", "json", "csv", "card", "html"}
	c := &cobra.Command{
		Use:   "export [PROFILE]",
		Short: "Write a profile for a firmware, a program or a printed card",
		Long: `Export writes a profile so that it works outside: as one C99 header for a
microcontroller (c; vectors are its test vectors), as JSON or CSV for a program, or as
a card to keep beside the panel (card is Markdown, html a page). Without --output it
shows what it would write.`,
		Example: `  dialwright export power --as c --output dial.h
  dialwright export mine.yaml --as card --panel desk.yaml`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeNames(in.Profiles.Names),
	}
	f := c.Flags()
	f.StringVar(&as, "as", "c", "c, vectors, json, csv, card, html")
	mustComplete(c, "as", forms)
	in.panelFlag(f)
	in.rigFlag(f, "card: rig of every knob: a built-in name or a file")
	in.operatorFlag(f, "card: operator: a built-in name or a file")
	in.taskFlag(f)
	in.trialFlags(f, 400)
	out := newOutput(s, c, "text")
	in.complete(c)
	c.RunE = func(c *cobra.Command, args []string) error {
		if err := errors.Join(in.check(), out.check()); err != nil {
			return err
		}
		name := "power"
		if len(args) == 1 {
			name = args[0]
		}
		p, err := in.Profile(name)
		if err != nil {
			return err
		}
		var render func(io.Writer) error
		switch as {
		case "c":
			render = func(w io.Writer) error { return export.Header(w, p) }
		case "vectors":
			render = func(w io.Writer) error { return export.Vectors(w, p) }
		case "json":
			render = func(w io.Writer) error { return export.JSON(w, p) }
		case "csv":
			render = func(w io.Writer) error { return export.CSV(w, p) }
		case "card", "html":
			panel, err := in.loadPanel()
			if err != nil {
				return err
			}
			operator, err := in.loadOperator()
			if err != nil {
				return err
			}
			card, err := export.NewCard(c.Context(), panel, p, operator, in.trials, in.seed, in.workers)
			if err != nil {
				return err
			}
			for _, i := range in.Inputs() {
				line := i.Name
				if i.SHA256 != "" {
					line += ", SHA-256 " + i.SHA256
				}
				card.Inputs = append(card.Inputs, line)
			}
			render = card.Markdown
			if as == "html" {
				render = card.HTML
			}
		default:
			return fmt.Errorf("--as: %q; c, vectors, json, csv, card or html would do", as)
		}
		return out.write(false, render)
	}
	return c
}
