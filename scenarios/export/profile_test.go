package export_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os"
	"reflect"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/export"
	"dialwright/scenarios/file"
)

func schema(t *testing.T) (*jsonschema.Schema, any) {
	t.Helper()
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
	s, err := compiler.Compile("profile.json")
	if err != nil {
		t.Fatal(err)
	}
	return s, tree
}

// readBack loads a profile from the text of a file.
func readBack(t *testing.T, text []byte, want *scenarios.Profile) {
	t.Helper()
	got, err := (&file.Loader{In: bytes.NewReader(text)}).Profile("-")
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("%.300v reads back as %.300v, %v\n%.500s", want, got, err, text)
	}
}

// The JSON form satisfies the JSON Schema (2020-12) of profiles, and both it and
// the YAML form read back to the identical profile, whatever its name.
func TestBothFormsReadBackToTheIdenticalProfile(t *testing.T) {
	s, _ := schema(t)
	var all []scenarios.Profile
	for i := range 200 {
		name := hostile[i%len(hostile)]
		name = name[:min(len(name), 200)] // a file's name has no more, and is one line
		name = strings.Join(strings.Fields(name), " ")
		p := scenarios.Profile{Name: name, Acceleration: acceleration(i), Home: encoder.Home(i / 2 % 2)}
		if p.Acceleration.Tick == 0 && i%9 == 0 {
			p.Settings = []scenarios.Setting{{Key: "firmware.pulse", Value: "40ms"}, {Key: "firmware.output", Value: "buttons"}}
			p.PressCoarse = 10
		}
		all = append(all, p)
	}
	for _, p := range append(all, scenarios.Profiles()...) {
		var out bytes.Buffer
		if err := export.JSON(&out, &p); err != nil {
			t.Fatal(err)
		}
		value, err := jsonschema.UnmarshalJSON(bytes.NewReader(out.Bytes()))
		if err != nil {
			t.Fatalf("%q: %v\n%.2000s", p.Name, err, out.String())
		}
		if err := s.Validate(value); err != nil {
			t.Errorf("%q: %v\n%.2000s", p.Name, err, out.String())
		}
		if strings.ContainsAny(out.String(), "<>&\u2028") {
			t.Errorf("%q is written as markup: %.2000s", p.Name, out.String())
		}
		readBack(t, out.Bytes(), &p)
		text, err := file.Write(&p)
		if err != nil {
			t.Fatal(err)
		}
		readBack(t, text, &p)
	}
}

// Every field of the JSON form has its unit: in its value, or in the schema's word
// on it.
func TestEveryFieldHasItsUnit(t *testing.T) {
	_, tree := schema(t)
	fields := 0
	var walk func(path string, s map[string]any)
	walk = func(path string, s map[string]any) {
		if either, ok := s["anyOf"].([]any); ok {
			for _, e := range either {
				e := e.(map[string]any)
				if e["description"] == nil {
					e["description"] = s["description"]
				}
				walk(path, e)
			}
			return
		}
		if items, ok := s["items"].(map[string]any); ok {
			walk(path+"[]", items)
		}
		p, ok := s["properties"].(map[string]any)
		for name, x := range p {
			walk(path+"."+name, x.(map[string]any))
		}
		if ok || s["items"] != nil || s["enum"] != nil || s["const"] != nil || path == ".name" || s["type"] == "boolean" {
			return
		}
		fields++
		if word, _ := s["description"].(string); word == "" {
			t.Errorf("%s: nothing says what it is counted in: %v", path, s)
		}
	}
	walk("", tree.(map[string]any))
	if fields < 40 {
		t.Errorf("only %d fields", fields)
	}
}

func ExampleJSON() {
	p := &scenarios.Profile{Name: "mine", Acceleration: accel.Acceleration{Curve: accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10}}}
	if err := export.JSON(os.Stdout, p); err != nil {
		fmt.Println(err)
	}
	// Output:
	// {
	//   "kind": "profile",
	//   "version": 1,
	//   "name": "mine",
	//   "acceleration": {
	//     "curve": {
	//       "power": {
	//         "at": "15/s",
	//         "factor": 4,
	//         "exponent": 2,
	//         "cap": 10
	//       }
	//     }
	//   }
	// }
}

// table reads what CSV writes.
func table(t *testing.T, p *scenarios.Profile) [][]string {
	t.Helper()
	var out bytes.Buffer
	if err := export.CSV(&out, p); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&out).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func TestCSVIsOneTableWhateverTheName(t *testing.T) {
	for i, name := range append(hostile, " =1", "\t=1", "\n@x", "＝1") {
		rows := table(t, &scenarios.Profile{Name: name, Acceleration: acceleration(i)})
		if len(rows) != 22 {
			t.Errorf("%q: %d rows", name, len(rows))
		}
		for _, row := range rows {
			for _, cell := range row {
				if strings.ContainsAny(cell, "\r\n\t") || cell != "" && strings.ContainsRune("=+-@|＝ ", []rune(cell)[0]) {
					t.Errorf("%q is written as %q", name, cell)
				}
			}
		}
	}
}

// What a spreadsheet would take for a formula stands behind an apostrophe, and
// nothing else does.
func TestCSVGuardsFormulasAlone(t *testing.T) {
	for name, want := range map[string]string{
		"": "", "plain": "plain", "a=1": "a=1", "=1": "'=1", "+1": "'+1", "-1": "'-1", "@x": "'@x", "|x": "'|x", "＝1": "'＝1", " two  words\n": "two words",
	} {
		for _, row := range table(t, &scenarios.Profile{Name: name})[1:] {
			if row[0] != want {
				t.Errorf("%q is written as %q, want %q", name, row[0], want)
			}
		}
	}
}

// Rate, gain and steps by hand: a ladder of 3 from 8/s on (125 ms between detents
// are not above 8/s, 100 ms are), times a base of 2; the power curve at 12/s, where
// detents are 83 ms apart, is 1 + 4·(1000/83/15)² = 3.58; a gain of 2.5 carried
// makes 250 steps of a hundred detents, rounded 300 (and 3.5859, 358); landing on hundreds of steps
// makes each detent a hundred, whatever the gain is.
func TestCSVTellsRateGainAndSteps(t *testing.T) {
	ladder := accel.Ladder{Steps: []accel.Step{{Above: 8, Gain: 3}}, Hysteresis: 0.15}
	for _, x := range []struct {
		a           accel.Acceleration
		rate        string
		gain, steps string
	}{
		{accel.Acceleration{Curve: ladder, Base: 2}, "8", "2.0000", "200"},
		{accel.Acceleration{Curve: ladder, Base: 2}, "10", "6.0000", "600"},
		{accel.Acceleration{Curve: accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10}}, "12", "3.5859", "358"},
		{accel.Acceleration{Curve: accel.Constant{Gain: 2.5}}, "1", "2.5000", "250"},
		{accel.Acceleration{Curve: accel.Constant{Gain: 2.5}, Steps: accel.Round}, "60", "2.5000", "300"},
		{accel.Acceleration{Curve: accel.Constant{Gain: 99.75}, Landing: 5}, "60", "99.7500", "10000"},
	} {
		found := false
		for _, row := range table(t, &scenarios.Profile{Name: "x", Acceleration: x.a}) {
			if row[1] != x.rate {
				continue
			}
			found = true
			if row[2] != x.gain || row[3] != x.steps {
				t.Errorf("%+v at %s/s: gain %s, %s steps, want %s and %s", x.a, x.rate, row[2], row[3], x.gain, x.steps)
			}
		}
		if !found {
			t.Errorf("no row for %s/s", x.rate)
		}
	}
}
