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
 * Profile ladder of a/b?c*d with a name that is so long that it does not fit
 * into one line of a comment of the header: very very v..., made for the
 * program, or a firmware that knows the number.
 * In short: gain 1 at 5/s, 3 at 12/s, 10 at 25/s, in the program.
 * The profile also sets, not here: firmware.pulse 40ms.
 * Not here either: after a push of the knob a step counts 10.
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

#ifdef __AVR__ /* tables stay in flash */
#include <avr/pgmspace.h>
#define DIAL_FLASH PROGMEM
#define DIAL_READ(p) pgm_read_word(p)
#define DIAL_READ_BYTE(p) pgm_read_byte(p)
#else
#define DIAL_FLASH
#define DIAL_READ(p) (*(p))
#define DIAL_READ_BYTE(p) (*(p))
#endif

#define DIAL_TICKS_PER_SECOND 1000UL
#define DIAL_REST 400UL /* ticks without a detent after which the rate is 0 */
#define DIAL_NEVER 65535U /* the interval that stands for rate 0 */

typedef uint16_t dial_steps;

typedef struct {
    uint32_t last;     /* tick of the newest detent */
    uint16_t estimate; /* interval between detents, a unit is 1/64000 s */
    uint8_t rung;      /* of the ladder, 0: under the first */
    uint8_t carry;     /* 1/256 steps */
    int8_t dir;        /* of the newest detent, 0: none yet */
} dial_state;

/* A rung is entered at intervals under enter and left at leave and longer. */
static const uint16_t dial_enter[2] DIAL_FLASH = {
    8000U, 4000U
};
static const uint16_t dial_leave[2] DIAL_FLASH = {
    9412U, 4706U
};
static const uint16_t dial_rung_factor[3] DIAL_FLASH = {
    256U, 768U, 2560U
};

/* dial_factor brings the estimate up to now and returns the factor in 1/256. */
static inline uint16_t dial_factor(dial_state *s, uint32_t now, uint8_t turned)
{
    uint32_t gap = now - s->last;
    s->last = now;
    if (s->dir == 0 || gap >= DIAL_REST) {
        s->estimate = DIAL_NEVER;
        s->rung = 0;
        return 256U;
    }
    if (!turned) { /* the first detent after a reversal goes by the old estimate */
        s->estimate = (uint16_t)(gap << 6);
    }
    while (s->rung < 2U && s->estimate < DIAL_READ(dial_enter + s->rung)) {
        s->rung++;
    }
    while (s->rung > 0 && s->estimate >= DIAL_READ(dial_leave + s->rung - 1)) {
        s->rung--;
    }
    return DIAL_READ(dial_rung_factor + s->rung);
}

/* dial_detent returns the steps, at least 1, of a detent in direction dir
 * (negative: down, else up) at tick now. value is the number before it, in
 * steps. */
static inline dial_steps dial_detent(dial_state *s, uint32_t now, int8_t dir, int32_t value)
{
    int8_t d = (int8_t)(dir < 0 ? -1 : 1);
    uint32_t gain; /* 1/256 steps */
    uint8_t turned = (uint8_t)(d != s->dir);
    if (turned) {
        s->carry = 0;
    }
    gain = dial_factor(s, now, turned);
    s->dir = d;
    if (gain > 1280UL) { /* on to the next multiple */
        int32_t steps = (int32_t)((gain + 128U) >> 8);
        int32_t past = value % steps;
        s->carry = 0;
        if (past < 0) {
            past += steps;
        }
        if (d > 0 || past == 0) {
            past = steps - past;
        }
        return (dial_steps)past;
    }
    gain += s->carry;
    s->carry = (uint8_t)(gain & 255U);
    gain >>= 8;
    return (dial_steps)(gain > 0 ? gain : 1U);
}

#endif /* DIAL_H */
