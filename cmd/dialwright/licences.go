package main

import (
	_ "embed"
	"io"

	"github.com/spf13/cobra"

	"dialwright/scenarios/file"
)

// notices are the licences of everything that is built into the program; .ci/notices
// writes them.
//
//go:embed notices.txt
var notices string

func newLicences(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "licences",
		Short: "Show what is built in from others, and their licences",
		Long: `Licences prints the licence of every module that is built into the program, as those
licences ask.`,
		Args: cobra.NoArgs,
	}
	out := newOutput(s, c, "text")
	c.RunE = func(*cobra.Command, []string) error {
		if err := out.check(&file.Loader{}); err != nil {
			return err
		}
		return out.write(false, func(w io.Writer) error {
			_, err := io.WriteString(w, notices)
			return err
		})
	}
	return c
}
