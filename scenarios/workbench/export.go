package workbench

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/compare"
	"dialwright/scenarios/export"
	"dialwright/scenarios/file"
)

// exported is one form that a profile can be written in.
type exported struct{ as, file, what string }

var exports = []exported{
	{"c", "dial.h", "C99 header for a firmware"},
	{"vectors", "vectors.csv", "its test vectors"},
	{"js", "dial.js", "the same as an ES module"},
	{"json", "profile.json", "the profile for a program"},
	{"csv", "gain.csv", "rate, gain, steps"},
	{"card", "card.md", "what to set and expect"},
	{"html", "card.html", "the same, to print"},
}

// Export writes a profile for a firmware, a program or a printed card.
type Export struct {
	Asked
	as string // the form; without one, the answer is what could be written
}

// NewExport returns the export of the built-in profile power.
func NewExport(l file.Loader) *Export {
	e := &Export{Asked: NewAsked(l, 400)}
	e.profile = ""
	return e
}

// Forms are the words for the forms.
func Forms() (forms []string) {
	for _, e := range exports {
		forms = append(forms, e.as)
	}
	return forms
}

// Command is how it is asked on a command line.
func (e *Export) Command() Command {
	return Command{
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
		Forms: []string{"text"},
		Words: e.Profiles.Names,
	}
}

// Flags are what can be asked.
func (e *Export) Flags() []Flag {
	return append(e.TrialFlags("trials a cell"),
		Flag{Name: "as", Usage: strings.Join(Forms(), ", "), Value: &e.as, Words: Forms()},
		e.profileFlag("like the argument: a built-in name or a file"),
		e.panelFlag(),
		e.rigFlag("rig of every knob: a built-in name or a file"),
		e.operatorFlag("card: operator: a built-in name or a file"),
		e.taskFlag())
}

// Check says what is wrong with the flags.
func (e *Export) Check(args []string) error {
	faults := []error{e.CheckTrials()}
	switch {
	case e.as != "" && !slices.Contains(Forms(), e.as):
		faults = append(faults, fmt.Errorf("--as: %q; %s would do", e.as, strings.Join(Forms(), ", ")))
	case e.as == "" && e.given("output"):
		faults = append(faults, fmt.Errorf("--output without --as; --as %s would do", strings.Join(Forms(), ", ")))
	case len(args) > 1:
		faults = append(faults, fmt.Errorf("%d profiles; export takes one", len(args)))
	case e.profile != "" && len(args) == 1:
		faults = append(faults, errors.New("the profile is given twice; as an argument or as --profile would do"))
	}
	return errors.Join(faults...)
}

// Run writes the profile that is named, as an argument or by --profile.
func (e *Export) Run(ctx context.Context, args []string, at Progress) (*Outcome, error) {
	switch {
	case len(args) == 1:
		e.profile = args[0]
	case e.profile == "":
		e.profile = "power"
	}
	p, err := e.Profile(e.profile)
	if err != nil {
		return nil, err
	}
	part := p
	if e.as == "c" || e.as == "vectors" || e.as == "js" || e.as == "csv" || e.as == "" {
		part, err = e.part(p)
		if err != nil && e.as != "" {
			return nil, err
		}
	}
	write := map[string]func(io.Writer) error{
		"json": func(w io.Writer) error { return export.JSON(w, p) },
	}
	if part != nil {
		on, err := e.turned()
		if err != nil {
			return nil, err
		}
		write["c"] = func(w io.Writer) error { return export.Header(w, part, on...) }
		write["js"] = func(w io.Writer) error { return export.Module(w, part, on...) }
		write["vectors"] = func(w io.Writer) error { return export.Vectors(w, part) }
		write["csv"] = func(w io.Writer) error { return export.CSV(w, part) }
	}
	if render, ok := write[e.as]; ok {
		return &Outcome{Header: e.Header("export", false), Text: render}, nil
	}
	card, err := e.card(ctx, p, at)
	if card == nil {
		return nil, err
	}
	write["card"], write["html"] = card.Markdown, card.HTML
	render := write[e.as]
	if e.as == "" {
		render = func(w io.Writer) error { return overview(w, p, write) }
	}
	return &Outcome{Header: e.Header("export", card.Partial), Text: render}, nil
}

// part is what a profile says for the task of --task, where it does not say the same for
// all.
func (i *Asked) part(p *scenarios.Profile) (*scenarios.Profile, error) {
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

// turned are the rigs of the panel.
func (i *Asked) turned() (list []*scenarios.Rig, err error) {
	panel, err := i.loadPanel()
	if err != nil {
		return nil, err
	}
	for _, u := range panel.Served() {
		for _, r := range []*scenarios.Rig{u.Knob.Inner, u.Knob.Outer} {
			if r != nil && !slices.Contains(list, r) {
				list = append(list, r)
			}
		}
	}
	return list, nil
}

// card measures a profile against the plain one. When the context ends, the card
// is partial or nil.
func (i *Asked) card(ctx context.Context, p *scenarios.Profile, at Progress) (*export.Card, error) {
	panel, err := i.loadPanel()
	if err != nil {
		return nil, err
	}
	operator, err := i.loadOperator()
	if err != nil {
		return nil, err
	}
	r, err := compare.Run(ctx, &compare.Study{
		Panel: panel, Trials: i.Trials, Seed: i.Seed, Workers: i.Workers, Progress: at.at,
		Candidates: []compare.Candidate{
			{Name: "plain", Profile: scenarios.Plain(), Operator: operator},
			{Name: p.Name, Profile: p, Operator: operator},
		},
	})
	if r == nil {
		return nil, err
	}
	card, err := export.NewCard(r, 1)
	if err != nil {
		return nil, Failed(err)
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
	fmt.Fprintf(&out, "%s\n\n", columns.Wrap(p.Name+": "+p.About(nil), columns.Width))
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
