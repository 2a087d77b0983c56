package export_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"dialwright/accel"
	"dialwright/scenarios"
	"dialwright/scenarios/export"
	"dialwright/scenarios/file"
)

// samples are curves of one kind whose numbers all differ from what is left out.
func samples(k *accel.Kind) []accel.Curve {
	list := []accel.Curve{k.Example, k.Rising(7.5, 12, 0.25), k.Rising(19, 3, 0.9)}
	c := accel.Changed(k.Example, func(p accel.Parameter, v float64) float64 { return math.Min(p.High, 1.0625*v) })
	if _, err := (accel.Acceleration{Curve: c}).Compile(); err == nil {
		list = append(list, c)
	}
	return list
}

// Every kind of curve goes the whole way: file, gain, C header, JSON, card, schema,
// template, rig. A kind that one of them has forgotten fails here.
func TestEveryKindOfCurveGoesEverywhere(t *testing.T) {
	s, tree := schema(t)
	known := tree.(map[string]any)["properties"].(map[string]any)["acceleration"].(map[string]any)["properties"].(map[string]any)["curve"].(map[string]any)["properties"].(map[string]any)
	if len(known) != len(accel.Curves()) {
		t.Errorf("the schema knows %d curves of %d", len(known), len(accel.Curves()))
	}
	for _, k := range accel.Curves() {
		t.Run(k.Word, func(t *testing.T) {
			for _, c := range samples(k) {
				p := &scenarios.Profile{Name: "of a kind", Acceleration: accel.Acceleration{Curve: c}}
				text, err := file.Write(p)
				if err != nil {
					t.Fatal(err)
				}
				readBack(t, text, p)
				var out bytes.Buffer
				if err := export.JSON(&out, p); err != nil {
					t.Fatal(err)
				}
				readBack(t, out.Bytes(), p)
				value, err := jsonschema.UnmarshalJSON(bytes.NewReader(out.Bytes()))
				if err != nil {
					t.Fatal(err)
				}
				if err := s.Validate(value); err != nil {
					t.Errorf("%v\n%s", err, out.String())
				}
				holdsItsNumbers(t, k, c, out.Bytes(), known[k.Word].(map[string]any), s)

				g, err := p.Acceleration.Compile()
				if err != nil {
					t.Fatal(err)
				}
				for _, rate := range []float64{4, 9, 14, 25, 60} {
					interval := math.Round(1000 / rate) // ms: what the compiled curve sees
					want := c.Of(1000 / interval)
					if got := g.At(rate); math.Abs(got-want) > 0.011*want {
						t.Errorf("%+v: gain %g at %g/s, want %g", c, got, rate, want)
					}
				}
				stepsLikeTheModel(t, p)
				toldOnACard(t, p)
			}
			template, err := file.New(file.Template{Kind: "profile", Curve: k.Word})
			if err != nil {
				t.Fatal(err)
			}
			got, err := (&file.Loader{In: bytes.NewReader(template)}).Profile("-")
			if err != nil || accel.KindOf(got.Acceleration.Curve) != k {
				t.Errorf("the template has %+v, %v", got, err)
			}
			rig := "kind: rig\nversion: 1\nname: x\nadjustable: {acceleration: {curves: [" + k.Word + "]}}\n"
			if r, err := (&file.Loader{In: strings.NewReader(rig)}).Rig("-"); err != nil || !slices.Equal(r.Adjustable.Curves, []string{k.Word}) {
				t.Errorf("a rig that may have it: %v", err)
			}
		})
	}
}

// holdsItsNumbers wants every number of a curve in the JSON form and in the schema,
// and that the schema refuses one beyond its bounds.
func holdsItsNumbers(t *testing.T, k *accel.Kind, c accel.Curve, text []byte, known map[string]any, s *jsonschema.Schema) {
	t.Helper()
	var top struct {
		Acceleration struct {
			Curve map[string]map[string]any `json:"curve"`
		} `json:"acceleration"`
	}
	if err := json.Unmarshal(text, &top); err != nil {
		t.Fatal(err)
	}
	numbers, properties := top.Acceleration.Curve[k.Word], known["properties"].(map[string]any)
	words := 0
	for _, p := range k.Parameters {
		words++
		if numbers[p.Word] == nil || properties[p.Word] == nil {
			t.Errorf("%s of %v, schema %v", p.Word, numbers, properties)
		}
		if _, plain := numbers[p.Word].(float64); plain {
			bad := strings.Replace(string(text), fmt.Sprintf("%q: %v", p.Word, p.Of(c)), fmt.Sprintf("%q: %v", p.Word, p.High+1), 1)
			value, err := jsonschema.UnmarshalJSON(strings.NewReader(bad))
			if err != nil || s.Validate(value) == nil {
				t.Errorf("the schema takes %s %v: %v", p.Word, p.High+1, err)
			}
		}
	}
	if k.Rows != nil {
		words++
		rows, _ := numbers[k.Rows.Word].([]any)
		if len(rows) != len(k.Rows.Of(c)) || properties[k.Rows.Word] == nil {
			t.Errorf("%s of %v, schema %v", k.Rows.Word, numbers, properties)
		}
	}
	if len(numbers) != words || len(properties) != words {
		t.Errorf("%v and %v have not %d numbers", numbers, properties, words)
	}
}

// stepsLikeTheModel runs the vectors of a profile through its header.
func stepsLikeTheModel(t *testing.T, p *scenarios.Profile) {
	t.Helper()
	var header, vectors bytes.Buffer
	if err := export.Header(&header, p); err != nil {
		t.Fatal(err)
	}
	if err := export.Vectors(&vectors, p); err != nil {
		t.Fatal(err)
	}
	gcc, err := exec.LookPath("gcc")
	if err != nil {
		return // TestToolsForTheChipAreThereInCI asks for it
	}
	table := ""
	for line := range strings.Lines(vectors.String()) {
		if line[0] != 't' {
			table += "{" + strings.Replace(strings.TrimSpace(line), ",", "U,", 1) + "},\n"
		}
	}
	source := header.String() + "static const struct { uint32_t tick; int8_t direction; int32_t number; uint32_t steps; } v[] = {\n" + table + `};
int main(void)
{
    dial_state s = {0};
    unsigned n;
    for (n = 0; n < sizeof v / sizeof v[0]; n++)
        if (dial_detent(&s, v[n].tick, v[n].direction, v[n].number) != v[n].steps) return 1;
    return 0;
}
`
	if out, err := exec.Command(build(t, gcc, source, "-std=c99")).CombinedOutput(); err != nil {
		t.Errorf("%+v: the header steps otherwise: %v %s", p.Acceleration.Curve, err, out)
	}
}

// toldOnACard wants the curve with all its numbers on a card, as the file has it.
func toldOnACard(t *testing.T, p *scenarios.Profile) {
	t.Helper()
	panel := named("desk")
	panel.Knobs[0].Tasks[0].Task.Tolerance = 200 * scenarios.Unity // for curves without a slow click
	c, _ := card(t, panel, 1, scenarios.Profile{Name: "plain"}, *p)
	var said string
	for _, k := range c.Knobs {
		said += strings.Join(slices.Concat(k.Set, k.Stays), "\n")
	}
	k := accel.KindOf(p.Acceleration.Curve)
	words := []string{"acceleration.curve {" + k.Word + ": {"}
	for _, x := range k.Parameters {
		words = append(words, x.Word+": ")
	}
	if r := k.Rows; r != nil {
		words = append(words, r.Word+": [{"+r.Rate.Word+": ", ", "+r.Gain.Word+": ")
	}
	for _, w := range words {
		if !strings.Contains(said, w) {
			t.Errorf("no %q on the card: %s", w, said)
		}
	}
}

// What a file leaves out of a curve is what the interface says.
func TestAbsentNumbersOfACurveHaveTheirDefaults(t *testing.T) {
	for _, k := range accel.Curves() {
		if k.Rows != nil {
			continue
		}
		text := "kind: profile\nversion: 1\nname: x\nacceleration: {curve: {" + k.Word + ": {}}}\n"
		got, err := (&file.Loader{In: strings.NewReader(text)}).Profile("-")
		if err != nil || got.Acceleration.Curve != k.Default {
			t.Errorf("%s: %+v, %v, want %+v", k.Word, got.Acceleration.Curve, err, k.Default)
		}
		for _, p := range k.Parameters {
			v := p.Of(k.Default) + 1.5
			written := fmt.Sprint(v)
			if p.Quantity == accel.PerSecond {
				written += "/s"
			}
			text := "kind: profile\nversion: 1\nname: x\nacceleration: {curve: {" + k.Word + ": {" + p.Word + ": " + written + "}}}\n"
			got, err := (&file.Loader{In: strings.NewReader(text)}).Profile("-")
			if err != nil || got.Acceleration.Curve != p.With(k.Default, v) {
				t.Errorf("%s with %s %s: %+v, %v", k.Word, p.Word, written, got.Acceleration.Curve, err)
			}
		}
	}
}
