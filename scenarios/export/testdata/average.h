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
 * Profile average of a/b?c*d with a name that is so long that it does not fit
 * into one line of a comment of the header: very very ..., made for the
 * program, or a firmware that knows the number.
 * In short: gain 1.44 at 5/s, 3.56 at 12/s, 10 at 25/s, in the program.
 *
 * For simulators, training desks, hobby panels and receivers; not for
 * certified aircraft equipment or navigation.
 * Transmit only as you are licensed to. Local rules and licensed practice come
 * first.
 * Stop when the wrist hurts.
 *
 * Usage, with a tick that counts microseconds and may wrap around:
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
 * pause as long as a wrap of the tick (71 minutes) is taken for a short one.
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

#define DIAL_TICKS_PER_SECOND 1000000UL
#define DIAL_REST 400000UL /* ticks without a detent after which the rate is 0 */
#define DIAL_NEVER 65535U /* the interval that stands for rate 0 */

typedef uint16_t dial_steps;

typedef struct {
    uint32_t last;     /* tick of the newest detent */
    uint16_t estimate; /* interval between detents, a unit is 1/62500 s */
    uint8_t carry;     /* 1/256 steps */
    int8_t dir;        /* of the newest detent, 0: none yet */
} dial_state;

/* The factor by interval, as straight pieces: from where, how much there, and
 * how wide (a power of two). */
static const uint16_t dial_curve_at[64] DIAL_FLASH = {
    0U, 2048U, 2560U, 2688U, 2752U, 2784U, 2816U, 2944U, 3072U, 3200U,
    3328U, 3456U, 3584U, 3840U, 4096U, 4352U, 4608U, 4864U, 5120U, 5376U,
    5632U, 5888U, 6144U, 6400U, 6656U, 7168U, 7680U, 8192U, 8704U, 9216U,
    9728U, 10240U, 10752U, 11264U, 11776U, 12288U, 13312U, 13824U, 14080U, 14208U,
    14272U, 14336U, 14592U, 14848U, 15360U, 16384U, 18432U, 20480U, 22528U, 24576U,
    26624U, 27648U, 28160U, 28672U, 28928U, 29184U, 29696U, 30208U, 30720U, 31232U,
    31744U, 32256U, 32768U, 65535U
};
static const uint16_t dial_curve_value[64] DIAL_FLASH = {
    2560U, 2560U, 2560U, 2560U, 2560U, 2550U, 2498U, 2307U, 2140U, 1992U,
    1861U, 1744U, 1640U, 1462U, 1316U, 1195U, 1093U, 1007U, 934U, 871U,
    816U, 769U, 727U, 690U, 657U, 602U, 557U, 521U, 491U, 465U,
    444U, 426U, 410U, 396U, 384U, 374U, 356U, 349U, 346U, 344U,
    343U, 343U, 339U, 337U, 331U, 322U, 308U, 298U, 291U, 285U,
    281U, 279U, 278U, 278U, 277U, 277U, 276U, 275U, 275U, 274U,
    274U, 273U, 273U, 260U
};
static const uint8_t dial_curve_width[64] DIAL_FLASH = {
    11U, 9U, 7U, 6U, 5U, 5U, 7U, 7U, 7U, 7U,
    7U, 7U, 8U, 8U, 8U, 8U, 8U, 8U, 8U, 8U,
    8U, 8U, 8U, 8U, 9U, 9U, 9U, 9U, 9U, 9U,
    9U, 9U, 9U, 9U, 9U, 10U, 9U, 8U, 7U, 6U,
    6U, 8U, 8U, 9U, 10U, 11U, 11U, 11U, 11U, 11U,
    10U, 9U, 9U, 8U, 8U, 9U, 9U, 9U, 9U, 9U,
    9U, 9U, 15U, 0U
};

/* How much of the distance to the newest interval is left after a detent, in
 * 1/32768 by the old estimate. */
static const uint16_t dial_remain_at[32] DIAL_FLASH = {
    0U, 512U, 1024U, 1536U, 2048U, 3072U, 4096U, 5120U, 6144U, 7168U,
    8192U, 9216U, 10240U, 11264U, 12288U, 14336U, 16384U, 18432U, 20480U, 22528U,
    24576U, 26624U, 28672U, 32768U, 36864U, 40960U, 45056U, 49152U, 53248U, 57344U,
    61440U, 65535U
};
static const uint16_t dial_remain_value[32] DIAL_FLASH = {
    32767U, 30673U, 28831U, 27197U, 25739U, 23246U, 21193U, 19473U, 18012U, 16754U,
    15661U, 14702U, 13853U, 13097U, 12419U, 11254U, 10289U, 9477U, 8783U, 8184U,
    7662U, 7202U, 6794U, 6103U, 5539U, 5071U, 4676U, 4338U, 4045U, 3790U,
    3565U, 3365U
};
static const uint8_t dial_remain_width[32] DIAL_FLASH = {
    9U, 9U, 9U, 9U, 10U, 10U, 10U, 10U, 10U, 10U,
    10U, 10U, 10U, 10U, 11U, 11U, 11U, 11U, 11U, 11U,
    11U, 11U, 12U, 12U, 12U, 12U, 12U, 12U, 12U, 12U,
    12U, 0U
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

static inline uint16_t dial_average(uint16_t old, uint16_t interval)
{
    uint32_t remain;
    if (old == DIAL_NEVER) {
        return (uint16_t)(interval + 7500U);
    }
    remain = dial_look_up(dial_remain_at, dial_remain_value, dial_remain_width, 31U, old);
    if (old > interval) {
        return (uint16_t)(interval + (uint16_t)(((uint16_t)(old - interval) * remain) >> 15));
    }
    return (uint16_t)(interval - (uint16_t)(((uint16_t)(interval - old) * remain) >> 15));
}

/* dial_factor brings the estimate up to now and returns the factor in 1/256. */
static inline uint16_t dial_factor(dial_state *s, uint32_t now, uint8_t turned)
{
    uint32_t gap = now - s->last;
    s->last = now;
    if (s->dir == 0 || gap >= DIAL_REST) {
        s->estimate = DIAL_NEVER;
        return 256U;
    }
    if (!turned) { /* the first detent after a reversal goes by the old estimate */
        s->estimate = dial_average(s->estimate, (uint16_t)(gap >> 4));
    }
    if (s->estimate == DIAL_NEVER) {
        return 256U;
    }
    return dial_look_up(dial_curve_at, dial_curve_value, dial_curve_width, 63U, s->estimate);
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
    if (gain > 2304UL) { /* on to the next multiple */
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
