package file

import (
	"strconv"
	"time"

	"go.yaml.in/yaml/v4"

	"dialwright/scenarios"
)

// section is a mapping of the document. Its keys are taken one by one; those
// that are left over are faults.
type section struct {
	d     *document
	field string // dotted, "" for the top
	node  *yaml.Node
	keys  []*yaml.Node // in the order of the file
	value map[string]*yaml.Node
	known []string // what was asked for, for suggestions
}

// section reads a mapping; anything else is a fault and an empty section.
func (d *document) section(n *yaml.Node, field string) section {
	s := section{d: d, field: field, node: n, value: map[string]*yaml.Node{}}
	if n == nil {
		return s
	}
	if n.Kind != yaml.MappingNode {
		if n.Tag != "!!null" && n.Kind != yaml.AliasNode {
			d.at(n, field, "keys and values are wanted, not %s", shape(n))
		}
		return s
	}
	for i := 0; i+1 < len(n.Content); i += 2 {
		key := n.Content[i]
		if key.Kind != yaml.ScalarNode {
			d.at(key, field, "a key is wanted, not %s", shape(key))
			continue
		}
		if first := s.value[key.Value]; first != nil {
			if field == "" && key.Value == "kind" {
				d.at(key, "kind", "two kinds in one file, %s and %s; one file each would do", scenarios.Shown(first.Value), shape(n.Content[i+1]))
			} else {
				d.at(key, s.path(key.Value), "the key stands here a second time; leave one of them out")
			}
			continue
		}
		s.keys = append(s.keys, key)
		s.value[key.Value] = n.Content[i+1]
	}
	return s
}

func (s *section) path(key string) string {
	if s.field == "" {
		return key
	}
	return s.field + "." + key
}

// take returns the value of a key, nil where it is absent, and ticks it off.
func (s *section) take(key string) *yaml.Node {
	s.known = append(s.known, key)
	n := s.value[key]
	if n != nil {
		s.value[key] = ticked
		if n == ticked {
			return nil
		}
	}
	return n
}

// ticked stands for a value that was taken.
var ticked = &yaml.Node{}

// end makes faults of the keys that nobody asked for.
func (s *section) end() {
	for _, k := range s.keys {
		if s.value[k.Value] != ticked {
			s.d.at(k, s.path(k.Value), "there is no such key; %s", meant(k.Value, s.known))
		}
	}
}

// shape says what a node is, for faults.
func shape(n *yaml.Node) string {
	switch n.Kind {
	case yaml.MappingNode:
		return "keys and values"
	case yaml.SequenceNode:
		return "a list"
	}
	return scenarios.Shown(n.Value)
}

// text reads a plain value.
func (s *section) text(key string) (string, *yaml.Node) {
	n := s.take(key)
	if n == nil {
		return "", nil
	}
	return s.d.text(n, s.path(key)), n
}

// line reads a text that may be empty.
func (s *section) line(key string) string {
	if n := s.value[key]; n != nil && n.Kind == yaml.ScalarNode && n.Value == "" && n.Tag == "!!str" {
		s.take(key)
		return ""
	}
	text, _ := s.text(key)
	return text
}

func (d *document) text(n *yaml.Node, field string) string {
	if n.Kind == yaml.AliasNode { // told already
		return ""
	}
	if n.Kind != yaml.ScalarNode {
		d.at(n, field, "a value is wanted, not %s", shape(n))
		return ""
	}
	if n.Tag == "!!null" || n.Value == "" {
		d.at(n, field, "has no value")
		return ""
	}
	return n.Value
}

// word reads one of a few words and returns its number.
func (s *section) word(key string, words ...string) int {
	text, n := s.text(key)
	if n == nil || text == "" {
		return 0
	}
	for i, w := range words {
		if w == text {
			return i
		}
	}
	s.d.at(n, s.path(key), "there is no choice %s; %s", scenarios.Shown(text), meant(text, words))
	return 0
}

// number reads a quantity; absent keys leave it as it is.
func (s *section) number(key string, q scenarios.Quantity, to *float64) *yaml.Node {
	text, n := s.text(key)
	if n == nil || text == "" {
		return n
	}
	v, err := q.Parse(text)
	if err != nil {
		s.d.fault(n, s.path(key), err)
		return n
	}
	*to = v
	return n
}

// time reads a time.
func (s *section) time(key string, to *time.Duration) *yaml.Node {
	text, n := s.text(key)
	if n == nil || text == "" {
		return n
	}
	v, err := scenarios.ParseTime(text)
	if err != nil {
		s.d.fault(n, s.path(key), err)
		return n
	}
	*to = v
	return n
}

// whole reads a whole number between bounds.
func (s *section) whole(key string, low, high int64, to *int64) *yaml.Node {
	text, n := s.text(key)
	if n == nil || text == "" {
		return n
	}
	v, err := scenarios.Whole.Exact(text)
	if err != nil {
		s.d.fault(n, s.path(key), err)
		return n
	}
	if v < low || v > high {
		s.d.at(n, s.path(key), "%d; a whole number from %d to %d would do", v, low, high)
		return n
	}
	*to = v
	return n
}

// yes reads true or false.
func (s *section) yes(key string) bool {
	text, n := s.text(key)
	switch text {
	case "true":
		return true
	case "", "false":
		return false
	}
	s.d.at(n, s.path(key), "%s is not true or false", scenarios.Shown(text))
	return false
}

// list returns the elements of a list.
func (s *section) list(key string) []*yaml.Node {
	n := s.take(key)
	if n == nil {
		return nil
	}
	if n.Kind != yaml.SequenceNode {
		s.d.at(n, s.path(key), "a list is wanted, not %s", shape(n))
		return nil
	}
	if len(n.Content) == 0 {
		s.d.at(n, s.path(key), "the list is empty")
	}
	return n.Content
}

// must returns the elements of a list that cannot be left out.
func (s *section) must(key string) []*yaml.Node {
	if s.value[key] == nil {
		s.d.at(s.node, s.path(key), "is missing; a list would do")
	}
	return s.list(key)
}

// words reads a list of words.
func (s *section) words(key string, of []string) []int {
	var picked []int
	for i, n := range s.list(key) {
		field := s.path(key) + "[" + strconv.Itoa(i) + "]"
		text := s.d.text(n, field)
		found := false
		for k, w := range of {
			if w == text {
				picked, found = append(picked, k), true
			}
		}
		if !found && text != "" {
			s.d.at(n, field, "there is no choice %s; %s", scenarios.Shown(text), meant(text, of))
		}
	}
	return picked
}

// sub reads a mapping below a key.
func (s *section) sub(key string) (section, bool) {
	n := s.take(key)
	return s.d.section(n, s.path(key)), n != nil
}

// name reads the name that every file has.
func (s *section) name() string {
	text, n := s.text("name")
	if n == nil {
		s.d.at(s.node, "name", "is missing; any short name would do")
	}
	return text
}
