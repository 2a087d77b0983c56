// Package export writes a tuned profile so that it works outside: as a C99 header
// for a microcontroller, as JSON or CSV for a program, as a card to keep beside the
// panel.
//
// The header holds the integers of a compiled acceleration (package accel) and the
// same arithmetic, operation by operation: no float, no heap, and a division only
// where a value lands on multiples. Its tick may wrap around. What the simulator
// said of a profile is therefore what the firmware does.
//
// On an 8-bit AVR (ATmega328P, avr-gcc -Os, cycles counted by simavr; the test
// TestHeaderFitsAnAVR prints them anew) a ladder takes about 250 bytes of flash and
// 130 cycles a detent, a curve in a table of 64 points about 750 bytes and 460
// cycles; the state of a knob is 9 bytes, 139 with a sliding window.
package export

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"text/template"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
)

// Header writes the C99 header of a profile's acceleration.
func Header(w io.Writer, p *scenarios.Profile) error {
	g, err := p.Acceleration.Compile()
	if err != nil {
		return fmt.Errorf("profile %s: %w", p.Name, err)
	}
	h := header{Gain: g, Name: comment(p.Name), About: comment(p.About()), Cautions: scenarios.Cautions}
	h.Tick, h.TickNs = "millisecond", 1_000_000
	if g.TicksPerSecond == 1_000_000 {
		h.Tick, h.TickNs = "microsecond", 1000
	}
	h.Where = "the program, or a firmware that knows the number"
	if p.Home == encoder.InFirmware {
		h.Where = "the firmware"
	}
	var out bytes.Buffer
	if err := headerTemplate.Execute(&out, h); err != nil {
		return err
	}
	_, err = w.Write(out.Bytes())
	return err
}

type header struct {
	*accel.Gain
	Name, About, Where, Tick string
	TickNs                   int
	Cautions                 []string
}

// The template asks these.

// HasTable says whether the gain comes from a table of intervals.
func (h header) HasTable() bool { return h.Table != nil }

// HasLadder says whether the gain comes from steps with hysteresis.
func (h header) HasLadder() bool { return h.Factor != nil }

// Accelerates says whether the gain depends on the rate at all.
func (h header) Accelerates() bool { return h.Flat == 0 }

// IsAverage and IsWindow say where the rate comes from.
func (h header) IsAverage() bool { return h.Accelerates() && h.From == accel.Average }

// IsWindow says that the rate is a count in a sliding window.
func (h header) IsWindow() bool { return h.Accelerates() && h.From == accel.Window }

// Keeps says that a reversal keeps the estimate.
func (h header) Keeps() bool { return h.Reversal == accel.Keep }

// Rounds says that each detent is rounded by itself.
func (h header) Rounds() bool { return h.Steps == accel.Round }

// Carries says that a fraction waits for the next detent.
func (h header) Carries() bool { return h.Steps == accel.Carry }

// Down is by how much an interval is shifted to the right, Up to the left.
func (h header) Down() int { return max(0, -h.Shift) }

// Up is by how much an interval is shifted to the left.
func (h header) Up() int { return max(0, h.Shift) }

// Last is the last place of a list.
func (h header) Last(n int) int { return n - 1 }

// comment makes a name harmless inside a C comment: no end of comment, no
// trigraph, no end of line, nothing that is not a plain letter of ASCII.
func comment(s string) string {
	var out strings.Builder
	for _, r := range s {
		switch {
		case r == '*' || r == '/' || r == '?' || r == '\\':
			out.WriteByte('_')
		case r < ' ' || r == 0x7f:
			out.WriteByte(' ')
		case r > 0x7e:
			fmt.Fprintf(&out, "(U+%04X)", r)
		default:
			out.WriteRune(r)
		}
	}
	return out.String()
}

// list writes numbers as the inside of a C initialiser, a few a line.
func list(numbers []uint16) string {
	var out strings.Builder
	for i, n := range numbers {
		switch {
		case i == 0:
			out.WriteString("\n    ")
		case i%10 == 0:
			out.WriteString(",\n    ")
		default:
			out.WriteString(", ")
		}
		fmt.Fprintf(&out, "%dU", n)
	}
	out.WriteByte('\n')
	return out.String()
}

// knots takes one field of a table.
func knots(t accel.Falling, field string) []uint16 {
	var list []uint16
	for _, k := range t {
		switch field {
		case "at":
			list = append(list, k.At)
		case "value":
			list = append(list, k.Value)
		default:
			list = append(list, uint16(k.Shift))
		}
	}
	return list
}

var headerTemplate = template.Must(template.New("header").Funcs(template.FuncMap{"list": list, "knots": knots}).Parse(headerText))

const headerText = `/* SPDX-License-Identifier: 0BSD
 * Copyright (c) the dialwright authors. Permission to use, copy, modify and
 * distribute this file for any purpose with or without fee is granted. It comes
 * as it is, without any warranty.
 *
 * Acceleration for a rotary encoder: how many steps a detent makes.
 * Profile: {{.Name}}
 * {{.About}}
 * Made to live in {{.Where}}.
{{range .Cautions}} * {{.}}
{{end}} *
 * Usage, with a tick that counts {{.Tick}}s and may wrap around:
 *
 *     #include "dial.h"
 *     static dial_state knob;              // all zero: at rest
 *     static long number = 100;
 *
 *     void on_detent(int8_t dir)           // +1 clockwise, -1 counter-clockwise
 *     {
 *         uint16_t steps = dial_detent(&knob, ticks(), dir, number);
 *         number += dir * (long)steps;     // or send so many pulses
 *     }
 *
 * A pause of a whole wrap of the tick{{if eq .Tick "microsecond"}} (71 minutes){{else}} (49 days){{end}} and a moment is taken for the moment.
 */
#ifndef DIAL_H
#define DIAL_H

#include <stdint.h>

#ifndef DIAL_CONST            /* where tables live: define it to keep them in flash */
#define DIAL_CONST static const
#define DIAL_READ(table, i) ((table)[i])
#endif

#define DIAL_TICK_NS {{.TickNs}}L
#define DIAL_REST {{.Rest}}UL        /* ticks without a detent after which the rate is 0 */
{{if .Accelerates}}#define DIAL_NEVER 65535U   /* the interval of rate 0 */
{{end}}
typedef struct {
    uint32_t last;      /* tick of the newest detent */
    uint16_t estimate;  /* interval between two detents */
    uint8_t carry;      /* 1/256 steps */
    uint8_t step;       /* of a ladder */
    int8_t dir;         /* of the newest detent, 0: none yet */
{{if .IsWindow}}    uint8_t in, oldest; /* detents in the window */
    uint32_t times[32];
{{end}}} dial_state;
{{if .HasTable}}
DIAL_CONST uint16_t dial_at[{{len .Table}}] = { {{- list (knots .Table "at") -}} };
DIAL_CONST uint16_t dial_factor[{{len .Table}}] = { {{- list (knots .Table "value") -}} };
DIAL_CONST uint16_t dial_shift[{{len .Table}}] = { {{- list (knots .Table "shift") -}} };
{{end}}{{if .HasLadder}}
DIAL_CONST uint16_t dial_enter[{{len .Enter}}] = { {{- list .Enter -}} };
DIAL_CONST uint16_t dial_leave[{{len .Leave}}] = { {{- list .Leave -}} };
DIAL_CONST uint16_t dial_step_factor[{{len .Factor}}] = { {{- list .Factor -}} };
{{end}}{{if .IsAverage}}
DIAL_CONST uint16_t dial_remain_at[{{len .Remain}}] = { {{- list (knots .Remain "at") -}} };
DIAL_CONST uint16_t dial_remain[{{len .Remain}}] = { {{- list (knots .Remain "value") -}} };
DIAL_CONST uint16_t dial_remain_shift[{{len .Remain}}] = { {{- list (knots .Remain "shift") -}} };
{{end}}{{if .IsWindow}}
DIAL_CONST uint16_t dial_spaced[{{len .Spaced}}] = { {{- list .Spaced -}} };
{{end}}{{if or .HasTable .IsAverage}}
/* dial_look_up reads a table of straight pieces that are powers of two wide. */
static uint16_t dial_look_up(const uint16_t *at, const uint16_t *value, const uint16_t *shift, uint8_t last, uint16_t x)
{
    uint8_t i = 0, end = last;
    while ((uint8_t)(end - i) > 1U) {
        uint8_t mid = (uint8_t)(((uint16_t)i + end) >> 1);
        if (x < DIAL_READ(at, mid)) {
            end = mid;
        } else {
            i = mid;
        }
    }
    {
        uint16_t from = DIAL_READ(value, i);
        uint32_t drop = (uint32_t)from - DIAL_READ(value, i + 1U);
        uint32_t into = (uint32_t)x - DIAL_READ(at, i);
        return (uint16_t)(from - ((into * drop) >> DIAL_READ(shift, i)));
    }
}
{{end}}{{if .IsWindow}}
static void dial_remember(dial_state *s, uint32_t now)
{
    if (s->in == {{.Last (len .Spaced)}}U) {
        s->oldest = (uint8_t)((uint8_t)(s->oldest + 1U) & 31U);
        s->in--;
    }
    s->times[(uint8_t)(s->oldest + s->in) & 31U] = now;
    s->in++;
}
{{end}}{{if .Accelerates}}
/* dial_rate brings the estimate up to now and returns the factor in 1/256. */
static uint16_t dial_rate(dial_state *s, uint32_t now, uint8_t turned)
{
    uint32_t gap = now - s->last;
    s->last = now;
    if (s->dir == 0 || gap >= DIAL_REST{{if not .Keeps}} || turned{{end}}) {
        s->estimate = DIAL_NEVER;
        s->step = 0;
{{if .IsWindow}}        s->in = 0;
        dial_remember(s, now);
{{end}}        return 256U;
    }
{{if .Keeps}}    if (turned) { /* this detent goes by the old estimate */
{{if .IsWindow}}        dial_remember(s, now);
{{end}}    } else
{{else}}    (void)turned;
{{end}}    {
{{if .IsWindow}}        while (s->in > 0U && now - s->times[s->oldest] > {{.Over}}UL) {
            s->oldest = (uint8_t)((uint8_t)(s->oldest + 1U) & 31U);
            s->in--;
        }
        s->estimate = DIAL_READ(dial_spaced, s->in);
        dial_remember(s, now);
{{else}}        uint16_t interval = (uint16_t)({{if .Down}}gap >> {{.Down}}{{else}}gap << {{.Up}}{{end}});
{{if .IsAverage}}        uint16_t old = s->estimate;
        if (old == DIAL_NEVER) {
            s->estimate = (uint16_t)(interval + {{.Over}}U);
        } else {
            uint32_t remain = dial_look_up(dial_remain_at, dial_remain, dial_remain_shift, {{.Last (len .Remain)}}U, old);
            if (old > interval) {
                s->estimate = (uint16_t)(interval + (uint16_t)(((uint32_t)(uint16_t)(old - interval) * remain) >> 15));
            } else {
                s->estimate = (uint16_t)(interval - (uint16_t)(((uint32_t)(uint16_t)(interval - old) * remain) >> 15));
            }
        }
{{else}}        s->estimate = interval;
{{end}}{{end}}    }
{{if .HasLadder}}    while (s->step < {{len .Enter}}U && s->estimate < DIAL_READ(dial_enter, s->step)) {
        s->step++;
    }
    while (s->step > 0U && s->estimate >= DIAL_READ(dial_leave, s->step - 1U)) {
        s->step--;
    }
    return DIAL_READ(dial_step_factor, s->step);
{{else}}    if (s->estimate == DIAL_NEVER) {
        return 256U;
    }
    return dial_look_up(dial_at, dial_factor, dial_shift, {{.Last (len .Table)}}U, s->estimate);
{{end}}}
{{end}}
/* dial_detent returns the steps, at least 1, of a detent in direction dir
 * (negative: down) at a tick. value is the number before it{{if not .Landing}}; it is not looked at{{end}}. */
static uint16_t dial_detent(dial_state *s, uint32_t now, int8_t dir, int32_t value)
{
    int8_t d = (int8_t)(dir < 0 ? -1 : 1);
    uint8_t turned = (uint8_t)(d != s->dir);
    uint32_t gain;
    if (turned) {
        s->carry = 0;
    }
{{if .Accelerates}}    gain = (uint32_t){{.Base}}UL * dial_rate(s, now, turned);
{{else}}    gain = {{.Flat}}UL;
    s->last = now;
{{end}}    s->dir = d;
{{if .Landing}}    if (gain > {{.Landing}}UL) { /* land on a multiple */
        int32_t steps = (int32_t)((gain + 128U) >> 8);
        int32_t past = value % steps;
        s->carry = 0;
        if (past < 0) {
            past += steps;
        }
        if (d > 0 || past == 0) {
            past = steps - past;
        }
        return (uint16_t)past;
    }
{{else}}    (void)value;
{{end}}{{if .Rounds}}    gain = (gain + 128U) >> 8;
{{else}}    gain += s->carry;
    s->carry = (uint8_t)(gain & 255U);
    gain >>= 8;
{{end}}    return (uint16_t)(gain == 0U ? 1U : gain);
}

#endif /* DIAL_H */
`

// Vectors writes test vectors: a line of tick, direction, value before and steps
// for each detent of a turn that meets slow and fast detents, reversals, rests and
// the wrap of a 32-bit tick.
func Vectors(w io.Writer, p *scenarios.Profile) error {
	g, err := p.Acceleration.Compile()
	if err != nil {
		return fmt.Errorf("profile %s: %w", p.Name, err)
	}
	ms := g.TicksPerSecond / 1000
	var out bytes.Buffer
	out.WriteString("tick,direction,value,steps\n")
	var s accel.State
	now, value := int64(1<<32)-2000*ms, int64(100)
	turn := func(n int, gap int64, dir int) {
		for range n {
			now += gap * ms
			steps := g.Detent(&s, now, dir, value)
			fmt.Fprintf(&out, "%d,%d,%d,%d\n", uint32(now), dir, value, steps)
			value += int64(dir) * steps
		}
	}
	for _, gap := range []int64{300, 150, 80, 50, 35, 20, 10, 3} {
		turn(6, gap, +1)
		turn(2, gap, -1)
		turn(1, 1000, +1)
		turn(3, gap, +1)
	}
	_, err = w.Write(out.Bytes())
	return err
}
