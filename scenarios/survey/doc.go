// Package survey asks which default serves a whole population of rigs and people best,
// how bad it is for the rest, and where it fails.
//
// Who writes a firmware or a simulator sets defaults for desks that they will never
// see. A population ([scenarios.Population]) says what those look like: base rigs,
// keys of theirs that vary, kinds of people, what is dialed. A survey draws members
// from it and lets every candidate profile do the same trials on each: the same
// people, targets, phases and noise, so that candidates are compared member by member.
//
// # What is said
//
// A member's mean time with a candidate is one number, a timeout counting as the
// limit. Of these numbers a candidate has its mean, its median, and the mean of the
// slowest tenth. Its regret for a member is how much slower it is there than the best
// candidate for that member. The winner has the least mean time. It fails where
// another candidate is quicker: members are parted by each key (a part for each value
// of a list; fifths of the members for a range), and in each part the winner is
// compared with the candidate that is quickest there. Parts are told in the order of
// what they cost the whole population.
//
// # Rules of our own
//
//   - A member's person is a kind of person: every trial is done by another one of
//     that kind, as everywhere in this program.
//
//   - Settings that a rig does not use are left out there. On a rig on which a candidate
//     cannot be set the knob stays plain, and the trials are those of plain. A rig on which no number can be dialed at all is dead: its
//     members are counted and count nowhere else.
//
//   - Intervals have members as clusters: trials of one member are alike, and only
//     members say how much members differ. An interval over members is right whatever
//     the trials of a member have in common ([paired.ClusterMean], [paired.MemberShare],
//     [paired.ClusterShare]). Measured over 1000 surveys of members of households, each
//     share with a standard error of 0.7 points, an interval holds the truth in so many
//     of 100:
//
//     members  mean of two  difference  regret  median  in caps  overshoot  trials taken for independent
//     30   94.4  96.4        96.5    96.6    94.3     95.6       95.2  69.0
//     100   94.7  95.3        95.0    95.2    95.3     93.9       94.7  62.5
//     500   95.1  95.5        96.1    95.9    94.9     95.2       96.1  66.7
//
//   - A difference is found by Student's t over members, all of one kind read
//     together (Holm); in parts it is first multiplied by how many candidates the
//     quickest was picked from. Nothing is said of parts with fewer than 20 members.
//
//   - Regret is measured with the noise of a member's trials: the best of several that
//     are equally good looks better than it is. More trials a member take that away;
//     with 50 the regret of equals is a few tenths of a second. Profiles that set the
//     same do the same trials and have none.
//
//   - Values of a range are drawn to three digits.
//
// # Parts
//
// A survey can be done in parts, a shard of its members each, on as many machines as
// there are. Everything in a part is whole numbers: counts, sums of nanoseconds and of
// their squares in 128 bits, histograms whose bins are the same everywhere
// ([sample.Histogram]; a quantile of all trials is off by at most 1/512 of it). So
// [Merge] gives the very bytes of one run, in any order and grouping. Statistics over
// members are worked out from their sums at the end, in the order of the members.
//
// A part is written whole or not at all and ends in its SHA-256. It says which survey
// it is of by a digest over all its files, seed, sizes and caps, and the program's
// version. Parts of different surveys, parts that are missing or there twice are
// named and nothing is made of them. A part that is there already is skipped.
//
// # On a cluster
//
// The folder jobs has files that run as they stand: a Slurm array and the merge that
// depends on it, and the same for Kubernetes. With --shard array the number of the
// part comes from SLURM_ARRAY_TASK_ID, _MIN, _MAX and _STEP, or from
// JOB_COMPLETION_INDEX and JOB_COMPLETION_COUNT (which the job file sets: Kubernetes
// tells a pod its index only).
//
//	array=$(sbatch --parsable survey.sbatch mine.yaml --rigs 20000 --trials 50)
//	sbatch --dependency=afterok:$array merge.sbatch
//
// What it takes, measured on one core of an EPYC server with the seven built-in
// profiles and the tasks of households: 0.7 ms to turn a knob, which a member's
// candidates share, and 0.7 to 0.9 ms for what its people learn of each candidate; then
// 24 µs a trial while plans are new (the first fifty), 10 µs after thousands. That is
// 20 thousand trials a second with 50 trials a member, 54 with 1000, 85 with 5000 (the
// last two before candidates shared a knob). A part takes
// 130 bytes a member and some 20 kB for its histograms; a task, 60 MB however many
// trials it does and 100 bytes a member and candidate. In 200 parts:
//
//	trials  members       trials each  core hours  a part             all parts
//	10⁹     2.9 million            50          14  2 MB in 4 minutes     0.4 GB
//	10⁹     143 thousand         1000           5  0.1 MB in 2 min        23 MB
//	10¹⁰    1.43 million         1000          52  1 MB in 16 min       0.2 GB
//	10¹⁰    28.6 million           50         140  19 MB in 42 min        4 GB
//
// Ten times the members narrow an interval by a factor of three; ten times the trials
// of a member do next to nothing once members differ more than trials do, which is so
// from some twenty on. So prefer members, and 20 to 100 trials each. Give a part a
// minute or more: starting a task costs Slurm about half a second. The merge needs
// about a kilobyte a member with seven candidates: the 2 GB that merge.sbatch asks for
// are enough for 1.5 million, and the last line of the table needs 30.
package survey
