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
// Set, not checked: the operator's numbers on A1, familiarity on the ratios of A2
// (see package hand). The tests repeat that, derive novice and expert, and write
// OPERATOR.md. Shown, not checked: what holds by construction, such as a constant
// that the program itself writes down or an exponent that is put in and found
// again. Neither counts among the checks that hold. Published, not yet compared: the
// papers of A20, whose figures nobody here has read; they go into unread.go. All
// other rows are checks of the frozen numbers. OPERATOR.md also lists the rules that
// were chosen while looking at some of them.
//
// Not validated: how often a heading or frequency knob with detents overshoots; a
// figure was looked for and none was found that could be read. What the tool says of
// it rests on the wheel, lag and gain studies and on the path.
package evidence
