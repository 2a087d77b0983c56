package export_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"reflect"
	"strings"
	"testing"

	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/export"
	"dialwright/scenarios/file"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// The JSON form satisfies the schema of profiles and reads back to the identical
// profile.
func TestJSONReadsBackAndSatisfiesItsSchema(t *testing.T) {
	text, err := file.Schema("profile")
	if err != nil {
		t.Fatal(err)
	}
	tree, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	compiler := jsonschema.NewCompiler()
	if err := compiler.AddResource("profile.json", tree); err != nil {
		t.Fatal(err)
	}
	schema, err := compiler.Compile("profile.json")
	if err != nil {
		t.Fatal(err)
	}
	for i, name := range hostile {
		want := &scenarios.Profile{Name: name, Acceleration: acceleration(i), Settings: []scenarios.Setting{{Key: "firmware.on", Value: "40ms"}}}
		var out bytes.Buffer
		if err := export.JSON(&out, want); err != nil {
			t.Fatal(err)
		}
		value, err := jsonschema.UnmarshalJSON(bytes.NewReader(out.Bytes()))
		if err != nil {
			t.Fatalf("%q: %v\n%s", name, err, out.String())
		}
		if err := schema.Validate(value); err != nil {
			t.Errorf("%q: %v", name, err)
		}
		if strings.Contains(out.String(), "<script") {
			t.Errorf("%q is written as markup: %s", name, out.String())
		}
		got, err := (&file.Loader{In: &out}).Profile("-")
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%q reads back as %+v, not %+v, %v", name, got, want, err)
		}
	}
}

func TestCSVIsOneTableWhateverTheName(t *testing.T) {
	for i, name := range hostile {
		var out bytes.Buffer
		if err := export.CSV(&out, &scenarios.Profile{Name: name, Acceleration: acceleration(i)}); err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(bytes.NewReader(out.Bytes())).ReadAll()
		if err != nil || len(rows) != 22 {
			t.Errorf("%q: %d rows, %v", name, len(rows), err)
		}
		for _, row := range rows {
			if strings.ContainsAny(row[0], "\r\n") || row[0] != "" && strings.ContainsRune("=+-@", rune(row[0][0])) {
				t.Errorf("%q is written as %q", name, row[0])
			}
		}
	}
}

func TestCardsHoldTheirNamesAndSayWhatToExpect(t *testing.T) {
	o := scenarios.Practised()
	for i, name := range hostile {
		if i > 3 && testing.Short() {
			return
		}
		p := &scenarios.Profile{Name: name, Acceleration: acceleration(3)}
		p.Acceleration.Base = 1
		c, err := export.NewCard(context.Background(), demo.Panel("quillmoor"), p, &o, 30, 1, 2)
		if err != nil {
			t.Fatal(err)
		}
		c.Inputs = []string{name}
		var page, text bytes.Buffer
		if err := c.HTML(&page); err != nil {
			t.Fatal(err)
		}
		if err := c.Markdown(&text); err != nil {
			t.Fatal(err)
		}
		if len(c.Knobs) != 4 || len(c.Knobs[2].Tasks) != 3 {
			t.Errorf("knobs %+v", c.Knobs)
		}
		for _, x := range []string{page.String(), text.String()} {
			if strings.Contains(x, "<script") || !strings.Contains(x, "not for certified") {
				t.Errorf("%q: %s", name, x)
			}
		}
		var again bytes.Buffer
		if err := c.HTML(&again); err != nil || again.String() != page.String() {
			t.Errorf("two cards differ, %v", err)
		}
	}
}
