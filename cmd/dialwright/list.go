package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"dialwright/encoder/part"
	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/file"
)

// listed is one kind of built-in things.
type listed struct {
	kind  string
	items func() []demo.Item
}

var lists = []listed{
	{"panels", demo.Panels},
	{"rigs", demo.Rigs},
	{"profiles", profileItems},
	{"tasks", demo.Tasks},
	{"operators", operatorItems},
	{"populations", demo.Populations},
	{"parts", partItems},
	{"systems", systemItems},
}

func newList(s streams) *cobra.Command {
	var kinds []string
	for _, l := range lists {
		kinds = append(kinds, l.kind)
	}
	c := &cobra.Command{
		Use:       "list [panels|rigs|profiles|tasks|operators|populations|parts|systems]",
		Short:     "List what is built in",
		Args:      cobra.MatchAll(cobra.MaximumNArgs(1), cobra.OnlyValidArgs),
		ValidArgs: kinds,
	}
	out := newOutput(s, c, "table", "json")
	c.RunE = func(_ *cobra.Command, args []string) error {
		if err := out.check(&file.Loader{}); err != nil {
			return err
		}
		show := lists
		if len(args) == 1 {
			show = lists[slices.Index(kinds, args[0]):][:1]
		}
		return out.write(false, func(w io.Writer) error {
			if out.format == "json" {
				return listJSON(w, show)
			}
			for i, l := range show {
				if len(show) > 1 {
					if i > 0 {
						fmt.Fprintln(w)
					}
					fmt.Fprintf(w, "%s\n", l.kind)
				}
				for _, item := range l.items() {
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

func listJSON(w io.Writer, show []listed) error {
	result := map[string]columns.Table{}
	for _, l := range show {
		result[l.kind] = columns.Table{Columns: []columns.Column{{Keys: []string{"name", "about"}}}, Rows: func(yield func([]columns.Cell) bool) {
			for _, i := range l.items() {
				if !yield([]columns.Cell{columns.Of(i.Name, i.About)}) {
					return
				}
			}
		}}
	}
	return writeJSON(w, (&inputs{}).header("list", false), result)
}

func profileItems() []demo.Item {
	var items []demo.Item
	for _, p := range scenarios.Profiles() {
		items = append(items, demo.Item{Name: p.Name, About: p.About()})
	}
	return items
}

func operatorItems() []demo.Item {
	var items []demo.Item
	for _, o := range scenarios.Operators() {
		items = append(items, demo.Item{Name: o.Name, About: fmt.Sprintf("turns at %.0f to %.0f°/s, reaches %.0f° between two regrips", o.SlowDegPerS.Mean, o.FastDegPerS.Mean, o.ReachDeg.Mean)})
	}
	return items
}

func partItems() []demo.Item {
	var items []demo.Item
	for _, p := range part.Parts() {
		about := fmt.Sprintf("smooth, %d cycles a turn; %s", p.Cycles, p.Sheet)
		if p.Detents > 0 {
			about = fmt.Sprintf("%d detents, %d cycles a turn, bounce up to %s; %s", p.Detents, p.Cycles, scenarios.Spoken(p.Bounce), p.Sheet)
		}
		items = append(items, demo.Item{Name: p.Name, About: about})
	}
	return items
}

func systemItems() []demo.Item {
	var items []demo.Item
	for _, x := range part.Systems() {
		items = append(items, demo.Item{Name: x.Name, About: fmt.Sprintf("key repeat after %s, %.4g a second; %s", scenarios.Spoken(x.Repeat.Delay), float64(x.Repeat.Rate), x.Full)})
	}
	return items
}
