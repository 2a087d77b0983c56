package main

import (
	"io"
	"strings"

	"github.com/spf13/cobra"

	"dialwright/encoder/part"
	"dialwright/scenarios/file"
)

func newNew(s streams) *cobra.Command {
	var t file.Template
	kinds := []string{"rig", "panel", "profile", "task"}
	c := &cobra.Command{
		Use:   "new rig|panel|profile|task",
		Short: "Write a commented file to fill in",
		Example: `  dialwright new rig --part 15x30 --output my-rig.yaml
  dialwright new rig --device keys --system linux
  dialwright new profile --curve ladder`,
		Args:      cobra.MatchAll(cobra.ExactArgs(1), cobra.OnlyValidArgs),
		ValidArgs: kinds,
	}
	f := c.Flags()
	f.StringVar(&t.Name, "name", "", "the name in the file")
	f.StringVar(&t.Part, "part", "", "rig: a part of dialwright list parts")
	f.StringVar(&t.System, "system", "", "rig: a system of dialwright list systems, for its key repeat")
	f.StringVar(&t.Output, "device", "", "rig: what the firmware sends: buttons, keys, relative or axis")
	f.StringVar(&t.Curve, "curve", "", "profile: "+strings.Join(file.TemplateCurves, ", "))
	mustComplete(c, "part", part.Names())
	mustComplete(c, "system", part.SystemNames())
	mustComplete(c, "device", []string{"buttons", "keys", "relative", "axis"})
	mustComplete(c, "curve", file.TemplateCurves)
	out := newOutput(s, c, "yaml")
	c.RunE = func(_ *cobra.Command, args []string) error {
		t.Kind = args[0]
		if err := out.check(&file.Loader{}); err != nil {
			return err
		}
		text, err := file.New(t)
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
