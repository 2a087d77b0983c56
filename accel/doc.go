// Package accel turns the speed of a knob into task steps per detent.
//
// A person who must dial 180 detents does not want 180 clicks, and one who is two
// detents short does not want 20. So the firmware of the knob, or the program that
// reads it, looks at the time between two detents and makes a quick detent count
// for more than a slow one. How it judges the rate, which gain it gives for it and
// what it does at the end of a turn, when the hand slows down or comes back, decide
// whether that helps. This package is that rule: rate estimate, curve, whole steps.
//
// The simulator and an exported firmware header share one arithmetic, so it is made
// of integers that an 8-bit microcontroller can handle: a tick counter, 16-bit
// intervals, gains in 1/256 from a table of at most 64 knots, products of 32 bits,
// and no division but the one that landing needs. What it leaves out: it does not
// look ahead, does not know the target, and does not filter by angle, because a
// detent is all that it is told about.
//
// # A detent, step by step
//
//  1. Direction. A detent that turns the other way drops the carried fraction.
//     The first detent of all is no reversal.
//  2. Gap. The time since the newest detent of either direction, in whole ticks.
//     Times are rounded down to ticks first. A gap of rest or more (400 ms unless
//     said otherwise) puts the rate at 0, and so does a clock that went back. Rates
//     above 1000/s count as 1000/s, so that a gap of 0 ticks of 1 ms is one of 1 ms.
//  3. Rate. On a reversal, reset puts the rate at 0; keep leaves the estimate as it
//     is for this detent, and the gap in which the hand turned round is never put
//     into it. So a knob rocked to and fro stays at the gain it came with until it
//     rests. Every other detent brings the estimate up to date:
//     from last, 1/gap; from an average, (over·r + 1)/(over + gap), which is the
//     exponential average of a pulse rate, starts from 0 after a rest, and settles
//     on 1/gap; from a window, n/over with n the earlier detents of this turn that
//     are at most over old, 32 of them at most. With keep, the detents before the
//     reversal stay in the window.
//  4. Curve. It gives the factor for the rate, at least 1, and never less for a
//     higher rate. At rate 0 the factor is 1, except for a constant, which is
//     itself at every rate. A ladder enters a step when the rate rises above its
//     threshold and leaves it when the rate falls to threshold·(1−hysteresis) or
//     below; rate 0 puts it under its first step. The gain is base · factor, in
//     task steps per detent.
//  5. Landing. Where the gain is above the landing's, a detent makes s steps, s
//     being the gain rounded, and the value goes to the next multiple of s in the
//     direction of turning: from 93 up by tens 100, 110, and down 90, 80; values
//     under 0 the same way. The carried fraction is dropped. Landing suits curves
//     with few gains, a ladder or a cap that is reached: while the gain slides from
//     7 over 8 to 9 the value meets multiples of each, and moves by less.
//  6. Whole steps. Round takes the nearest whole number, halves up. Carry takes
//     the whole part and keeps the fraction for the next detent of the same
//     direction, however long that takes; a slow detent at a whole base is still
//     always base steps. Every detent makes at least one step. (A gain under 1 is
//     refused: a click that does nothing looks like a lost one.)
//
// # Worked example
//
// Curve power {at: 15/s, factor: 4, exponent: 2, cap: 10}, rate from last, carry,
// base 1, ticks of 1 ms:
//
//	time    gap     rate  factor            steps  carried
//	  0 ms    –        0  1                 1      0
//	500 ms  500 ms     0  1 (a rest)        1      0
//	700 ms  200 ms   5/s  1+4·(1/3)² = 1.44 1      0.44
//	800 ms  100 ms  10/s  2.78              3      0.22
//	850 ms   50 ms  20/s  8.11              8      0.33
//	900 ms   50 ms  20/s  8.11              8      0.44
//	940 ms   40 ms  25/s  10 (12.1 capped)  10     0.44
//
// A detent the other way at 1000 ms makes one step with reset; with keep it makes
// ten, and carries nothing over. See the example of Gain.Detent, which runs this.
//
// # The integers
//
// An interval is held in units of a power of two of ticks (Gain.Shift) so chosen
// that rest lies between 16384 and 32767; 65535 stands for rate 0. The curve is a
// function of the interval, not of the rate, so the rate itself, which would cost a
// division, is never computed. Its table has straight pieces that are a power of
// two wide (Falling) and is placed by halving the piece with the greatest error in
// proportion; with the default rest, the built-in curves come out within 1 % of
// their formulas at every rate up to 500 detents per second. The average is taken
// of intervals: from I to gap + (I−gap)·over/(over+I), which is the same formula as
// in step 3 written for I = 1/r, with over/(over+I) from a second table and the
// product rounded towards the gap, so that a steady hand is met exactly. On the
// way there the estimate is within 2 % of the formula, for an over of at least a
// twentieth of rest; shorter averages, which hardly average, are coarser.
//
// A real number is rounded once, when the table is made, and no decision is taken
// by one.
package accel
