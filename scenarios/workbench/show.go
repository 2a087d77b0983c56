package workbench

import (
	"context"
	"fmt"
	"io"

	"dialwright/encoder/part"
	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/file"
)

// Show gives anything built in as the file one would write.
type Show struct{ Asked }

// NewShow returns the question for a file.
func NewShow(l file.Loader) *Show { return &Show{Asked{Loader: l}} }

// Command is how it is asked on a command line.
func (s *Show) Command() Command {
	return Command{
		Use:   "show NAME",
		Short: "Show anything built in as the file one would write",
		Long: `Show prints a built-in panel, rig, profile, task, operator or population as a file: a start for one
of your own. Of a part or a system it prints a rig that has it.`,
		Example: `  dialwright show left-pulse --output mine.yaml
  dialwright show practised`,
		Forms: []string{"yaml"},
		Words: Shown(&s.Loader),
	}
}

// Flags are what can be asked: nothing but the name.
func (*Show) Flags() []Flag { return nil }

// Check wants one name.
func (*Show) Check(args []string) error {
	if len(args) != 1 {
		return fmt.Errorf("show takes one name, and was given %d", len(args))
	}
	return nil
}

// Run finds the file.
func (s *Show) Run(_ context.Context, args []string, _ Progress) (*Outcome, error) {
	text, err := show(&s.Loader, args[0])
	if err != nil {
		return nil, err
	}
	return &Outcome{Header: s.Header("show", false), Text: func(w io.Writer) error {
		_, err := w.Write(text)
		return err
	}}, nil
}

// Shown returns the name of everything that is built in.
func Shown(in *file.Loader) []string {
	var all []string
	for _, names := range [][]string{in.Panels.Names, in.Rigs.Names, in.Profiles.Names, in.Tasks.Names, in.Operators.Names, in.Populations.Names, part.Names(), part.SystemNames()} {
		all = append(all, names...)
	}
	return all
}

// show returns the file of something built in.
func show(in *file.Loader, name string) ([]byte, error) {
	if text := demo.Text(name); text != nil {
		return text, nil
	}
	if p := in.Profiles.Find(name); p != nil {
		return file.Write(p)
	}
	if t := in.Tasks.Find(name); t != nil {
		return file.Write(t)
	}
	if o := in.Operators.Find(name); o != nil {
		return file.Write(o)
	}
	if _, ok := part.Named(name); ok {
		return file.New(file.Template{Kind: "rig", Name: name, Part: name})
	}
	if _, ok := part.SystemNamed(name); ok {
		return file.New(file.Template{Kind: "rig", Name: name, Output: "keys", System: name})
	}
	would := "dialwright list names everything"
	if near := scenarios.Nearest(name, Shown(in)); near != "" {
		would = "did you mean " + near + "?"
	}
	return nil, fmt.Errorf("there is nothing built in called %s; %s", scenarios.Shown(name), would)
}
