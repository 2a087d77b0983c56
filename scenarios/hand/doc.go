// Package hand is the person at the knob.
//
// Somebody who dials a number turns the knob in strokes. He looks at the number,
// makes a plan of so many clicks at such a pace, turns, takes the fingers back and
// turns on; near the target he waits until the number stands, and turns click by
// click. What he sees is a tenth of a second old, what he turned may still be on
// its way, his strokes come out a little longer or shorter than he meant, and of a
// knob that accelerates he knows only about what it does. From these few facts
// follows how long a number takes and how often it is overshot; nothing else about
// dialing is put in.
//
// An [Operator] of package scenarios says what people are like; [NewPeople] makes
// it ready, [People.Draw] draws the person of one trial. [NewGrip] turns the knob
// on its path to find out what a hand finds out about it. A [Hand] then dials:
//
//	look     the number as it was τp ago, plus what own clicks should still bring
//	plan     the stroke with the least expected time: its own, and the landing's
//	stroke   minimum-jerk movement of T0 + n/pace, n not quite as planned
//	         far from the target the next look is timed so that the next stroke
//	         starts as the fingers are back; near it the number must stand
//	confirm  the number is right and does not change while that is made sure of
//
// OPERATOR.md in package evidence works through one trial.
//
// # What the numbers rest on
//
// The practised operator. CV is the coefficient of variation over people; a person
// is drawn from normal distributions, cut at a quarter of the mean (reach at 158°,
// row A8; shares at 1). "Set" was fitted to the row named, "taken" comes from the
// source as it stands, "ours" has no source. Rows are those of `dialwright evidence`,
// which shows what the frozen set does on all the other ones. FitWheel and FitLag of
// package evidence repeat the fit from the model's sketch:
//
//	go test ./scenarios/evidence -run Refit -refit -v
//
//	parameter     value    CV   set, taken from
//	reaction      300 ms   15%  ours; with confirm the constant part of A1
//	perceive τp   100 ms   15%  taken: Card, Moran, Newell 1983 (A6), 50–200
//	decide τc      70 ms   15%  taken: the same, 25–170
//	act τm         70 ms   15%  taken: the same, 30–100
//	begin T0      100 ms   15%  set on A1; a finger on a wheel has 63 ms
//	regrip        240 ms   15%  set on A1; no source for knobs was found
//	fixation      390 ms   15%  set on A1; eye fixations last 230 ms, 70–700 (A6's source)
//	confirm       420 ms   15%  set on A1 (the key of the other hand)
//	hand move     250 ms   25%  ours
//	key press     280 ms   15%  keystroke-level model, from memory
//	eye move      230 ms   15%  taken: A6's source, from memory
//	reach         120°     12%  ours: a twist is 158° at most (A8), nobody uses all of it
//	slow pace      75°/s   15%  ours: click by click; 80°/s of a finger on a wheel
//	fast pace     400°/s   15%  set on A1; a finger on a wheel is three times as fast
//	stroke noise  0.245    15%  set on A1: share of a stroke's clicks, SD
//	finger noise  0.5°     15%  ours; it makes the right arm of A4
//	pace noise    0.12     15%  ours
//	gain error    0.22     15%  ours: on what acceleration adds; 16 equally likely values
//	familiarity φ 0.30     20%  set on A2: share of lag and losses that is known
//
// The novice and the expert are ours: practised, moved inside the published
// ranges.
//
// # Rules of our own
//
// Where the model is silent, these hold:
//
//   - What a stroke brings is predicted by running the acceleration over the
//     stroke's own times, at the pace and one standard deviation either way; the
//     share that arrives is measured on the path at three lengths of stroke for
//     each pace and interpolated. People know it to the share φ of the mean person.
//   - A plan counts in the noise of the stroke, also where the target is narrow.
//     Plans depend on classes of people (five speeds, sixteen gain errors, whole
//     detents of reach), never on what else a person differs in, and are
//     remembered.
//   - The four steps beyond one stroke from which on a narrow target is waited for
//     are steps of a slow detent.
//   - A number stands when it has not changed for 150 ms; on a smooth knob, whose
//     target is seen and not read, when it has not changed for τp.
//   - Nobody turns back from a number that moves.
//   - After turning back twice in a dial a person goes a pace slower each time, so
//     that no one runs in circles around a curve that he judges wrongly.
//   - A digit that moves too fast to be read is taken for what the own clicks
//     should have made of it, as far as the readable ones allow.
//
// Left out: learning within a trial, two hands on one knob, looking away, tuning
// by ear, tiredness, and the shape of the knob.
package hand
