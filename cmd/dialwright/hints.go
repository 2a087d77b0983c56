package main

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/workbench"
)

// forgive gives every command below a root errors that say what would work, and help
// that fits its terminal.
func forgive(s streams, root *cobra.Command) {
	names := func() (all []string) {
		for _, c := range root.Commands() {
			all = append(all, c.Name())
		}
		return all
	}
	noSuch := func(written string) error {
		would := "dialwright --help lists them"
		if near := scenarios.Nearest(written, names()); near != "" {
			would = "did you mean " + near + "?"
		}
		return fmt.Errorf("there is no command %s; %s", scenarios.Shown(written), would)
	}
	root.Args = func(_ *cobra.Command, args []string) error {
		if len(args) > 0 {
			return noSuch(args[0])
		}
		return nil
	}
	root.SetFlagErrorFunc(wrongFlag)
	root.SetHelpFunc(func(c *cobra.Command, _ []string) {
		var text bytes.Buffer
		about := cmp.Or(c.Long, c.Short)
		for paragraph := range strings.SplitSeq(about, "\n\n") {
			fmt.Fprintf(&text, "%s\n\n", columns.Wrap(paragraph, widthOf(s.out)))
		}
		text.WriteString(columns.Hang(c.UsageString(), widthOf(s.out)))
		_, _ = printed(c.OutOrStdout()).Write(text.Bytes()) // run asks whether it could
	})
	root.SetHelpCommand(&cobra.Command{
		Use: "help [COMMAND]", Short: "Show what a command does and its flags",
		ValidArgsFunction: completeNames(names()),
		RunE: func(_ *cobra.Command, args []string) error {
			c, _, err := root.Find(args)
			if err != nil || c == root && len(args) > 0 {
				return noSuch(args[0])
			}
			return c.Help()
		},
	})
	for _, c := range root.Commands() {
		check := c.Args
		if check == nil {
			continue
		}
		c.Args = func(c *cobra.Command, args []string) error {
			if err := check(c, args); err != nil {
				return wrongArguments(c, args, err)
			}
			return nil
		}
	}
}

// wrongArguments says what would work instead of arguments that a command cannot take.
func wrongArguments(c *cobra.Command, args []string, err error) error {
	_, takes, _ := strings.Cut(c.Use, " ")
	switch {
	case takes == "":
		return fmt.Errorf("%s takes no argument; %s", c.Name(), instead(c, args[0]))
	case len(args) == 0 && len(c.ValidArgs) > 0:
		return fmt.Errorf("%s what? %s would do", c.Name(), columns.Either(c.ValidArgs))
	case len(args) == 0 && c.Example != "":
		first, _, _ := strings.Cut(strings.TrimSpace(c.Example), "\n")
		return fmt.Errorf("%w; for example: %s", trimmed(err), first)
	case len(args) == 1 && len(c.ValidArgs) > 0:
		would := columns.Either(c.ValidArgs) + " would do"
		if near := scenarios.Nearest(args[0], c.ValidArgs); near != "" {
			would = "did you mean " + near + "?"
		}
		return fmt.Errorf("%s: there is no %s; %s", c.Name(), scenarios.Shown(args[0]), would)
	}
	return fmt.Errorf("%w; %s --help says what it takes", trimmed(err), c.CommandPath())
}

// trimmed says of a command of ours what cobra says of any.
func trimmed(err error) error {
	return errors.New(strings.ReplaceAll(err.Error(), "arg(s)", "argument"))
}

// instead finds the flag that takes what was written as an argument.
func instead(c *cobra.Command, written string) string {
	in := builtins(streams{})
	for _, x := range []struct {
		flag  string
		names []string
	}{
		{"task", in.Tasks.Names}, {"profile", in.Profiles.Names}, {"rig", in.Rigs.Names}, {"panel", in.Panels.Names}, {"operator", in.Operators.Names},
	} {
		if c.Flags().Lookup(x.flag) != nil && (slices.Contains(x.names, written) || len(workbench.Family(written, x.names)) > 0) {
			return fmt.Sprintf("--%s %s would do", x.flag, written)
		}
	}
	return c.CommandPath() + " --help lists the flags"
}

// wrongFlag says what would work instead of a flag, or its value.
func wrongFlag(c *cobra.Command, err error) error {
	var invalid *pflag.InvalidValueError
	var unknown *pflag.NotExistError
	more := c.CommandPath() + " --help lists the flags"
	switch {
	case errors.As(err, &invalid):
		would := map[string]string{"int": "a whole number", "uint64": "a whole number from 0", "bool": "true or false"}[invalid.GetFlag().Value.Type()]
		if would == "" {
			break
		}
		return fmt.Errorf("--%s: %s; %s would do", invalid.GetFlag().Name, scenarios.Shown(invalid.GetValue()), would)
	case errors.As(err, &unknown):
		var names []string
		c.Flags().VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
		if near := scenarios.Nearest(unknown.GetSpecifiedName(), names); near != "" && unknown.GetSpecifiedShortnames() == "" {
			return fmt.Errorf("unknown flag: --%s; did you mean --%s?", columns.Line(unknown.GetSpecifiedName()), near)
		}
	}
	return fmt.Errorf("%s; %s", columns.Line(err.Error()), more)
}
