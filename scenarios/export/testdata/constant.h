/* SPDX-License-Identifier: 0BSD
 *
 * Copyright (c) the dialwright authors
 * Permission to use, copy, modify, and/or distribute this software for any
 * purpose with or without fee is hereby granted.
 * THE SOFTWARE IS PROVIDED "AS IS" AND THE AUTHOR DISCLAIMS ALL WARRANTIES
 * WITH REGARD TO THIS SOFTWARE INCLUDING ALL IMPLIED WARRANTIES OF
 * MERCHANTABILITY AND FITNESS. IN NO EVENT SHALL THE AUTHOR BE LIABLE FOR ANY
 * SPECIAL, DIRECT, INDIRECT, OR CONSEQUENTIAL DAMAGES OR ANY DAMAGES
 * WHATSOEVER RESULTING FROM LOSS OF USE, DATA OR PROFITS, WHETHER IN AN ACTION
 * OF CONTRACT, NEGLIGENCE OR OTHER TORTIOUS ACTION, ARISING OUT OF OR IN
 * CONNECTION WITH THE USE OR PERFORMANCE OF THIS SOFTWARE.
 *
 * Acceleration of a rotary encoder: how many steps a detent makes.
 * Profile constant of a/b?c*d with a name that is so long that it does not fit
 * into one line of a comment of the header: very very..., made for the
 * program, or a firmware that knows the number.
 * In short: gain 7.5 at every rate, in the program.
 *
 * For simulators, training desks, hobby panels and receivers; not for
 * certified aircraft equipment or navigation.
 * Transmit only as you are licensed to. Local rules and licensed practice come
 * first.
 * Stop when the wrist hurts.
 *
 * Usage, with a tick that counts milliseconds and may wrap around:
 *
 *     #include "dial.h"
 *     static dial_state knob;                      // all 0: at rest
 *     static int32_t number = 100;                 // in steps
 *
 *     void on_detent(int8_t dir)                   // +1 clockwise, -1 counter-clockwise
 *     {
 *         number += dir * (int32_t)dial_detent(&knob, ticks(), dir, number);
 *     }
 *
 * A state for each knob. Call it with interrupts off or from one place only. A
 * pause as long as a wrap of the tick (49 days) is taken for a short one.
 * For a second profile replace dial_ and DIAL_ in a copy of this file.
 */
#ifndef DIAL_H
#define DIAL_H

#include <stdint.h>

#define DIAL_TICKS_PER_SECOND 1000UL

typedef uint16_t dial_steps;

typedef struct {
    uint8_t carry;     /* 1/256 steps */
    int8_t dir;        /* of the newest detent, 0: none yet */
} dial_state;

/* dial_detent returns the steps, at least 1, of a detent in direction dir
 * (negative: down, else up) at tick now. value is the number before it, in
 * steps; this profile does not look at it. */
static inline dial_steps dial_detent(dial_state *s, uint32_t now, int8_t dir, int32_t value)
{
    int8_t d = (int8_t)(dir < 0 ? -1 : 1);
    uint32_t gain; /* 1/256 steps */
    uint8_t turned = (uint8_t)(d != s->dir);
    if (turned) {
        s->carry = 0;
    }
    gain = 1920UL;
    (void)now;
    s->dir = d;
    (void)value;
    gain += s->carry;
    s->carry = (uint8_t)(gain & 255U);
    gain >>= 8;
    return (dial_steps)(gain > 0 ? gain : 1U);
}

#endif /* DIAL_H */
