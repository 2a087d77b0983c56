// Package evidence shows what the outside world measured beside what this build
// computes.
//
// A simulator that nobody can check is a toy. Laboratories have measured how long
// people take with a notched wheel, with lag, with too much and too little gain;
// standards and data sheets say what key repeat, polls, contacts and channel names
// do. Each of these is a [Check]: what it is, who says so and how we know (read,
// abstract, from memory, derived, common practice), the published figure, the
// computed one, and the band in which it holds. The computed figures come from the
// same path and the same people that a user's own tasks run on; there is no second
// model. The ids are those of the project's list of sources.
//
// Set, not checked: the operator's numbers on A1, familiarity on the mean times of
// A2 (see package hand). [FitWheel] and [FitLag] repeat that. All other rows are
// checks of the frozen numbers.
//
// Not validated: nobody has published how long a heading, a frequency or an
// altitude takes on a panel knob, how often such a knob overshoots, or how long it
// takes to grip it anew. What the tool says of those rests on the wheel, lag and
// gain studies and on the path.
package evidence
