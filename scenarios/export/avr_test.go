package export_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/scenarios"
	"dialwright/scenarios/export"
)

// onChip is what a program on the chip needs to say something: simavr prints what
// goes out of the serial line, and ends when the chip sleeps for good.
const onChip = `
#include <avr/io.h>
#include <avr/sleep.h>
#include <avr/interrupt.h>
static void put(char c) { while (!(UCSR0A & (1 << UDRE0))) {} UDR0 = (uint8_t)c; }
static void print(uint64_t n)
{
    char b[21];
    uint8_t i = 0;
    do { b[i++] = (char)('0' + (uint8_t)(n % 10U)); n /= 10U; } while (n);
    put('=');
    while (i) put(b[--i]);
    put('\n');
}
static void begin(void) { UBRR0 = 0; UCSR0B = 1 << TXEN0; }
static void end(void) { cli(); sleep_enable(); sleep_cpu(); }
`

// timed prints the mean and the most cycles of a call, and that of a call that does
// nothing, over 400 detents at 5 to 54 ms, with a reversal every 37 and a rest every
// 50 of them.
const timed = `
__attribute__((noinline)) static dial_steps detent(dial_state *s, uint32_t now, int8_t dir, int32_t value) { return dial_detent(s, now, dir, value); }
__attribute__((noinline)) static dial_steps nothing(dial_state *s, uint32_t now, int8_t dir, int32_t value) { __asm__ volatile ("" :: "r"(s), "r"(now), "r"(dir), "r"(value)); return 1; }
typedef dial_steps (*call)(dial_state *, uint32_t, int8_t, int32_t);
static void run(call f)
{
    dial_state s = {0};
    uint32_t ticks = 4294967000UL, sum = 0;
    int32_t value = 100;
    uint16_t most = 0, i;
    int8_t dir = 1;
    for (i = 0; i < 400; i++) {
        uint16_t from, used;
        dial_steps steps;
        ticks += (i % 50U ? i % 50U + 5U : 2000U) * (DIAL_TICKS_PER_SECOND / 1000U);
        if (i % 37U == 0U) dir = (int8_t)-dir;
        from = TCNT1;
        steps = f(&s, ticks, dir, value);
        used = (uint16_t)(TCNT1 - from);
        value += dir * (int32_t)steps;
        sum += used;
        if (used > most) most = used;
    }
    print(sum / 400U);
    print(most);
}
int main(void) { begin(); TCCR1B = 1; run(nothing); run(detent); end(); return 0; }
`

var printed = regexp.MustCompile(`=(\d+)`)

// simulate runs a program for the chip and returns the numbers that it prints.
func simulate(t *testing.T, program string) []string {
	t.Helper()
	simavr := compiler(t, "simavr")
	said, err := exec.Command(simavr, "-m", "atmega328p", "-f", "16000000", program).CombinedOutput()
	var numbers []string
	for _, m := range printed.FindAllSubmatch(said, -1) {
		numbers = append(numbers, string(m[1]))
	}
	if numbers == nil {
		t.Fatalf("simavr prints nothing: %v\n%s", err, said)
	}
	return numbers
}

// takes returns how many bytes of flash and of RAM a linked program takes.
func takes(t *testing.T, program string) (flash, ram int) {
	t.Helper()
	out, err := exec.Command("avr-size", program).Output()
	if err != nil {
		t.Fatal(err)
	}
	var text, data, bss int
	if _, err := fmt.Sscan(strings.Split(string(out), "\n")[1], &text, &data, &bss); err != nil {
		t.Fatalf("%v in %s", err, out)
	}
	return text + data, data + bss
}

// What a knob takes on an 8-bit AVR, beside an empty program. The test states
// flash, RAM and cycles; it fails where they are more than a small part of such a
// chip.
func TestHeaderFitsAnAVR(t *testing.T) {
	cc := compiler(t, "avr-gcc")
	power := accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10}
	ladder := accel.Ladder{Steps: []accel.Step{{Above: 8, Gain: 3}, {Above: 16, Gain: 10}}, Hysteresis: 0.15}
	chip := []string{"-std=c99", "-mmcu=atmega328p", "-DF_CPU=16000000UL", "-Os"}
	t.Logf("//	%-25s flash, bytes  RAM, bytes  cycles a detent  at most", "")
	empty, unused := takes(t, build(t, cc, "int main(void) { return 0; }\n", chip...))
	for _, x := range []struct {
		name string
		a    accel.Acceleration
	}{
		{"constant", accel.Acceleration{Curve: accel.Constant{Gain: 2.5}}},
		{"ladder", accel.Acceleration{Curve: ladder}},
		{"ladder, landing above 5", accel.Acceleration{Curve: ladder, Landing: 5}},
		{"power", accel.Acceleration{Curve: power}},
		{"power, ticks of 1 us", accel.Acceleration{Curve: power, Tick: time.Microsecond}},
		{"power, average", accel.Acceleration{Curve: power, Rate: accel.Rate{From: accel.Average}}},
		{"power, window", accel.Acceleration{Curve: power, Rate: accel.Rate{From: accel.Window}}},
	} {
		var c bytes.Buffer
		if err := export.Header(&c, &scenarios.Profile{Name: x.name, Acceleration: x.a}); err != nil {
			t.Fatal(err)
		}
		header := c.String()
		flash, ram := takes(t, build(t, cc, header+`
dial_state knob;
volatile uint32_t now;
volatile int8_t dir;
volatile int32_t number;
volatile dial_steps steps;
int main(void) { steps = dial_detent(&knob, now, dir, number); return 0; }
`, chip...))
		const variables = 11 // those of this program that are no state
		flash, ram = flash-empty, ram-unused-variables
		n := simulate(t, build(t, cc, header+onChip+timed, chip...))
		var cycles [4]int
		for i := range cycles {
			if _, err := fmt.Sscan(n[i], &cycles[i]); err != nil {
				t.Fatal(err)
			}
		}
		mean, most := cycles[2]-cycles[0], cycles[3]-cycles[1]
		t.Logf("//	%-25s %12d  %10d  %15d  %7d", x.name, flash, ram, mean, most)
		if flash > 2000 || ram > 160 || most > 2000 || mean <= 0 {
			t.Errorf("%s needs %d bytes of flash, %d of RAM, %d to %d cycles", x.name, flash, ram, mean, most)
		}
	}
}

// The chip's 16-bit integers make no difference: an AVR steps like the model.
func TestHeaderStepsLikeTheModelOnAnAVR(t *testing.T) {
	cc := compiler(t, "avr-gcc")
	compiler(t, "simavr")
	detents := 300
	if testing.Short() {
		detents = 60
	}
	for first := range 6 {
		var of []int
		for i := range 7 { // every curve, and in the end every estimate and rule
			of = append(of, 21*first+i*8)
		}
		body, want := calls(t, of, detents)
		got := simulate(t, build(t, cc, mixer+onChip+headers(t, of, driver)+"int main(void)\n{\n    begin();\n"+body+"    end();\n    return 0;\n}\n", "-std=c99", "-mmcu=atmega328p", "-DF_CPU=16000000UL", "-Os"))
		for n := range want {
			if n >= len(got) || got[n] != want[n] {
				t.Errorf("profile %d: the chip and the model disagree: %+v", of[n], acceleration(of[n]))
			}
		}
	}
}

// A test that states sizes cannot go stale where it cannot run: in CI the tools
// are there.
func TestToolsForTheChipAreThereInCI(t *testing.T) {
	if os.Getenv("CI") == "" {
		t.Skip("CI is not set")
	}
	for _, tool := range []string{"gcc", "g++", "clang", "clang++", "avr-gcc", "avr-size", "simavr"} {
		compiler(t, tool)
	}
}
