package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/compare"
	"dialwright/scenarios/export"
)

// exported is one form that a profile can be written in.
type exported struct{ as, file, what string }

var exports = []exported{
	{"c", "dial.h", "C99 header for a firmware"},
	{"vectors", "vectors.csv", "its test vectors"},
	{"js", "dial.js", "the same steps, ES module"},
	{"json", "profile.json", "the profile for a program"},
	{"csv", "gain.csv", "rate, gain, steps"},
	{"card", "card.md", "what to set and expect"},
	{"html", "card.html", "the same, to print"},
}

func newExport(s streams) *cobra.Command {
	in := newInputs(s)
	var as, profile string
	var forms []string
	for _, e := range exports {
		forms = append(forms, e.as)
	}
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
		ValidArgsFunction: completeNames(in.Profiles.Names),
	}
	f := c.Flags()
	f.StringVar(&as, "as", "", strings.Join(forms, ", "))
	mustComplete(c, "as", forms)
	f.StringVar(&profile, "profile", "", "like the argument: a built-in name or a file")
	in.panelFlag(f)
	in.rigFlag(f, "card: rig of every knob: a built-in name or a file")
	in.operatorFlag(f, "card: operator: a built-in name or a file")
	in.taskFlag(f)
	in.trialFlags(f, 400)
	out := newOutput(s, c, "text")
	in.complete(c)
	c.RunE = func(c *cobra.Command, args []string) error {
		if err := errors.Join(in.check(), out.check(&in.Loader)); err != nil {
			return err
		}
		switch {
		case as == "" && out.path != "":
			return fmt.Errorf("--output without --as; --as %s would do", strings.Join(forms, ", "))
		case as != "" && !slices.Contains(forms, as):
			return fmt.Errorf("--as: %q; %s would do", as, strings.Join(forms, ", "))
		case profile != "" && len(args) == 1:
			return errors.New("the profile is given twice; as an argument or as --profile would do")
		case len(args) == 1:
			profile = args[0]
		case profile == "":
			profile = "power"
		}
		p, err := in.Profile(profile)
		if err != nil {
			return err
		}
		part := p
		if as == "c" || as == "vectors" || as == "js" || as == "csv" || as == "" {
			part, err = in.part(p)
			if err != nil && as != "" {
				return err
			}
		}
		write := map[string]func(io.Writer) error{
			"json": func(w io.Writer) error { return export.JSON(w, p) },
		}
		if part != nil {
			write["c"] = func(w io.Writer) error { return export.Header(w, part) }
			write["js"] = func(w io.Writer) error { return export.Module(w, part) }
			write["vectors"] = func(w io.Writer) error { return export.Vectors(w, part) }
			write["csv"] = func(w io.Writer) error { return export.CSV(w, part) }
		}
		if render, ok := write[as]; ok {
			return out.write(false, render)
		}
		card, err := in.card(c, out, p)
		if card == nil {
			return err
		}
		write["card"], write["html"] = card.Markdown, card.HTML
		if as == "" {
			return out.write(card.Partial, func(w io.Writer) error { return overview(w, p, write) })
		}
		return out.write(card.Partial, write[as])
	}
	return c
}

// part is what a profile says for the task of --task, where it does not say the same for
// all.
func (i *inputs) part(p *scenarios.Profile) (*scenarios.Profile, error) {
	if p.Parts == nil {
		return p, nil
	}
	panel, err := i.loadPanel()
	if err != nil {
		return nil, err
	}
	served := panel.Served()
	if i.tasks == nil || len(served) != 1 {
		return nil, fmt.Errorf("profile %s has parts for knobs and tasks, and this form says one: --task with the task that it is for would do", scenarios.Shown(p.Name))
	}
	return p.On(served[0].Knob.Name, served[0].Task.Name), nil
}

// card measures a profile against the plain one. When the context ends, the card
// is partial or nil.
func (i *inputs) card(c *cobra.Command, out *output, p *scenarios.Profile) (*export.Card, error) {
	panel, err := i.loadPanel()
	if err != nil {
		return nil, err
	}
	operator, err := i.loadOperator()
	if err != nil {
		return nil, err
	}
	if err := i.affords(80 * 2 * served(panel)); err != nil {
		return nil, err
	}
	bar := out.newProgress("export")
	r, err := compare.Run(c.Context(), &compare.Study{
		Panel: panel, Trials: i.trials, Seed: i.seed, Workers: i.workers, Progress: bar.at,
		Candidates: []compare.Candidate{
			{Name: "plain", Profile: scenarios.Plain(), Operator: operator},
			{Name: p.Name, Profile: p, Operator: operator},
		},
	})
	bar.end()
	if r == nil {
		return nil, err
	}
	card, err := export.NewCard(r, 1)
	if err != nil {
		return nil, failure{err}
	}
	for _, in := range i.Inputs() {
		if in.SHA256 != "" {
			card.Inputs = append(card.Inputs, in.Name+", SHA-256: "+in.SHA256)
		}
	}
	return card, nil
}

// overview says what a profile is and what export would write.
func overview(w io.Writer, p *scenarios.Profile, write map[string]func(io.Writer) error) error {
	var out bytes.Buffer
	fmt.Fprintf(&out, "%s\n\n", columns.Wrap(p.Name+": "+p.About(), columns.Width))
	for _, e := range exports {
		var whole bytes.Buffer
		if write[e.as] == nil {
			fmt.Fprintf(&out, "  --as %-7s  with --task, as the profile has parts\n", e.as)
			continue
		}
		if err := write[e.as](&whole); err != nil {
			return err
		}
		fmt.Fprintf(&out, "  --as %-7s  --output %-12s  %6d bytes  %s\n", e.as, e.file, whole.Len(), e.what)
	}
	fmt.Fprintf(&out, "\nWith --output a file is written, without it --as shows it here.\n")
	_, err := w.Write(out.Bytes())
	return err
}
