package file

import (
	"bytes"
	"fmt"
	"strings"

	"go.yaml.in/yaml/v4"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
)

// Rewrite returns a file's text changed so that it reads as another thing of the
// same kind. Comments, empty lines and the order of keys stay; a key that the
// file has keeps its place, also where it only says what would hold anyhow; new
// keys come last. A preset stays where it still holds.
func Rewrite(text []byte, thing any) ([]byte, error) {
	carriage := bytes.Contains(text, []byte("\r\n"))
	text, err := plain(text)
	if err != nil {
		return nil, err
	}
	text = bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n"))
	out, err := rewrite(markEmptyLines(text), thing)
	if err != nil { // an empty line inside a value is no comment
		out, err = rewrite(text, thing)
	}
	if err != nil {
		return nil, err
	}
	out = unmarkEmptyLines(out)
	if carriage {
		out = bytes.ReplaceAll(out, []byte("\n"), []byte("\r\n"))
	}
	return out, nil
}

func rewrite(text []byte, thing any) ([]byte, error) {
	var root yaml.Node
	if err := yaml.Load(text, &root); err != nil {
		return nil, fmt.Errorf("the file to change: %w", err)
	}
	if root.Kind != yaml.DocumentNode || len(root.Content) != 1 || root.Content[0].Kind != yaml.MappingNode {
		return nil, fmt.Errorf("the file to change has no keys")
	}
	old := root.Content[0]
	all, err := tree(thing, nil)
	if err != nil {
		return nil, err
	}
	must := all
	switch v := thing.(type) {
	case *scenarios.Rig:
		base := presets(old)
		if must, err = tree(v, &base); err != nil {
			return nil, err
		}
		keepPresets(all, must, old, v)
	case *scenarios.Profile:
		if all, err = tree(v, nil); err != nil {
			return nil, err
		}
		anyhow(all, old)
	}
	merge(old, must, all)
	return encode(&root)
}

// merge makes a mapping say what another one says. Keys of must are put in; keys
// that are in all alone stay where they are there already.
func merge(old, must, all *yaml.Node) {
	var kept []*yaml.Node
	for i := 0; i+1 < len(old.Content); i += 2 {
		key, value := old.Content[i], old.Content[i+1]
		want := under(all, key.Value)
		if want == nil {
			continue
		}
		if value.Kind == yaml.MappingNode && want.Kind == yaml.MappingNode {
			need := under(must, key.Value)
			if need == nil {
				need = &yaml.Node{Kind: yaml.MappingNode}
			}
			empty := len(value.Content) == 0
			if merge(value, need, want); len(value.Content) == 0 && !empty {
				continue
			}
		} else if !alike(value, want) {
			change := *want
			if value.Kind == want.Kind && value.Kind == yaml.ScalarNode && value.Style != 0 && want.Tag != "!!int" {
				change.Style = value.Style // quotes stay
			}
			change.HeadComment, change.LineComment, change.FootComment = value.HeadComment, value.LineComment, value.FootComment
			*value = change
		}
		kept = append(kept, key, value)
	}
	for i := 0; i+1 < len(must.Content); i += 2 {
		if key := must.Content[i]; under(old, key.Value) == nil {
			kept = append(kept, key, must.Content[i+1])
		}
	}
	old.Content = kept
}

// under returns the value of a key in a mapping, or nil.
func under(n *yaml.Node, key string) *yaml.Node {
	for i := 0; n != nil && n.Kind == yaml.MappingNode && i+1 < len(n.Content); i += 2 {
		if n.Content[i].Value == key {
			return n.Content[i+1]
		}
	}
	return nil
}

// alike says whether two nodes say the same.
func alike(a, b *yaml.Node) bool {
	if a.Kind != b.Kind || a.Value != b.Value || len(a.Content) != len(b.Content) {
		return false
	}
	for i := range a.Content {
		if !alike(a.Content[i], b.Content[i]) {
			return false
		}
	}
	return true
}

// presets returns the default rig with the presets that a rig file names.
func presets(old *yaml.Node) encoder.Rig {
	base := encoder.Default()
	if p := under(under(old, "knob"), "part"); p != nil {
		_ = scenarios.Set(&base, "knob.part", p.Value) // a bad one changes nothing and goes when the file is read again
	}
	if p := under(under(old, "system"), "repeat"); p != nil && p.Kind == yaml.ScalarNode {
		_ = scenarios.Set(&base, "system.repeat", p.Value)
	}
	return base
}

// keepPresets puts the presets of a rig file that still hold into the document
// that is to come.
func keepPresets(all, must, old *yaml.Node, r *scenarios.Rig) {
	keep := func(in *yaml.Node, group, key string, value *yaml.Node) {
		if under(in, group) == nil {
			put(in, group, &yaml.Node{Kind: yaml.MappingNode})
		}
		put(under(in, group), key, value)
	}
	if p := under(under(old, "knob"), "part"); p != nil {
		keep(all, "knob", "part", p)
	}
	if p := under(under(old, "system"), "repeat"); p != nil && p.Kind == yaml.ScalarNode {
		base := presets(old)
		if base.System.Repeat == r.System.Repeat && under(under(all, "system"), "repeat") != nil {
			keep(all, "system", "repeat", p)
		} else if n := under(under(all, "system"), "repeat"); n != nil {
			keep(must, "system", "repeat", n) // in full: its preset goes
		}
	}
	if p := under(under(old, "usb"), "poll"); p != nil && p.Kind == yaml.MappingNode {
		if d := (&document{}); d.pollOf(p) == scenarios.Get(&r.Rig, "usb.poll") {
			keep(all, "usb", "poll", p)
		}
	}
}

// anyhow puts words of a profile that would hold without being written into the
// document that is to come, where the file has them.
func anyhow(all, old *yaml.Node) {
	var home encoder.Home
	var rate accel.Rate
	var steps accel.Steps
	for key, word := range map[string]string{
		"acceleration.home": home.String(), "acceleration.tick": "1ms", "acceleration.steps": steps.String(),
		"acceleration.rate.from": rate.From.String(), "acceleration.rate.reversal": rate.Reversal.String(),
	} {
		has, comes := old, all
		for name := range strings.SplitSeq(key, ".") {
			has, comes = under(has, name), under(comes, name)
		}
		if has != nil && comes == nil {
			put(all, key, &yaml.Node{Kind: yaml.ScalarNode, Value: word})
		}
	}
}

// emptyLine stands for an empty line while a document is a tree, which has no
// place for one.
const emptyLine = "#\u2205"

func markEmptyLines(text []byte) []byte {
	lines := strings.Split(string(text), "\n")
	for i, l := range lines[:len(lines)-1] {
		if strings.TrimSpace(l) == "" {
			lines[i] = emptyLine
		}
	}
	return []byte(strings.Join(lines, "\n"))
}

func unmarkEmptyLines(text []byte) []byte {
	var lines []string
	for l := range strings.SplitSeq(string(text), "\n") {
		if strings.TrimSpace(l) == emptyLine {
			l = ""
		}
		lines = append(lines, l)
	}
	return []byte(strings.Join(lines, "\n"))
}
