package export_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"dialwright/scenarios"
	"dialwright/scenarios/export"
)

// timed counts the cycles of each of 200 detents with timer 1 and prints their
// mean and their most.
const timed = `
#include <avr/io.h>
#include <avr/sleep.h>
#include <avr/interrupt.h>
static void put(char c) { while (!(UCSR0A & (1 << UDRE0))) {} UDR0 = (uint8_t)c; }
static void number(uint32_t n) { char b[11]; uint8_t i = 0; do { b[i++] = (char)('0' + n % 10U); n /= 10U; } while (n); while (i) put(b[--i]); }
static volatile int8_t way = 1;
static volatile uint32_t ticks = 4294967000UL;
int main(void) {
    static dial_state s;
    uint32_t sum = 0; uint16_t most = 0; uint8_t i;
    int32_t value = 100;
    UBRR0 = 0; UCSR0B = 1 << TXEN0;
    TCCR1B = 1;
    for (i = 0; i < 200; i++) {
        uint16_t from, used, steps;
        ticks += (uint32_t)(i % 50U + 5U) * PER_MS;
        from = TCNT1;
        steps = dial_detent(&s, ticks, way, value);
        used = (uint16_t)(TCNT1 - from);
        value += (int32_t)steps;
        sum += used; if (used > most) most = used;
    }
    put('C'); number(sum / 200U); put(' '); number(most); put('\n');
    cli(); sleep_enable(); sleep_cpu();
    return 0;
}
`

// On an 8-bit AVR the header's needs are small. The test states flash, RAM and,
// where simavr is installed, cycles per detent; it fails only where they are more
// than a small part of such a chip.
func TestHeaderFitsAnAVR(t *testing.T) {
	cc := compiler(t, "avr-gcc")
	dir := t.TempDir()
	for _, p := range scenarios.Profiles() {
		if p.Acceleration.Plain() {
			continue
		}
		g, err := p.Acceleration.Compile()
		if err != nil {
			t.Fatal(err)
		}
		var c bytes.Buffer
		fmt.Fprintf(&c, "#define PER_MS %dU\n", g.TicksPerSecond/1000)
		if err := export.Header(&c, &p); err != nil {
			t.Fatal(err)
		}
		header := c.String()
		bare := filepath.Join(dir, "bare.c")
		call := "uint16_t f(dial_state *, uint32_t, int8_t, int32_t);\nuint16_t f(dial_state *s, uint32_t n, int8_t d, int32_t v) { return dial_detent(s, n, d, v); }\ndial_state knob;\n"
		if err := os.WriteFile(bare, []byte(header+call), 0o666); err != nil {
			t.Fatal(err)
		}
		object := filepath.Join(dir, "bare.o")
		if out, err := exec.Command(cc, "-std=c99", "-mmcu=atmega328p", "-Os", "-fno-common", "-c", "-o", object, bare).CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		out, err := exec.Command("avr-size", object).Output()
		if err != nil {
			t.Fatal(err)
		}
		var text, data, bss int
		if _, err := fmt.Sscan(strings.Split(string(out), "\n")[1], &text, &data, &bss); err != nil {
			t.Fatalf("%v in %s", err, out)
		}
		t.Logf("%s: %d bytes of flash, %d of RAM", p.Name, text+data, data+bss)
		if text+data > 3000 || data+bss > 600 {
			t.Errorf("%s needs %d bytes of flash and %d of RAM", p.Name, text+data, data+bss)
		}
		simavr, err := exec.LookPath("simavr")
		if err != nil {
			if os.Getenv("CI") != "" {
				t.Fatal("simavr is not installed")
			}
			t.Log("simavr is not installed: cycles are not counted")
			continue
		}
		full, program := filepath.Join(dir, "timed.c"), filepath.Join(dir, "timed.elf")
		if err := os.WriteFile(full, []byte(header+timed), 0o666); err != nil {
			t.Fatal(err)
		}
		if out, err := exec.Command(cc, "-std=c99", "-mmcu=atmega328p", "-DF_CPU=16000000UL", "-Os", "-o", program, full).CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		said, err := exec.Command(simavr, "-m", "atmega328p", "-f", "16000000", program).CombinedOutput()
		m := regexp.MustCompile(`C(\d+) (\d+)`).FindSubmatch(said)
		if m == nil {
			t.Fatalf("simavr said nothing of cycles: %v\n%s", err, said)
		}
		t.Logf("%s: %s cycles a detent on average, %s at most", p.Name, m[1], m[2])
	}
}
