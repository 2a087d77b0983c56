// Package hand is the person at the knob.
//
// Somebody who dials a number turns the knob in strokes. He looks at the number,
// makes a plan of so many clicks at such a pace, turns, takes the fingers back and
// turns on; near the target he waits until the number stands. What he sees is a tenth
// of a second old, what he turned may still be on its way, and his strokes come out a
// little longer or shorter than he meant. Of the knob he knows what it does, because
// he has turned it: never a curve, only what strokes brought. From these few facts
// follows how long a number takes and how often it is overshot; nothing else about
// dialing is put in.
//
// An [Operator] of package scenarios says what people are like; [NewPeople] makes
// it ready, [People.Draw] draws the person of one trial. [NewKnob] turns the knob on its
// path for them, once for every acceleration that a program may have; [Knob.Grip] is what
// they find out about it with one of them. A [Hand] then dials:
//
//	experience  strokes of many lengths at many rates, turned on the path itself from
//	            rest, some after another one, with noise of pace and in several
//	            phases: what the number did, and when it last moved (experience.go)
//	outcome     what a planned stroke may bring: the mixture of these over what noise
//	            makes of the plan, a small distribution and no mean (outcome.go)
//	value       the expected time that is still needed, by what is missing: for each
//	            width of target the fixed point of "the best stroke, its time, and
//	            what is needed where it ends" (value.go)
//	plan        the stroke with the least expected time for this person, running past
//	            counted as so much time as he minds it (plan.go)
//	look        the number as it was τp ago, plus what own clicks should still bring
//	stroke      minimum-jerk movement of T0 + n/pace; far out the next look is timed
//	            so that the next stroke starts as the fingers are back (turn.go, motion.go)
//	wait        until all own clicks should show and the number stands
//	confirm     the number is right and does not change while that is made sure of (dial.go)
//
// So there is no special zone around the target, and no rule that near differs from
// far: people turn one click where that is quickest, slow down where a curve makes
// quick strokes uncertain, stop short where running past costs more, and plan to run
// past where every other way takes longer. Two profiles that give the same steps are
// the same knob.
//
// OPERATOR.md in package evidence works through one trial.
//
// # What the numbers rest on
//
// The practised operator. CV is the coefficient of variation over people; a person
// is drawn from normal distributions, cut at a quarter of the mean (reach at 158°,
// row A8; shares at 1). "Set" was fitted to the row named, "taken" comes from the
// source as it stands, "ours" has no source. Rows are those of `dialwright evidence`,
// which shows what the frozen set does on all the other ones. A test of package
// evidence repeats the fit:
//
//	go test ./scenarios/evidence -run Refit -refit -v
//
//	parameter     value    CV   set, taken from
//	reaction      300 ms   15%  ours; with confirm the constant part of A1
//	perceive τp   100 ms   15%  taken: Card, Moran, Newell 1983 (A6), 50–200
//	decide τc      70 ms   15%  taken: the same, 25–170
//	act τm         70 ms   15%  taken: the same, 30–100
//	begin T0       70 ms   15%  set on A1, from one motor act; a finger on a wheel has 44 ms
//	regrip        270 ms   15%  set on A1, from MTM-1's 0.36–0.39 s with the way back
//	fixation      400 ms   15%  set on A1; eye fixations last 230 ms, 70–700 (A6's source)
//	confirm       390 ms   15%  set on A1 (the key of the other hand)
//	hand move     250 ms   25%  ours
//	key press     280 ms   15%  keystroke-level model, from memory
//	eye move      230 ms   15%  taken: A6's source, from memory
//	reluctance R  1.3 s    0.9  ours: what not to run past is worth; the median, and the
//	                            spread of its logarithm
//	reach         120°     12%  ours: a twist is 158° at most (A8), nobody uses all of it
//	slow pace      50°/s   15%  ours: click by click; 53°/s of a finger on a wheel
//	fast pace     444°/s   15%  set on A1; a finger on a wheel is three times as fast
//	stroke noise  0.26     15%  set on A1: share of a stroke's clicks after the first, SD
//	finger noise  0.65°    15%  ours; it makes the right arm of A4
//	felt noise    0.20     15%  ours: of the clicks that pass under the fingers, clicks
//	pace noise    0.12     15%  ours; at most two SD
//	gain error    0.26     15%  set on A1, accelerated: of what is remembered beyond slow
//	                            clicks, SD; 16 equally likely values
//	familiarity φ 0.40     20%  set on A2: share of the lag that is known before it is seen
//
// Novice and expert are derived from it by a stated procedure (tests of package
// evidence): a third of the way, in proportion, to either end of A6's ranges.
//
// # Rules of our own
//
// Where the model is silent, these hold:
//
//   - Experience is turned at eight rates: the paces of the middle one of five classes
//     of people and one beyond at either end. Short strokes are turned more often than
//     long ones. Other paces are mixtures of samples of the two rates around them.
//     Every second stroke follows a quick one, so that a fraction of a step may be left.
//     On a smooth knob, whose strokes are a quarter longer or shorter anyway, fewer
//     lengths are turned and planned, and less often (ours).
//   - Of distances beyond reach a plan knows no more than an eighth of the longest
//     stroke (ours).
//   - What people remember beyond their slow clicks is blurred by their gain error; each
//     is wrong by one of 16 values of it, and knows that he may be.
//   - The value is that of people of all classes at the pace of the middle one: nobody
//     builds on what only his own speed brings. Plans depend on classes of people
//     (speeds, gain errors, reluctances, whole detents of reach), never on what else a
//     person differs in, and are remembered.
//   - A stroke that is slower than a detent per τp + τc + τm, and steady, is broken off as
//     soon as the number, with what is still under way, is there.
//   - A stroke turns no further than the forearm can.
//   - A number stands when it has not changed for 150 ms; on a smooth knob, whose
//     target is seen and not read, when it has not changed for τp.
//   - What is under way and has not been seen is not known better than a stroke: the
//     stroke that may end at the target is waited for earlier by the person's stroke
//     noise of it.
//   - A number that did not move at all has swallowed what was turned: it says nothing
//     of the lag.
//   - Nobody turns back from a number that moves.
//   - After turning back twice in a dial a person goes a pace slower each time, so
//     that no one runs in circles around a curve that he judges wrongly.
//   - A digit that moves too fast to be read is taken for what the own clicks
//     should have made of it, as far as the readable ones allow.
//
// # What overshoot rests on
//
// People are well calibrated: they run past as often as they expect to, plain and with
// acceleration (TestPeopleRunPastAsOftenAsTheyExpect). How often that is follows from
// what it costs, and of that only the time is known; the reluctance R is ours. It
// matters less than one would think: with R doubled the demo's heading with the power
// curve overshoots in 34 instead of 39 % of the trials and takes 0.3 s longer. Differences between
// settings on one path are worth more than any single figure.
//
// Left out: learning from trial to trial, two hands on one knob, looking away, tuning
// by ear, tiredness, and the shape of the knob.
package hand
