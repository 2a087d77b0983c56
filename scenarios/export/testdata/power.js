// SPDX-License-Identifier: 0BSD
//
// Copyright (c) the dialwright authors
// Permission to use, copy, modify, and/or distribute this software for any
// purpose with or without fee is hereby granted.
// THE SOFTWARE IS PROVIDED "AS IS" AND THE AUTHOR DISCLAIMS ALL WARRANTIES
// WITH REGARD TO THIS SOFTWARE INCLUDING ALL IMPLIED WARRANTIES OF
// MERCHANTABILITY AND FITNESS. IN NO EVENT SHALL THE AUTHOR BE LIABLE FOR ANY
// SPECIAL, DIRECT, INDIRECT, OR CONSEQUENTIAL DAMAGES OR ANY DAMAGES
// WHATSOEVER RESULTING FROM LOSS OF USE, DATA OR PROFITS, WHETHER IN AN ACTION
// OF CONTRACT, NEGLIGENCE OR OTHER TORTIOUS ACTION, ARISING OUT OF OR IN
// CONNECTION WITH THE USE OR PERFORMANCE OF THIS SOFTWARE.
//
// Acceleration of a rotary encoder: how many steps a detent makes.
// Profile power of a/b?c*d with a name that is so long that it does not fit
// into one line of a comment of the header: very very ve..., made for the
// firmware: as many pulses as steps.
// In short: gain 2.89 at 5/s, 7.12 at 12/s, 20 at 25/s, in the firmware.
//
// For simulators, training desks, hobby panels and receivers; not for
// certified aircraft equipment or navigation.
// Transmit only as you are licensed to. Local rules and licensed practice come
// first.
// Stop when the wrist hurts.
//
// Usage, with a tick that counts milliseconds and may wrap around:
//
//     import {gain, atRest, detent} from "./dial.js";
//     const knob = atRest();
//
//     function onDetent(dir) {                     // +1 clockwise, -1 counter-clockwise
//         for (let n = detent(gain, knob, ticks(), dir, 0); n > 0; n--) queuePulse(dir);
//     }
//     const ticks = () => Math.floor(performance.now());
//
// A state for each knob. A pause as long as 2^32 ticks (49 days) is taken for a
// short one. Better than the time of the call is the time stamp of the event.

// The integers of the profile; JSON between the first brace and the last.
export const gain = {
  "ticksPerSecond": 1000,
  "rest": 400,
  "shift": 6,
  "reversal": "reset",
  "steps": "round",
  "base": 2,
  "landing": 0,
  "flat": 0,
  "table": {
    "at": [0, 2048, 2560, 2816, 2848, 2880, 2944, 3072, 3200, 3328, 3584, 3840, 4096, 4352, 4608, 4864, 5120, 5376, 5632, 5888, 6144, 6400, 6656, 6912, 7168, 7680, 8192, 8704, 9216, 9728, 10240, 10752, 11264, 12288, 13312, 13824, 14080, 14336, 14592, 14720, 14848, 15360, 16384, 16896, 17152, 17280, 17408, 17472, 17536, 17664, 17920, 18432, 19456, 20480, 22528, 23040, 23296, 23552, 24064, 24576, 26624, 28672, 32768, 65535],
    "value": [2560, 2560, 2560, 2560, 2554, 2503, 2407, 2231, 2076, 1939, 1707, 1520, 1367, 1240, 1134, 1044, 967, 901, 844, 794, 750, 711, 677, 646, 619, 572, 534, 502, 475, 453, 434, 417, 403, 379, 361, 354, 350, 347, 344, 342, 341, 335, 325, 321, 319, 318, 318, 317, 317, 316, 314, 311, 305, 300, 293, 291, 290, 290, 288, 287, 282, 279, 273, 260],
    "width": [11, 9, 8, 5, 5, 6, 7, 7, 7, 8, 8, 8, 8, 8, 8, 8, 8, 8, 8, 8, 8, 8, 8, 8, 9, 9, 9, 9, 9, 9, 9, 9, 10, 10, 9, 8, 8, 8, 7, 7, 9, 10, 9, 8, 7, 7, 6, 6, 7, 8, 9, 10, 10, 11, 9, 8, 8, 9, 9, 11, 11, 12, 15, 0]
  }
};

// The integers are those of the C header, operation by operation: a tick counter, an
// interval of 16 bits (NEVER stands for rate 0), factors and gains in 1/256. Products
// of 32 bits are made with Math.imul, because a Number keeps only 53 bits of what
// >>> would then cut; no other operation leaves what a Number holds exactly.

export const NEVER = 65535;

// atRest returns what one knob remembers between detents.
export function atRest() {
  return {last: 0, estimate: 0, carry: 0, rung: 0, dir: 0, held: 0, oldest: 0, times: new Uint32Array(32)};
}

// detent returns the steps, at least 1, of a detent in direction dir (negative: down,
// else up) at tick now, a whole number that may wrap around at 2^32 or go on. value is
// the number before it, in steps; only landing looks at it.
export function detent(gain, s, now, dir, value) {
  const d = dir < 0 ? -1 : 1;
  const turned = d !== s.dir;
  if (turned) s.carry = 0;
  let g = gain.flat || gain.base * factor(gain, s, now >>> 0, turned);
  s.dir = d;
  if (gain.landing && g > gain.landing) { // on to the next multiple
    const steps = (g + 128) >>> 8;
    let past = value % steps;
    s.carry = 0;
    if (past < 0) past += steps;
    return d > 0 || past === 0 ? steps - past : past;
  }
  if (gain.steps === "carry") {
    g += s.carry;
    s.carry = g & 255;
    g >>>= 8;
  } else {
    g = (g + 128) >>> 8;
  }
  return g > 0 ? g : 1;
}

// factor brings the estimate up to now and returns the factor in 1/256.
function factor(gain, s, now, turned) {
  const gap = (now - s.last) >>> 0;
  s.last = now;
  if (s.dir === 0 || gap >= gain.rest || turned && gain.reversal === "reset") {
    s.estimate = NEVER;
    s.rung = 0;
    if (gain.spaced) {
      s.held = 0;
      remember(gain, s, now);
    }
    return 256;
  }
  if (!turned) { // else: the first detent after a reversal goes by the old estimate
    const interval = gain.shift < 0 ? gap >>> -gain.shift : gap << gain.shift;
    if (gain.remain) s.estimate = average(gain, s.estimate, interval);
    else if (gain.spaced) s.estimate = counted(gain, s, now);
    else s.estimate = interval;
  }
  if (gain.spaced) remember(gain, s, now);
  if (gain.factor) return climb(gain, s);
  return s.estimate === NEVER ? 256 : lookUp(gain.table, s.estimate);
}

// average takes the newest interval into an exponential average.
function average(gain, old, interval) {
  if (old === NEVER) return interval + gain.over;
  const remain = lookUp(gain.remain, old);
  if (old > interval) return interval + (Math.imul(old - interval, remain) >>> 15);
  return interval - (Math.imul(interval - old, remain) >>> 15);
}

// counted returns the interval that the detents in the window stand for.
function counted(gain, s, now) {
  while (s.held > 0 && (now - s.times[s.oldest]) >>> 0 > gain.over) {
    s.oldest = (s.oldest + 1) & 31;
    s.held--;
  }
  return gain.spaced[s.held];
}

// remember puts a detent into the window.
function remember(gain, s, now) {
  if (s.held === gain.spaced.length - 1) {
    s.oldest = (s.oldest + 1) & 31;
    s.held--;
  }
  s.times[(s.oldest + s.held) & 31] = now;
  s.held++;
}

// climb moves the ladder's rung to where the estimate wants it and returns its factor.
function climb(gain, s) {
  while (s.rung < gain.enter.length && s.estimate < gain.enter[s.rung]) s.rung++;
  while (s.rung > 0 && s.estimate >= gain.leave[s.rung - 1]) s.rung--;
  return gain.factor[s.rung];
}

// lookUp returns what a table of straight pieces, each a power of two wide, gives at x.
function lookUp(table, x) {
  const {at, value, width} = table;
  let i = 0, last = at.length - 1;
  while (last - i > 1) {
    const mid = (i + last) >>> 1;
    if (x < at[mid]) last = mid;
    else i = mid;
  }
  return value[i] - (Math.imul(x - at[i], value[i] - value[i + 1]) >>> width[i]);
}
