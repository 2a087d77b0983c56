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
 * Profile power of a/b?c*d with a name that is so long that it does not fit
 * into one line of a comment of the header: very very ve..., made for the
 * firmware: as many pulses as steps.
 * In short: gain 2.89 at 5/s, 7.12 at 12/s, 20 at 25/s, in the firmware.
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
 *
 *     void on_detent(int8_t dir)                   // +1 clockwise, -1 counter-clockwise
 *     {
 *         dial_steps n = dial_detent(&knob, ticks(), dir, 0);
 *         while (n--)
 *             queue_pulse(dir);
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
    int8_t dir;        /* of the newest detent, 0: none yet */
} dial_state;

/* The factor by interval, as straight pieces: from where, how much there, and
 * how wide (a power of two). */
static const uint16_t dial_curve_at[64] DIAL_FLASH = {
    0U, 2048U, 2560U, 2816U, 2848U, 2880U, 2944U, 3072U, 3200U, 3328U,
    3584U, 3840U, 4096U, 4352U, 4608U, 4864U, 5120U, 5376U, 5632U, 5888U,
    6144U, 6400U, 6656U, 6912U, 7168U, 7680U, 8192U, 8704U, 9216U, 9728U,
    10240U, 10752U, 11264U, 12288U, 13312U, 13824U, 14080U, 14336U, 14592U, 14720U,
    14848U, 15360U, 16384U, 16896U, 17152U, 17280U, 17408U, 17472U, 17536U, 17664U,
    17920U, 18432U, 19456U, 20480U, 22528U, 23040U, 23296U, 23552U, 24064U, 24576U,
    26624U, 28672U, 32768U, 65535U
};
static const uint16_t dial_curve_value[64] DIAL_FLASH = {
    2560U, 2560U, 2560U, 2560U, 2554U, 2503U, 2407U, 2231U, 2076U, 1939U,
    1707U, 1520U, 1367U, 1240U, 1134U, 1044U, 967U, 901U, 844U, 794U,
    750U, 711U, 677U, 646U, 619U, 572U, 534U, 502U, 475U, 453U,
    434U, 417U, 403U, 379U, 361U, 354U, 350U, 347U, 344U, 342U,
    341U, 335U, 325U, 321U, 319U, 318U, 318U, 317U, 317U, 316U,
    314U, 311U, 305U, 300U, 293U, 291U, 290U, 290U, 288U, 287U,
    282U, 279U, 273U, 260U
};
static const uint8_t dial_curve_width[64] DIAL_FLASH = {
    11U, 9U, 8U, 5U, 5U, 6U, 7U, 7U, 7U, 8U,
    8U, 8U, 8U, 8U, 8U, 8U, 8U, 8U, 8U, 8U,
    8U, 8U, 8U, 8U, 9U, 9U, 9U, 9U, 9U, 9U,
    9U, 9U, 10U, 10U, 9U, 8U, 8U, 8U, 7U, 7U,
    9U, 10U, 9U, 8U, 7U, 7U, 6U, 6U, 7U, 8U,
    9U, 10U, 10U, 11U, 9U, 8U, 8U, 9U, 9U, 11U,
    11U, 12U, 15U, 0U
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

/* dial_factor brings the estimate up to now and returns the factor in 1/256. */
static inline uint16_t dial_factor(dial_state *s, uint32_t now, uint8_t turned)
{
    uint32_t gap = now - s->last;
    s->last = now;
    if (s->dir == 0 || gap >= DIAL_REST || turned) {
        s->estimate = DIAL_NEVER;
        return 256U;
    }
    s->estimate = (uint16_t)(gap << 6);
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
    gain = 2UL * dial_factor(s, now, turned);
    s->dir = d;
    (void)value;
    gain = (gain + 128U) >> 8;
    return (dial_steps)(gain > 0 ? gain : 1U);
}

#endif /* DIAL_H */
