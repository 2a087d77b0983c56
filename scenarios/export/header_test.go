package export_test

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/demo"
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
		t.Skipf("%s is not installed: what is exported cannot be tried with it", name)
	}
	return path
}

// acceleration number i: every curve, rate, rule and tick in turn, with other
// numbers each time, up to the ends of their ranges.
func acceleration(i int) accel.Acceleration {
	s := draw.NewTrial(11, "export", i).Stream(draw.Search)
	between := func(k int64, low, high float64) float64 {
		return low + (high-low)*float64(s.Unit(k))/draw.Share
	}
	ms := func(k int64, low, high float64) time.Duration {
		return time.Duration(between(k, low, high)) * time.Millisecond
	}
	most := 20.0
	if i%4 == 3 || i%13 == 12 {
		most = accel.MaxGain
	}
	var a accel.Acceleration
	switch i % 7 {
	case 0:
		a.Curve = accel.Constant{Gain: between(0, 1, most)}
	case 1:
		a.Curve = accel.Ladder{Steps: []accel.Step{{Above: between(0, 2, 9), Gain: between(1, 1, 4)}, {Above: between(2, 10, 30), Gain: between(3, 4, most)}}, Hysteresis: between(4, 0, 0.4)}
	case 2:
		a.Curve = accel.Linear{Per: between(0, 2, 20), Factor: between(1, 0.2, 5), Cap: between(2, 2, most)}
	case 3:
		a.Curve = accel.Power{At: between(0, 4, 25), Factor: between(1, 0.5, 8), Exponent: between(2, 0.5, 4), Cap: between(3, 2, most)}
	case 4:
		a.Curve = accel.Logistic{Low: 1, High: between(0, 2, most), At: between(1, 4, 20), Width: between(2, 0.5, 6)}
	case 5:
		a.Curve = accel.Table{Points: []accel.Point{{Rate: 0, Gain: 1}, {Rate: between(0, 2, 9), Gain: between(1, 1, 3)}, {Rate: between(2, 10, 40), Gain: between(3, 3, most)}}}
	}
	a.Rate.From = accel.From(i / 7 % 3)
	a.Rate.Rest = ms(5, 100, 1500)
	if i%11 == 10 {
		a.Rate.Rest = [...]time.Duration{accel.MinRest, accel.MaxRest}[i/11%2]
	}
	if a.Rate.From != accel.Last {
		a.Rate.Over = min(a.Rate.Rest, ms(6, 20, 400))
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
	if i%13 == 12 {
		a.Base = accel.MaxBase
	}
	return a
}

// headers writes the headers of some profiles as one source, the names of each
// with its number, and behind each header a text in which N is that number.
func headers(t *testing.T, of []int, behind string) string {
	t.Helper()
	var c strings.Builder
	for _, i := range of {
		p := &scenarios.Profile{Name: hostile[i%len(hostile)], Acceleration: acceleration(i), Home: encoder.Home(i / 2 % 2)}
		var one bytes.Buffer
		if err := export.Header(&one, p); err != nil {
			t.Fatalf("%+v: %v", p.Acceleration, err)
		}
		own := strings.NewReplacer("dial_", fmt.Sprintf("d%d_", i), "DIAL_", fmt.Sprintf("D%d_", i), "NUMBER", fmt.Sprint(i))
		c.WriteString(own.Replace(one.String() + behind))
	}
	return c.String()
}

// driver turns profile NUMBER as turned does and returns a checksum of all steps.
const driver = `
static uint64_t turn_NUMBER(uint32_t seed, uint32_t detents, uint32_t per_ms, uint32_t rest)
{
    dial_state s = {0};
    uint32_t now = 0xffff0000UL, i;
    int32_t value = 0;
    uint64_t sum = 0;
    int8_t dir = 1;
    for (i = 0; i < detents; i++) {
        uint64_t b = mix(((uint64_t)seed << 32) + i);
        uint32_t gap = (uint32_t)(b & 0xffffU) % (127U * per_ms);
        dial_steps steps;
        switch ((b >> 16) & 31U) {
        case 0: gap = rest - 1U; break;
        case 1: gap = rest; break;
        case 2: gap = 0; break;
        case 3: gap = rest + (uint32_t)(b >> 32) / 2U; break;
        case 4: gap = gap * 9U; break;
        }
        if (((b >> 21) & 15U) == 0U) dir = (int8_t)-dir;
        now += gap;
        steps = dial_detent(&s, now, dir, value);
        sum = mix(sum + steps);
        value += dir * (int32_t)steps;
        if (value > 1000000000L || value < -1000000000L) value = 0;
    }
    return sum;
}
`

const mixer = `#include <stdint.h>
static uint64_t mix(uint64_t z) {
    z += 0x9e3779b97f4a7c15ULL;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
    return z ^ (z >> 31);
}
`

func mix(z uint64) uint64 {
	z += 0x9e3779b97f4a7c15
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// turned turns the driver's turn through the Go model: gaps of all lengths, those
// of exactly a rest and just under, pauses of up to half a wrap of the tick,
// reversals, numbers of both signs.
func turned(g *accel.Gain, seed, detents int) uint64 {
	var s accel.Memory
	var sum uint64
	now, value, dir := int64(0xffff0000), int64(0), 1
	perMs := g.TicksPerSecond / 1000
	for i := range detents {
		b := mix(uint64(seed)<<32 + uint64(i))
		gap := int64(b&0xffff) % (127 * perMs)
		switch b >> 16 & 31 {
		case 0:
			gap = int64(g.Rest) - 1
		case 1:
			gap = int64(g.Rest)
		case 2:
			gap = 0
		case 3:
			gap = int64(g.Rest) + int64(b>>32)/2
		case 4:
			gap *= 9
		}
		if b>>21&15 == 0 {
			dir = -dir
		}
		now += gap
		steps := g.Detent(&s, now, dir, value)
		sum = mix(sum + uint64(steps))
		value += int64(dir) * steps
		if value > 1_000_000_000 || value < -1_000_000_000 {
			value = 0
		}
	}
	return sum
}

// calls writes the body of a main function that turns some profiles, and what it
// should print.
func calls(t *testing.T, of []int, detents int) (c string, want []string) {
	t.Helper()
	for _, i := range of {
		g, err := acceleration(i).Compile()
		if err != nil {
			t.Fatal(err)
		}
		c += fmt.Sprintf("    print(turn_%d(%dU, %dUL, %dU, %dUL));\n", i, i, detents, g.TicksPerSecond/1000, g.Rest)
		want = append(want, fmt.Sprint(turned(g, i, detents)))
	}
	return c, want
}

func upTo(n int) []int {
	list := make([]int, n)
	for i := range list {
		list[i] = i
	}
	return list
}

func build(t *testing.T, cc, source string, args ...string) (program string) {
	t.Helper()
	dir := t.TempDir()
	file, program := filepath.Join(dir, "source.c"), filepath.Join(dir, "program")
	if err := os.WriteFile(file, []byte(source), 0o666); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(cc, append(args, "-o", program, file)...).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%.4000s", err, out)
	}
	return program
}

// The exported C and the Go model agree on every step: 10 million detents over 200
// profiles, the tick wrapping some 400 times in each, and nothing happens that C
// leaves undefined.
func TestHeaderStepsLikeTheModel(t *testing.T) {
	gcc := compiler(t, "gcc")
	profiles, detents := 200, 50_000
	if testing.Short() {
		profiles, detents = 42, 2_000
	}
	of := upTo(profiles)
	body, want := calls(t, of, detents)
	source := mixer + headers(t, of, driver) + "#include <stdio.h>\nstatic void print(uint64_t n) { printf(\"%llu\\n\", (unsigned long long)n); }\nint main(void)\n{\n" + body + "    return 0;\n}\n"
	program := build(t, gcc, source, "-std=c99", "-O1", "-fsanitize=undefined", "-fsanitize-undefined-trap-on-error")
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
var hostile = []string{
	"*/ int x; /*", "??/", "???/", "**//**/ x", `a"b'c`, "<script>alert(1)</script>", "</style></title><b>", "new\nline\r\n#define X",
	"=1+1", "+1", "-1", "@x", "| a | b", `\`, `a\|b`, "²π —", "`code` *b* _i_ [l](javascript:x) ![](http://x)", "&lt;b>", "123", "true", "null", "2026-01-01", "- x", "# x",
	strings.Repeat("*/", 5000), strings.Repeat("long name ", 1000),
}

// nothingGetsOut holds that nobody who names a profile can write code: what is written of
// it differs in comments alone, and has no line that is bad.
func nothingGetsOut(t *testing.T, to func(io.Writer, *scenarios.Profile, ...*scenarios.Rig) error, comment, letters string, bad func(line string) bool) {
	t.Helper()
	comments := regexp.MustCompile(comment)
	write := func(p *scenarios.Profile) string {
		var out bytes.Buffer
		if err := to(&out, p); err != nil {
			t.Fatal(err)
		}
		return out.String()
	}
	plain := comments.ReplaceAllString(write(&scenarios.Profile{}), "")
	check := func(t interface{ Errorf(string, ...any) }, name string) {
		text := write(&scenarios.Profile{Name: name, Settings: []scenarios.Setting{{Key: name, Value: name}}})
		if comments.ReplaceAllString(text, "") != plain {
			t.Errorf("%q changes the code: %.1500s", name, text)
		}
		for line := range strings.SplitSeq(text, "\n") {
			if bad(line) || strings.ContainsFunc(line, func(r rune) bool { return r < ' ' || r > '~' }) {
				t.Errorf("%q makes the line %q", name, line)
			}
		}
	}
	for _, name := range hostile {
		check(t, name)
	}
	rapid.Check(t, func(t *rapid.T) { check(t, rapid.StringOf(rapid.RuneFrom([]rune(letters))).Draw(t, "name")) })
}

func TestNothingGetsOutOfAComment(t *testing.T) {
	nothingGetsOut(t, export.Header, `(?s)/\*.*?\*/`, `*/?\ a"'%`+"\n\r\t", func(line string) bool {
		return len(line) > 100 || strings.Contains(line, "??") || strings.Contains(line, `\`)
	})
}

// The header compiles without a warning as strict C99 with gcc and clang, as C++17,
// and for an 8-bit AVR, whatever the profile and its name, used or not.
func TestHeaderCompilesWithoutAWarning(t *testing.T) {
	use := `
uint32_t f_NUMBER(dial_state *s, uint32_t now, int8_t dir, int32_t value);
uint32_t f_NUMBER(dial_state *s, uint32_t now, int8_t dir, int32_t value) { return dial_detent(s, now, dir, value); }
`
	for _, x := range []struct {
		name  string
		flags []string
	}{
		{"gcc", []string{"-std=c99"}}, {"clang", []string{"-std=c99"}}, {"g++", []string{"-std=c++17", "-x", "c++"}}, {"clang++", []string{"-std=c++17", "-x", "c++"}},
		{"avr-gcc", []string{"-std=c99", "-mmcu=atmega328p", "-Os"}},
	} {
		t.Run(x.name, func(t *testing.T) {
			cc := compiler(t, x.name)
			flags := append(x.flags, "-Wall", "-Wextra", "-Wconversion", "-Wshadow", "-pedantic", "-Werror", "-c")
			build(t, cc, headers(t, upTo(200), use), flags...)
			dir := t.TempDir() // as people use it: included, and not called
			var c bytes.Buffer
			if err := export.Header(&c, &scenarios.Profile{Name: "x", Acceleration: acceleration(31)}); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(dir, "dial.h"), c.Bytes(), 0o666); err != nil {
				t.Fatal(err)
			}
			build(t, cc, "#include \"dial.h\"\n#include \"dial.h\"\nextern int x;\nint x = 0;\n", append(flags, "-I", dir)...)
		})
	}
}

// A header divides where a number lands on multiples and nowhere else, and knows
// neither floating point nor memory from a heap.
func TestAHeaderDividesOnlyToLand(t *testing.T) {
	comments := regexp.MustCompile(`(?s)/\*.*?\*/`)
	for i := range 200 {
		a := acceleration(i)
		var c bytes.Buffer
		if err := export.Header(&c, &scenarios.Profile{Name: "x", Acceleration: a}); err != nil {
			t.Fatal(err)
		}
		code := comments.ReplaceAllString(c.String(), "")
		want := 0
		if a.Landing > 0 {
			want = 1
		}
		if n := strings.Count(code, "%") + strings.Count(strings.ReplaceAll(code, "avr/pgmspace", ""), "/"); n != want {
			t.Errorf("%+v: %d divisions, want %d", a, n, want)
		}
		if word := regexp.MustCompile(`float|double|malloc|\d\.\d`).FindString(code); word != "" {
			t.Errorf("%+v: %s", a, word)
		}
	}
}

func TestHeadersAreTheSameToTheByte(t *testing.T) {
	for i := range 42 {
		p := &scenarios.Profile{Name: "x", Acceleration: acceleration(i)}
		var a, b bytes.Buffer
		for _, w := range []*bytes.Buffer{&a, &b} {
			for _, write := range []func() error{
				func() error { return export.Header(w, p) }, func() error { return export.Vectors(w, p) }, func() error { return export.Module(w, p) },
				func() error { return export.CSV(w, p) }, func() error { return export.JSON(w, p) },
			} {
				if err := write(); err != nil {
					t.Fatal(err)
				}
			}
		}
		if a.String() != b.String() {
			t.Errorf("profile %d is written in two ways", i)
		}
	}
}

// What cannot be compiled is refused, and nothing is written.
func TestABadAccelerationIsRefused(t *testing.T) {
	p := &scenarios.Profile{Name: "x", Acceleration: accel.Acceleration{Base: -1}}
	var out bytes.Buffer
	for _, err := range []error{export.Header(&out, p), export.Module(&out, p), export.Vectors(&out, p), export.CSV(&out, p)} {
		if err == nil || !strings.Contains(err.Error(), "base") || out.Len() > 0 {
			t.Errorf("%v, %d bytes", err, out.Len())
		}
	}
}

// A header says in short what the acceleration does: once where all rigs let the same
// through, else rig by rig; a rig that cannot have the profile is not among them.
func TestAHeaderSaysInShortWhatEachRigLetsThrough(t *testing.T) {
	p := profile(t, "power")
	short := func(names ...string) string {
		var rigs []*scenarios.Rig
		for _, n := range names {
			rigs = append(rigs, demo.Rig(n))
		}
		var out bytes.Buffer
		if err := export.Header(&out, &p, rigs...); err != nil {
			t.Fatal(err)
		}
		text := strings.Join(strings.Fields(strings.ReplaceAll(out.String(), " * ", " ")), " ")
		_, text, _ = strings.Cut(text, "In short")
		return text[:min(len(text), 400)]
	}
	any, pulses, counts := short(), short("left-pulse"), short("right-relative")
	if !strings.HasPrefix(any, ": ") || !strings.HasPrefix(pulses, ": ") || pulses == any {
		t.Errorf("of any rig %s\nof one %s", any, pulses)
	}
	if got := short("left-pulse", "left-pulse"); got != pulses {
		t.Errorf("twice the same: %s\nonce %s", got, pulses)
	}
	both := short("left-pulse", "right-relative", "left-pulse")
	if !strings.HasPrefix(both, ", on left-pulse, left-pulse: ") || !strings.Contains(both, "In short, on right-relative: ") || counts == pulses {
		t.Errorf("of both %s", both)
	}
	p.Settings = []scenarios.Setting{{Key: "firmware.pulse", Value: "30ms"}} // which counts do not use
	if got := short("left-pulse", "right-relative"); !strings.HasPrefix(got, ": ") {
		t.Errorf("one of them cannot have it: %s", got)
	}
}
