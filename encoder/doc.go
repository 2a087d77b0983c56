// Package encoder models the way of a click from a detented rotary encoder to
// the number on the screen.
//
// Under the fingers is a part with two contacts, A and B, that open and close a
// quarter cycle apart and chatter for a moment at every change. Firmware reads
// them on a fixed scan, believes a level that it has read often enough, and
// decodes the pair into counts. A count becomes a press of a button or key of a
// certain length, or a relative count, or a movement of an axis. USB polls carry
// that to the computer, whose system may repeat a key that stays down. A program
// looks once a frame, or reads events, and moves its number by a step, which the
// display shows a little later. Clicks are lost, merged and delayed on the way,
// and each stage does it in its own manner.
//
// A [Rig] describes all that; [NewPath] makes it run for one knob. The stages
// follow each other without feedback, so each one is carried forward only when
// the one before it has something to say: the engine never walks scans, polls or
// frames in which nothing can change. Three shortcuts go further and decide the same,
// which tests hold: a detent whose edges stand alone sleeps through its scans
// (lone.go), a stroke of such detents is turned at once (stroke.go), and a pulse of
// which only levels are seen goes to its step at once (levels.go). A trial that would
// not end, or not soon, is given up, and the keys that are to blame are named
// (runaway.go).
//
// # Events at one instant
//
// Time is a whole number of nanoseconds. Events at the same instant happen in
// the order of the stages, upstream first: a change and the scan, poll or frame
// that could see it at that instant is seen. Within the output stage a release
// comes first, then the start of the next waiting pulse, then the counts of that
// instant arrive. A firmware hold is extended by a count at the instant at which
// it would end.
//
// # Rules of our own
//
// Where several readings were possible, these hold:
//
//   - An acceleration in the firmware is asked once for each emission of the
//     decoder, and all counts of the emission become as many pulses. For landing
//     it keeps its own count of the steps it asked for.
//   - A press on the coarse pair is worth exactly the steps that it is bound to;
//     an acceleration in the program neither sees nor multiplies it.
//   - Each unit of a relative sum is a step of its own. Under immediate sampling
//     the units of one poll count as spread evenly over the poll period before
//     their delivery.
//   - Steps of the program's own hold are applied after the presses of the same
//     frame, and an acceleration knows them by the time at which they were due.
//   - An axis ignores accelerations. A count without an owner whose movement is
//     applied is one extra step.
//   - The phase of a frame list is drawn from its whole length.
//   - Under a firmware hold a step of a press counts as a detent's (its cause is
//     "detent"), though detents are not matched to steps.
//
// What it leaves out: the wear of contacts, lost USB transfers, a system under
// load, programs that change their frame rate with what they show.
package encoder
