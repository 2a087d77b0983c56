package export_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/export"
)

// compiler returns a compiler that is installed, or skips with a word; in CI it
// must be there.
func compiler(t *testing.T, name string) string {
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("%s is not installed", name)
		}
		t.Skipf("%s is not installed: the exported header cannot be compiled", name)
	}
	return path
}

// acceleration number i: every curve, rate, rule and tick in turn, with other
// numbers each time.
func acceleration(i int) accel.Acceleration {
	s := draw.NewTrial(11, "export", i).Stream(draw.Search)
	between := func(k int64, low, high float64) float64 {
		return low + (high-low)*float64(s.Unit(k))/draw.Share
	}
	var a accel.Acceleration
	switch i % 7 {
	case 0:
		a.Curve = accel.Constant{Gain: between(0, 1, 12)}
	case 1:
		a.Curve = accel.Ladder{Steps: []accel.Step{{Above: between(0, 2, 9), Gain: between(1, 1, 4)}, {Above: between(2, 10, 30), Gain: between(3, 4, 20)}}, Hysteresis: between(4, 0, 0.4)}
	case 2:
		a.Curve = accel.Linear{Per: between(0, 2, 20), Factor: between(1, 0.2, 5), Cap: between(2, 2, 25)}
	case 3:
		a.Curve = accel.Power{At: between(0, 4, 25), Factor: between(1, 0.5, 8), Exponent: between(2, 0.5, 4), Cap: between(3, 2, 25)}
	case 4:
		a.Curve = accel.Logistic{Low: 1, High: between(0, 2, 20), At: between(1, 4, 20), Width: between(2, 0.5, 6)}
	case 5:
		a.Curve = accel.Table{Points: []accel.Point{{Rate: 0, Gain: 1}, {Rate: between(0, 2, 9), Gain: between(1, 1, 3)}, {Rate: between(2, 10, 40), Gain: between(3, 3, 15)}}}
	}
	a.Rate.From = accel.From(i / 7 % 3)
	a.Rate.Rest = time.Duration(between(5, 100, 1500)) * time.Millisecond
	if a.Rate.From != accel.Last {
		a.Rate.Over = min(a.Rate.Rest, time.Duration(between(6, 20, 400))*time.Millisecond)
	}
	a.Rate.Reversal = accel.Reversal(i / 21 % 2)
	a.Steps = accel.Steps(i / 42 % 2)
	if i/3%2 == 1 {
		a.Tick = time.Microsecond
	}
	if i%5 == 4 {
		a.Landing = 1 + int(s.Below(7, 8))
	}
	a.Base = 1 + int(s.Below(8, 4))
	return a
}

// driver turns a pseudo-random turn through profile N, the one that the Go side
// turns too, and prints a checksum of all steps.
const driver = `
static uint64_t turn_N(uint64_t seed, uint64_t detents, uint32_t per_ms)
{
    dN_state s = {0};
    uint32_t now = 0xffff0000UL;
    int32_t value = 0;
    uint64_t sum = 0, i;
    int8_t dir = 1;
    for (i = 0; i < detents; i++) {
        uint64_t b = mix(seed + i * 0x9e3779b97f4a7c15ULL);
        uint32_t gap = (uint32_t)(b & 127U) * (uint32_t)((b >> 8) & 7U ? 1U : 9U) * per_ms;
        uint16_t steps;
        if (((b >> 16) & 15U) == 0U) dir = (int8_t)-dir;
        now += gap;
        steps = dN_detent(&s, now, dir, value);
        sum = mix(sum + steps);
        value += dir * (int32_t)steps;
        if (value > 100000 || value < -100000) value = 0;
    }
    return sum;
}
`

const mixer = `#include <stdio.h>
#include <stdint.h>
static uint64_t mix(uint64_t z) {
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
    return z ^ (z >> 31);
}
`

func mix(z uint64) uint64 {
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// checksum turns the driver's turn through the Go model.
func checksum(g *accel.Gain, seed uint64, detents int) uint64 {
	var s accel.State
	var sum uint64
	now, value, dir := int64(0xffff0000), int64(0), 1
	for i := range detents {
		b := mix(seed + uint64(i)*0x9e3779b97f4a7c15)
		gap := int64(b & 127)
		if b>>8&7 == 0 {
			gap *= 9
		}
		if b>>16&15 == 0 {
			dir = -dir
		}
		now += gap * g.TicksPerSecond / 1000
		steps := g.Detent(&s, now, dir, value)
		sum = mix(sum + uint64(steps))
		value += int64(dir) * steps
		if value > 100000 || value < -100000 {
			value = 0
		}
	}
	return sum
}

// The exported C and the Go model agree on every step, 10 million detents over 200
// profiles, the wrap of the tick included.
func TestHeaderStepsLikeTheModel(t *testing.T) {
	gcc := compiler(t, "gcc")
	profiles, detents := 200, 50_000
	if testing.Short() {
		profiles, detents = 12, 5_000
	}
	// All headers in one source, each under names of its own.
	var c, calls bytes.Buffer
	c.WriteString(mixer)
	var want []string
	for i := range profiles {
		p := &scenarios.Profile{Name: fmt.Sprintf("number %d", i), Acceleration: acceleration(i)}
		g, err := p.Acceleration.Compile()
		if err != nil {
			t.Fatalf("%+v: %v", p.Acceleration, err)
		}
		var one bytes.Buffer
		if err := export.Header(&one, p); err != nil {
			t.Fatal(err)
		}
		own := strings.NewReplacer("dial_", fmt.Sprintf("d%d_", i), "DIAL_", fmt.Sprintf("D%d_", i), "_N", fmt.Sprintf("_%d", i), "dN_", fmt.Sprintf("d%d_", i))
		c.WriteString(own.Replace(one.String() + driver))
		fmt.Fprintf(&calls, "    printf(\"%%llu\\n\", (unsigned long long)turn_%d(%dULL, %dULL, %dU));\n", i, i, detents, g.TicksPerSecond/1000)
		want = append(want, fmt.Sprint(checksum(g, uint64(i), detents)))
	}
	fmt.Fprintf(&c, "int main(void)\n{\n%s    return 0;\n}\n", calls.String())
	dir := t.TempDir()
	source, program := filepath.Join(dir, "turn.c"), filepath.Join(dir, "turn")
	if err := os.WriteFile(source, c.Bytes(), 0o666); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(gcc, "-std=c99", "-O1", "-o", program, source).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%.2000s", err, out)
	}
	out, err := exec.Command(program).Output()
	if err != nil {
		t.Fatal(err)
	}
	got := strings.Fields(string(out))
	if len(got) != profiles {
		t.Fatalf("%d of %d profiles were turned", len(got), profiles)
	}
	for i := range got {
		if got[i] != want[i] {
			t.Errorf("profile %d: the header and the model disagree: %+v", i, acceleration(i))
		}
	}
}

// hostile names try to break out of what they are written into.
var hostile = []string{"*/ int x; /*", `??/`, `a"b'c`, "<script>alert(1)</script>", "new\nline\r\n#define X", "=1+1", "| a | b", `\`, "²π —"}

// The header compiles without a warning as strict C99 with gcc and clang, as C++17,
// and for an 8-bit AVR, whatever the profile and its name.
func TestHeaderCompilesWithoutAWarning(t *testing.T) {
	dir := t.TempDir()
	strict := []string{"-Wall", "-Wextra", "-Wconversion", "-pedantic", "-Werror", "-c"}
	for _, x := range []struct {
		name  string
		flags []string
	}{
		{"gcc", []string{"-std=c99"}}, {"clang", []string{"-std=c99"}}, {"g++", []string{"-std=c++17", "-x", "c++"}},
		{"avr-gcc", []string{"-std=c99", "-mmcu=atmega328p", "-Os"}},
	} {
		t.Run(x.name, func(t *testing.T) {
			cc := compiler(t, x.name)
			profiles := 21
			if testing.Short() {
				profiles = 8
			}
			for i := range profiles {
				p := &scenarios.Profile{Name: hostile[i%len(hostile)], Acceleration: acceleration(i)}
				var c bytes.Buffer
				if err := export.Header(&c, p); err != nil {
					t.Fatal(err)
				}
				c.WriteString("uint16_t f(dial_state *s, uint32_t now, int8_t dir, int32_t value);\nuint16_t f(dial_state *s, uint32_t now, int8_t dir, int32_t value) { return dial_detent(s, now, dir, value); }\n")
				source := filepath.Join(dir, "dial.c")
				if err := os.WriteFile(source, c.Bytes(), 0o666); err != nil {
					t.Fatal(err)
				}
				args := append(append([]string{}, x.flags...), strict...)
				if out, err := exec.Command(cc, append(args, "-o", filepath.Join(dir, "dial.o"), source)...).CombinedOutput(); err != nil {
					t.Fatalf("profile %d: %v\n%s\n%s", i, err, out, c.String())
				}
			}
		})
	}
}

func TestVectorsAreWhatTheModelSays(t *testing.T) {
	p := &scenarios.Profile{Name: "x", Acceleration: acceleration(3)}
	var a, b bytes.Buffer
	if err := export.Vectors(&a, p); err != nil {
		t.Fatal(err)
	}
	if err := export.Vectors(&b, p); err != nil || a.String() != b.String() {
		t.Errorf("two exports differ, %v", err)
	}
	if lines := strings.Count(a.String(), "\n"); lines != 1+8*12 {
		t.Errorf("%d lines", lines)
	}
	if !strings.Contains(a.String(), "\n429") || !strings.Contains(a.String(), ",-1,") {
		t.Error("the vectors do not meet the wrap of the tick or a reversal")
	}
}
