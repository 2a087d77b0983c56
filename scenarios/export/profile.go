package export

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v4"

	"dialwright/accel"
	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/file"
)

// JSON writes the profile with the keys, in the order and with the units of a
// profile file. dialwright reads it back to the identical profile, and the JSON
// Schema of profiles (file.Schema) says what every key is and holds for it.
func JSON(w io.Writer, p *scenarios.Profile) error {
	document, err := file.Tree(p)
	if err != nil {
		return err
	}
	var flat, out bytes.Buffer
	if err := inOrder(&flat, document); err != nil {
		return fmt.Errorf("profile %s: %w", p.Name, err)
	}
	if err := json.Indent(&out, flat.Bytes(), "", "  "); err != nil {
		return err
	}
	out.WriteByte('\n')
	_, err = w.Write(out.Bytes())
	return err
}

// under returns what a key of a mapping holds, or nil.
func under(n *yaml.Node, key string) *yaml.Node {
	for i := 0; i+1 < len(n.Content); i += 2 {
		if n.Content[i].Value == key {
			return n.Content[i+1]
		}
	}
	return nil
}

// flow writes a tree on one line, as it stands in a file.
func flow(n *yaml.Node) string {
	if n.Kind == yaml.ScalarNode {
		return n.Value
	}
	sequence := n.Kind == yaml.SequenceNode
	var parts []string
	for i := 0; i < len(n.Content); i++ {
		if sequence {
			parts = append(parts, flow(n.Content[i]))
			continue
		}
		parts = append(parts, n.Content[i].Value+": "+flow(n.Content[i+1]))
		i++
	}
	if sequence {
		return "[" + strings.Join(parts, ", ") + "]"
	}
	return "{" + strings.Join(parts, ", ") + "}"
}

// inOrder writes a tree as JSON without sorting its keys.
func inOrder(out *bytes.Buffer, n *yaml.Node) error {
	switch n.Kind {
	case yaml.MappingNode, yaml.SequenceNode:
		brackets := "{}"
		if n.Kind == yaml.SequenceNode {
			brackets = "[]"
		}
		out.WriteByte(brackets[0])
		for i, c := range n.Content {
			switch {
			case n.Kind == yaml.MappingNode && i%2 == 1:
				out.WriteByte(':')
			case i > 0:
				out.WriteByte(',')
			}
			if err := inOrder(out, c); err != nil {
				return err
			}
		}
		out.WriteByte(brackets[1])
		return nil
	}
	var value any
	if err := n.Decode(&value); err != nil {
		return err
	}
	text, err := json.Marshal(value) // escapes <, > and & for pages
	out.Write(text)
	return err
}

// rates are the turning rates of the table, detents per second.
var rates = []float64{1, 2, 3, 4, 5, 6, 8, 10, 12, 14, 16, 18, 20, 22, 25, 28, 32, 36, 40, 50, 60}

// CSV writes, for a row of turning rates, the gain of the profile once the rate
// estimate has settled, and the whole steps that a hundred detents then make,
// counted detent by detent up from the number 0. The two tell different things
// where gains are rounded or the number lands on multiples.
func CSV(w io.Writer, p *scenarios.Profile) error {
	g, err := p.Acceleration.Compile()
	if err != nil {
		return fmt.Errorf("profile %s: %w", p.Name, err)
	}
	var rows [][]columns.Cell
	for _, r := range rates {
		rows = append(rows, []columns.Cell{columns.Of(p.Name, r, columns.Written(strconv.FormatFloat(g.At(r), 'f', 4, 64)), hundred(g, r))})
	}
	return columns.Table{
		Columns: []columns.Column{{Keys: []string{"profile", "rate_per_s", "gain_steps_per_detent", "steps_of_100_detents"}}},
		Rows:    slices.Values(rows),
	}.CSV(w)
}

// hundred returns the steps of a hundred detents at a steady rate.
func hundred(g *accel.Gain, rate float64) int64 {
	gap := int64(math.Round(float64(g.TicksPerSecond) / rate))
	var s accel.Memory
	now, number := int64(0), int64(0)
	turn := func(detents int64) {
		for range detents {
			now += gap
			number += g.Detent(&s, now, +1, number)
		}
	}
	turn(40 + 8*int64(g.Rest)/gap) // an average reaches over a rest at most
	from := number
	turn(100)
	return number - from
}
