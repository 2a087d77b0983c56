package main

import "github.com/spf13/cobra"

// completeNames lets the shell complete arguments from built-in names, or files.
func completeNames(names []string) cobra.CompletionFunc {
	return func(*cobra.Command, []string, string) ([]cobra.Completion, cobra.ShellCompDirective) {
		return names, cobra.ShellCompDirectiveDefault
	}
}

// complete lets the shell complete the shared flags that a command has.
func (i *inputs) complete(c *cobra.Command) {
	for flag, names := range map[string][]string{
		"panel": i.Panels.Names, "rig": i.Rigs.Names, "profile": i.Profiles.Names,
		"operator": i.Operators.Names, "task": i.Tasks.Names,
	} {
		if c.Flags().Lookup(flag) != nil {
			mustComplete(c, flag, names)
		}
	}
}
