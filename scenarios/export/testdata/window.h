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
 * Profile window of a/b?c*d with a name that is so long that it does not fit
 * into one line of a comment of the header: very very v..., made for the
 * program, or a firmware that knows the number.
 * In short: gain 6 at 5/s, 13 at 12/s, 26 at 25/s, in the program.
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
    uint8_t carry;     /* 1/256 steps */
    int8_t dir;        /* of the newest detent, 0: none yet */
    uint8_t held;      /* detents in the window */
    uint8_t oldest;    /* where in times the oldest is */
    uint32_t times[32];
} dial_state;

/* The factor by interval, as straight pieces: from where, how much there, and
 * how wide (a power of two). */
static const uint16_t dial_curve_at[64] DIAL_FLASH = {
    0U, 256U, 320U, 324U, 328U, 336U, 352U, 384U, 416U, 448U,
    480U, 512U, 544U, 576U, 640U, 704U, 768U, 832U, 896U, 960U,
    1024U, 1152U, 1280U, 1408U, 1536U, 1664U, 1792U, 1920U, 2048U, 2304U,
    2560U, 2816U, 3072U, 3328U, 3584U, 3840U, 4096U, 4352U, 4608U, 5120U,
    5632U, 6144U, 6656U, 7168U, 7680U, 8192U, 8704U, 9216U, 10240U, 11264U,
    12288U, 13312U, 14336U, 15360U, 16384U, 17408U, 18432U, 20480U, 22528U, 24576U,
    26624U, 28672U, 32768U, 65535U
};
static const uint16_t dial_curve_value[64] DIAL_FLASH = {
    51200U, 51200U, 51200U, 50824U, 50207U, 49018U, 46801U, 42923U, 39641U, 36827U,
    34389U, 32256U, 30374U, 28700U, 25856U, 23529U, 21589U, 19948U, 18542U, 17323U,
    16256U, 14478U, 13056U, 11892U, 10923U, 10102U, 9399U, 8789U, 8256U, 7367U,
    6656U, 6074U, 5589U, 5179U, 4827U, 4523U, 4256U, 4021U, 3812U, 3456U,
    3165U, 2923U, 2718U, 2542U, 2389U, 2256U, 2138U, 2034U, 1856U, 1711U,
    1589U, 1487U, 1399U, 1323U, 1256U, 1197U, 1145U, 1056U, 983U, 923U,
    871U, 827U, 756U, 506U
};
static const uint8_t dial_curve_width[64] DIAL_FLASH = {
    8U, 6U, 2U, 2U, 3U, 4U, 5U, 5U, 5U, 5U,
    5U, 5U, 5U, 6U, 6U, 6U, 6U, 6U, 6U, 6U,
    7U, 7U, 7U, 7U, 7U, 7U, 7U, 7U, 8U, 8U,
    8U, 8U, 8U, 8U, 8U, 8U, 8U, 8U, 9U, 9U,
    9U, 9U, 9U, 9U, 9U, 9U, 9U, 10U, 10U, 10U,
    10U, 10U, 10U, 10U, 10U, 10U, 11U, 11U, 11U, 11U,
    11U, 12U, 15U, 0U
};

/* The interval that so many detents in the window stand for. */
static const uint16_t dial_spaced[33] DIAL_FLASH = {
    65535U, 12800U, 6400U, 4267U, 3200U, 2560U, 2134U, 1829U, 1600U, 1423U,
    1280U, 1164U, 1067U, 985U, 915U, 854U, 800U, 753U, 712U, 674U,
    640U, 610U, 582U, 557U, 534U, 512U, 493U, 475U, 458U, 442U,
    427U, 413U, 400U
};

static inline uint16_t dial_look_up(const uint16_t *at, const uint16_t *value, const uint8_t *width, uint8_t last, uint16_t x)
{
    uint8_t i = 0;
    uint16_t from, to;
    uint32_t into;
    while ((uint8_t)(last - i) > 1U) {
        uint8_t mid = (uint8_t)((uint8_t)(i + last) >> 1);
        if (x < DIAL_READ(at + mid)) {
            last = mid;
        } else {
            i = mid;
        }
    }
    from = DIAL_READ(value + i);
    to = DIAL_READ(value + i + 1);
    into = (uint16_t)(x - DIAL_READ(at + i));
    return (uint16_t)(from - (uint16_t)((into * (uint16_t)(from - to)) >> DIAL_READ_BYTE(width + i)));
}

static inline void dial_remember(dial_state *s, uint32_t now)
{
    if (s->held == 32U) {
        s->oldest = (uint8_t)((s->oldest + 1U) & 31U);
        s->held--;
    }
    s->times[(uint8_t)(s->oldest + s->held) & 31U] = now;
    s->held++;
}

static inline uint16_t dial_counted(dial_state *s, uint32_t now)
{
    while (s->held > 0 && now - s->times[s->oldest] > 200UL) {
        s->oldest = (uint8_t)((s->oldest + 1U) & 31U);
        s->held--;
    }
    return DIAL_READ(dial_spaced + s->held);
}

/* dial_factor brings the estimate up to now and returns the factor in 1/256. */
static inline uint16_t dial_factor(dial_state *s, uint32_t now, uint8_t turned)
{
    uint32_t gap = now - s->last;
    s->last = now;
    if (s->dir == 0 || gap >= DIAL_REST || turned) {
        s->estimate = DIAL_NEVER;
        s->held = 0;
        dial_remember(s, now);
        return 256U;
    }
    s->estimate = dial_counted(s, now);
    dial_remember(s, now);
    if (s->estimate == DIAL_NEVER) {
        return 256U;
    }
    return dial_look_up(dial_curve_at, dial_curve_value, dial_curve_width, 63U, s->estimate);
}

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
    gain = dial_factor(s, now, turned);
    s->dir = d;
    (void)value;
    gain += s->carry;
    s->carry = (uint8_t)(gain & 255U);
    gain >>= 8;
    return (dial_steps)(gain > 0 ? gain : 1U);
}

#endif /* DIAL_H */
