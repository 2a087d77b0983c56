package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"dialwright/encoder/part"
	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/file"
)

func newShow(s streams) *cobra.Command {
	in := newInputs(s)
	c := &cobra.Command{
		Use:   "show NAME",
		Short: "Show anything built in as the file one would write",
		Long: `Show prints a built-in panel, rig, profile, task, operator or population as a file: a start for one
of your own. Of a part or a system it prints a rig that has it.`,
		Example: `  dialwright show left-pulse --output mine.yaml
  dialwright show practised`,
		Args:              cobra.ExactArgs(1),
		ValidArgsFunction: completeNames(shown(in)),
	}
	out := newOutput(s, c, "yaml")
	c.RunE = func(_ *cobra.Command, args []string) error {
		if err := out.check(&in.Loader); err != nil {
			return err
		}
		text, err := show(in, args[0])
		if err != nil {
			return err
		}
		return out.write(false, func(w io.Writer) error {
			_, err := w.Write(text)
			return err
		})
	}
	return c
}

// shown returns the name of everything that is built in.
func shown(in *inputs) []string {
	var all []string
	for _, names := range [][]string{in.Panels.Names, in.Rigs.Names, in.Profiles.Names, in.Tasks.Names, in.Operators.Names, in.Populations.Names, part.Names(), part.SystemNames()} {
		all = append(all, names...)
	}
	return all
}

// show returns the file of something built in.
func show(in *inputs, name string) ([]byte, error) {
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
	if near := scenarios.Nearest(name, shown(in)); near != "" {
		would = "did you mean " + near + "?"
	}
	return nil, fmt.Errorf("there is nothing built in called %s; %s", scenarios.Shown(name), would)
}
