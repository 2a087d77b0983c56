package export_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/export"
)

// modules writes the modules of some profiles into a folder, dial0.mjs and so on.
func modules(t *testing.T, of []int) (dir string) {
	t.Helper()
	dir = t.TempDir()
	for _, i := range of {
		p := &scenarios.Profile{Name: hostile[i%len(hostile)], Acceleration: acceleration(i), Home: encoder.Home(i / 2 % 2)}
		writeModule(t, filepath.Join(dir, fmt.Sprintf("dial%d.mjs", i)), p)
	}
	return dir
}

func writeModule(t *testing.T, path string, p *scenarios.Profile) {
	t.Helper()
	var out bytes.Buffer
	if err := export.Module(&out, p); err != nil {
		t.Fatalf("%+v: %v", p.Acceleration, err)
	}
	if err := os.WriteFile(path, out.Bytes(), 0o666); err != nil {
		t.Fatal(err)
	}
}

// node runs a script beside some modules and returns what it prints.
func node(t *testing.T, dir, script string) string {
	t.Helper()
	program := compiler(t, "node")
	file := filepath.Join(dir, "script.mjs")
	if err := os.WriteFile(file, []byte(script), 0o666); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(program, file).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%.4000s", err, out)
	}
	return string(out)
}

// moduleDriver is the driver of the C header in JavaScript; the numbers of 64 bits are
// BigInts here, those of the module are not.
const moduleDriver = `
const whole = (1n << 64n) - 1n;
function mix(z) {
  z = (z + 0x9e3779b97f4a7c15n) & whole;
  z = ((z ^ (z >> 30n)) * 0xbf58476d1ce4e5b9n) & whole;
  z = ((z ^ (z >> 27n)) * 0x94d049bb133111ebn) & whole;
  return z ^ (z >> 31n);
}
function turn({gain, atRest, detent}, seed, detents, perMs, rest) {
  const s = atRest();
  let now = 0xffff0000, value = 0, sum = 0n, dir = 1;
  for (let i = 0; i < detents; i++) {
    const b = mix((BigInt(seed) << 32n) + BigInt(i)), low = Number(b & 0xffffffffn), high = Number(b >> 32n);
    let gap = (low & 0xffff) % (127 * perMs);
    switch ((low >>> 16) & 31) {
    case 0: gap = rest - 1; break;
    case 1: gap = rest; break;
    case 2: gap = 0; break;
    case 3: gap = rest + Math.floor(high / 2); break;
    case 4: gap *= 9; break;
    }
    if (((low >>> 21) & 15) === 0) dir = -dir;
    now = WRAP(now + gap);
    const steps = detent(gain, s, now, dir, value);
    sum = mix((sum + BigInt(steps)) & whole);
    value += dir * steps;
    if (value > 1000000000 || value < -1000000000) value = 0;
  }
  console.log(String(sum));
}
`

// The exported module and the Go model agree on every step, as the C header and the
// model do: over 200 profiles, with a tick that wraps around at 2^32 and with one that
// goes on.
func TestModuleStepsLikeTheModel(t *testing.T) {
	profiles, detents := 200, 3_000
	if testing.Short() {
		profiles, detents = 42, 500
	}
	of := upTo(profiles)
	dir := modules(t, of)
	for name, wrap := range map[string]string{"wraps": "n >>> 0", "goes on": "n"} {
		t.Run(name, func(t *testing.T) {
			script := "const WRAP = n => " + wrap + ";\n" + moduleDriver
			var want []string
			for _, i := range of {
				g, err := acceleration(i).Compile()
				if err != nil {
					t.Fatal(err)
				}
				script += fmt.Sprintf("turn(await import('./dial%d.mjs'), %d, %d, %d, %d);\n", i, i, detents, g.TicksPerSecond/1000, g.Rest)
				want = append(want, fmt.Sprint(turned(g, i, detents)))
			}
			got := strings.Fields(node(t, dir, script))
			if len(got) != profiles {
				t.Fatalf("%d of %d profiles were turned", len(got), profiles)
			}
			for i := range got {
				if got[i] != want[i] {
					t.Errorf("profile %d: the module and the model disagree: %+v", i, acceleration(i))
				}
			}
		})
	}
}

// Whoever runs the vectors of the header through the module gets the same steps.
func TestTheModulePassesTheVectors(t *testing.T) {
	of := upTo(42)
	dir := modules(t, of)
	script := "let bad = 0;\n"
	for _, i := range of {
		rows, err := json.Marshal(vectors(t, i)[1:])
		if err != nil {
			t.Fatal(err)
		}
		script += fmt.Sprintf(`{
  const {gain, atRest, detent} = await import("./dial%d.mjs"), s = atRest();
  let line = 1;
  for (const [tick, dir, number, steps] of %s.map(r => r.map(Number))) {
    line++;
    if (detent(gain, s, tick, dir, number) !== steps) { console.log("profile %d, line " + line); bad = 1; }
  }
}
`, i, rows, i)
	}
	node(t, dir, script+"process.exit(bad);\n")
}

// What a module says of itself can be read back as JSON.
func TestNothingGetsOutOfAModulesComment(t *testing.T) {
	nothingGetsOut(t, export.Module, `(?m)^//.*\n`, "*/?\\ a\"'%`\n\r\t\u2028\u2029", func(string) bool { return false })
	for i := range 84 {
		var out bytes.Buffer
		if err := export.Module(&out, &scenarios.Profile{Name: "x", Acceleration: acceleration(i)}); err != nil {
			t.Fatal(err)
		}
		_, rest, _ := strings.Cut(out.String(), "\nexport const gain = ")
		integers, arithmetic, ok := strings.Cut(rest, ";\n\n")
		if !ok || !json.Valid([]byte(integers)) || arithmetic != export.Arithmetic {
			t.Errorf("profile %d: %.300s", i, rest)
		}
	}
}

// The steps of a detent are whole and safe numbers at the ends of all ranges.
func TestAModulesNumbersAreWideEnough(t *testing.T) {
	dir := t.TempDir()
	script, want := "", ""
	for i, a := range []accel.Acceleration{
		{Base: accel.MaxBase, Curve: accel.Constant{Gain: accel.MaxGain}},
		{Base: accel.MaxBase, Curve: accel.Linear{Per: 1, Factor: 100, Cap: accel.MaxGain}},
		{Base: accel.MaxBase, Curve: accel.Ladder{Steps: []accel.Step{{Above: 5, Gain: accel.MaxGain}}}, Landing: accel.MaxBase},
	} {
		writeModule(t, filepath.Join(dir, fmt.Sprintf("dial%d.mjs", i)), &scenarios.Profile{Name: "x", Acceleration: a})
		g, err := a.Compile()
		if err != nil {
			t.Fatal(err)
		}
		const number = -1_000_000_007
		var s accel.Memory
		script += fmt.Sprintf("{ const {gain, atRest, detent} = await import('./dial%d.mjs'), s = atRest();\nfor (const [now, dir] of [[0, 1], [1, 1], [2, 1], [5, -1], [6, -1]]) console.log(detent(gain, s, now, dir, %d)); }\n", i, number)
		for _, x := range [][2]int64{{0, 1}, {1, 1}, {2, 1}, {5, -1}, {6, -1}} {
			want += fmt.Sprintln(g.Detent(&s, x[0], int(x[1]), number))
		}
	}
	if got := node(t, dir, script); got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
}
