package main

import (
	"io"
	"strings"

	"github.com/spf13/cobra"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/encoder/part"
	"dialwright/scenarios/file"
)

func newNew(s streams) *cobra.Command {
	var t file.Template
	c := &cobra.Command{
		Use:   "new rig|panel|profile|task|operator|population",
		Short: "Write a commented file to fill in",
		Example: `  dialwright new rig --part 15x30 --output my-rig.yaml
  dialwright new rig --device keys --system linux
  dialwright new profile --curve ladder
  dialwright new operator --name me --output me.yaml`,
		Args:      cobra.MatchAll(cobra.ExactArgs(1), cobra.OnlyValidArgs),
		ValidArgs: file.Kinds,
	}
	f := c.Flags()
	f.StringVar(&t.Name, "name", "", "the name in the file")
	f.StringVar(&t.Part, "part", "", "rig: a part of dialwright list parts")
	f.StringVar(&t.System, "system", "", "rig: a system of dialwright list systems, for its key repeat")
	f.StringVar(&t.Output, "device", "", "rig: what the firmware sends: "+strings.Join(encoder.Words[encoder.Output](), ", "))
	f.StringVar(&t.Curve, "curve", "", "profile: "+strings.Join(accel.CurveWords(), ", "))
	mustComplete(c, "part", part.Names())
	mustComplete(c, "system", part.SystemNames())
	mustComplete(c, "device", encoder.Words[encoder.Output]())
	mustComplete(c, "curve", accel.CurveWords())
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
