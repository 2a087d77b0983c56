package main

import (
	"cmp"
	"encoding/json"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// Every JSON result is as its schema says, and the schema refuses another format, a
// word for a number, and a result without what belongs there.
func TestResultsAreAsTheirSchemasSay(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	for command, args := range map[string]string{
		"compare": "--trials 20", "overshoot": "--trials 20", "explain": "--trials 10 --task heading --what-if firmware.pulse=40ms",
		"tune": "--task nav --trials 40 --was middle-keys --profile power", "decide": "--decide output --task nav --trials 40", "over": "--over households --rigs 20 --trials 20", "follow": "--turn '12 in 500ms'", "evidence": "B1 B2 --trials 20",
		"fit": "--count 'turned 24 in 12s shown 24' --count 'turned 24 in 2.4s shown 17'", "report": "--task nav --trials 40", "survey": "--rigs 30 --trials 2 --profile plain --profile linear",
	} {
		var schema, result, errs strings.Builder
		if code := run(t.Context(), []string{"check", "--schema", command}, strings.NewReader(""), &schema, &errs); code != exitDone {
			t.Fatalf("%s: %s", command, errs.String())
		}
		if code := run(t.Context(), append([]string{cmp.Or(map[string]string{"decide": "tune", "over": "tune"}[command], command), "--format", "json"}, words(args)...), strings.NewReader(""), &result, &errs); code != exitDone {
			t.Fatalf("%s: %s", command, errs.String())
		}
		tree, err := jsonschema.UnmarshalJSON(strings.NewReader(schema.String()))
		if err != nil {
			t.Fatal(err)
		}
		c := jsonschema.NewCompiler()
		if err := c.AddResource("schema.json", tree); err != nil {
			t.Fatal(err)
		}
		s, err := c.Compile("schema.json")
		if err != nil {
			t.Fatalf("%s: %v", command, err)
		}
		written, err := jsonschema.UnmarshalJSON(strings.NewReader(result.String()))
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Validate(written); err != nil {
			t.Errorf("%s: %v", command, err)
		}
		for _, spoil := range []func(map[string]any){
			func(m map[string]any) { m["format"] = json.Number("2") },
			func(m map[string]any) { m["seed"] = "1" },
			func(m map[string]any) { delete(m, "inputs") },
		} {
			bad, err := jsonschema.UnmarshalJSON(strings.NewReader(result.String()))
			if err != nil {
				t.Fatal(err)
			}
			spoil(bad.(map[string]any))
			if s.Validate(bad) == nil {
				t.Errorf("%s: the schema takes a spoiled result", command)
			}
		}
	}
}
