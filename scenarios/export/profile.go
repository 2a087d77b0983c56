package export

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v4"

	"dialwright/scenarios"
	"dialwright/scenarios/file"
)

// JSON writes the profile with the keys of a profile file; every quantity carries
// its unit. dialwright reads it back to the identical profile, and the schema of
// profiles holds for it.
func JSON(w io.Writer, p *scenarios.Profile) error {
	text, err := file.Write(p)
	if err != nil {
		return err
	}
	var tree any
	if err := yaml.Unmarshal(text, &tree); err != nil {
		return fmt.Errorf("profile %s: %w", p.Name, err)
	}
	var out bytes.Buffer
	e := json.NewEncoder(&out) // escapes <, > and & for pages
	e.SetIndent("", "  ")
	if err := e.Encode(tree); err != nil {
		return err
	}
	_, err = w.Write(out.Bytes())
	return err
}

// rates are the turning rates of the table, detents per second.
var rates = []float64{1, 2, 3, 4, 5, 6, 8, 10, 12, 14, 16, 18, 20, 22, 25, 28, 32, 36, 40, 50, 60}

// CSV writes the steady gain of the profile at a row of turning rates, and the
// whole steps that four detents at that rate make, from rest not counted.
func CSV(w io.Writer, p *scenarios.Profile) error {
	g, err := p.Acceleration.Compile()
	if err != nil {
		return fmt.Errorf("profile %s: %w", p.Name, err)
	}
	out := csv.NewWriter(w)
	rows := [][]string{{"profile", "rate_per_s", "gain_steps_per_detent", "steps_of_four_detents"}}
	for _, r := range rates {
		gain := g.At(r)
		rows = append(rows, []string{
			cell(p.Name), strconv.FormatFloat(r, 'f', -1, 64), strconv.FormatFloat(gain, 'f', 4, 64), strconv.FormatInt(int64(4*gain+0.5), 10),
		})
	}
	return out.WriteAll(rows)
}

// cell keeps a name from being taken for a formula by a spreadsheet, and on one
// line.
func cell(s string) string {
	s = strings.Join(strings.Fields(s), " ")
	if s != "" && strings.ContainsRune("=+-@|", rune(s[0])) {
		s = "'" + s
	}
	return s
}
