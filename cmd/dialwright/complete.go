package main

import "github.com/spf13/cobra"

// completeNames lets the shell complete arguments from built-in names, or files.
func completeNames(names []string) cobra.CompletionFunc {
	return func(*cobra.Command, []string, string) ([]cobra.Completion, cobra.ShellCompDirective) {
		return names, cobra.ShellCompDirectiveDefault
	}
}
