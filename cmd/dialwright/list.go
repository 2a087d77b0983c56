package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"dialwright/scenarios/columns"
	"dialwright/scenarios/file"
	"dialwright/scenarios/workbench"
)

func newList(s streams) *cobra.Command {
	study, kinds := workbench.NewList(file.Loader{}), workbench.Kinds()
	c := &cobra.Command{
		Use:       "list [panels|rigs|profiles|tasks|operators|populations|parts|systems]",
		Short:     "List what is built in",
		Args:      cobra.MatchAll(cobra.MaximumNArgs(1), cobra.OnlyValidArgs),
		ValidArgs: kinds,
	}
	out := newOutput(s, c, "table", "json")
	c.RunE = func(c *cobra.Command, args []string) error {
		if err := out.check(&file.Loader{}); err != nil {
			return err
		}
		r, err := out.run(c, study, args)
		if err != nil {
			return err
		}
		if out.format == "json" {
			return out.result(r)
		}
		show := r.Result.([]workbench.Listed)
		return out.write(false, func(w io.Writer) error {
			for i, l := range show {
				if len(show) > 1 {
					if i > 0 {
						fmt.Fprintln(w)
					}
					fmt.Fprintf(w, "%s\n", l.Kind)
				}
				for _, item := range l.Items() {
					name := fmt.Sprintf("  %-18s  ", item.Name)
					about := columns.Wrap(strings.Repeat(" ", len(name))+item.About, out.width())
					if _, err := fmt.Fprintln(w, name+about[len(name):]); err != nil {
						return err
					}
				}
			}
			return nil
		})
	}
	return c
}
