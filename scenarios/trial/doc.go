// Package trial does a task once, with one person at one knob, and measures it;
// and does so many times, on as many workers as there are.
//
// A [Cell] says what meets whom: a task, the knob that serves it, the profile
// that the person has set, and the kind of person. [NewBench] makes it ready once
// (the hand finds out how the knob feels); [Bench.Run] then does trial after
// trial without allocating. A trial is a function of the seed, the task's name
// and its number: all cells of a comparison meet the same people, targets,
// phases and noise.
//
// A [Seat] is how studies come to a bench: a use of a panel, its knob set as a profile
// says or plain where it cannot be. A [Log] writes down what happened in a trial.
//
// # Rules of our own
//
//   - The digits of a number are dials of their own, each with a path of its own:
//     what is still on the way when the next digit is chosen belongs to the old one.
//   - A knob that serves several tasks is found on another one with the share of
//     the dialings that the other tasks have; then a trial begins with a press of
//     the selector button and a look at the new number.
//   - While press-for-coarse is on, the target is as wide as the coarse step: an
//     overshoot there is what goes past that.
//   - Run-on is the most steps that came after the knob stopped, over the trial's
//     stops.
//   - An alarm code counts as crossed when it was on the screen and is neither the
//     start nor the target.
package trial
