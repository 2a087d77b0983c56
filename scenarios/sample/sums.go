package sample

import (
	"math"
	"math/big"
	"math/bits"

	"dialwright/scenarios/paired"
)

// Kept is how many trials of a use are kept one by one. Of more, [Fold] keeps sums and
// histograms, which do not grow: means and shares stay exact, a quantile of times is
// that of times to the ms, or above 131 s to 1/65,536 of them, and the sign-flip test
// becomes the normal limit of [paired.AverageOf]. Ours: what is kept of the 42 cells of
// the demo takes some 30 MB then, and the tosses for a pair of cells a tenth of a second.
const Kept = 20_000

// cubes is a sum of cubes of whole numbers below 2⁴⁷ (a day in ns) in 192 bits, the
// lowest first.
type cubes [3]uint64

func (c *cubes) add(x uint64) {
	high, low := bits.Mul64(x, x)
	over, first := bits.Mul64(low, x)
	third, second := bits.Mul64(high, x)
	second, carry := bits.Add64(second, over, 0)
	third += carry
	c[0], carry = bits.Add64(c[0], first, 0)
	c[1], carry = bits.Add64(c[1], second, carry)
	c[2] += third + carry
}

// number makes a number of its words, the lowest first.
func number(words ...uint64) *big.Int {
	n := new(big.Int)
	for i, w := range words {
		n.Or(n, new(big.Int).Lsh(new(big.Int).SetUint64(w), uint(64*i)))
	}
	return n
}

// powers is the sums of times and of their squares and cubes, in ns.
type powers struct {
	n            int
	one, squares Sum
	cubes        cubes
}

func (p *powers) add(ns uint64) {
	p.n++
	p.one.Add(ns)
	p.squares.AddSquare(ns)
	p.cubes.add(ns)
}

// moments are those of n numbers: those above 0, the negatives of those below it, and
// zeros. What is subtracted is subtracted as whole numbers, so that nothing cancels out.
func moments(above, below *powers, n int) paired.Moments {
	both := func(of func(*powers) *big.Int) (less, sum *big.Int) {
		a, b := of(above), of(below)
		return new(big.Int).Sub(a, b), new(big.Int).Add(a, b)
	}
	one, _ := both(func(p *powers) *big.Int { return number(p.one.Low, p.one.High) })
	_, squares := both(func(p *powers) *big.Int { return number(p.squares.Low, p.squares.High) })
	cubes, sizes := both(func(p *powers) *big.Int { return number(p.cubes[:]...) })
	many := big.NewInt(int64(n))
	product := func(factors ...*big.Int) *big.Int {
		x := big.NewInt(1)
		for _, f := range factors {
			x.Mul(x, f)
		}
		return x
	}
	m2 := product(many, squares) // n times the sum of squared distances from the mean
	m2.Sub(m2, product(one, one))
	m3 := product(many, many, cubes) // n² times that of cubes
	m3.Sub(m3, product(big.NewInt(3), many, one, squares)).Add(m3, product(big.NewInt(2), one, one, one))
	in := func(x *big.Int, unit float64) float64 {
		f, _ := new(big.Float).SetInt(x).Float64()
		return f / unit
	}
	return paired.Moments{
		N: n, Mean: in(one, 1e9*float64(n)), M2: in(m2, 1e18*float64(n)), M3: in(m3, 1e27*float64(n)*float64(n)),
		Squares: in(squares, 1e18), Cubes: in(sizes, 1e27),
	}
}

// sums is trials that were added up.
type sums struct {
	trials, timeouts, overshot, detents, lost int

	time  powers    // a timeout as the limit
	times Histogram // ms; of those in time
	past  Histogram // steps; of those that overshot
}

// ns returns a time to target, or the limit for a timeout.
func (t *Trials) ns(i int) uint64 { return uint64(math.Round(min(t.Seconds[i], t.Limit) * 1e9)) }

// toMS rounds a time, half up.
func toMS(ns uint64) uint64 { return (ns + 5e5) / 1e6 }

// add adds the trials that are kept up.
func (s *sums) add(t *Trials) {
	for i := range t.Seconds {
		ns := t.ns(i)
		s.time.add(ns)
		if math.IsInf(t.Seconds[i], 1) {
			s.timeouts++
		} else {
			s.times.Add(toMS(ns))
		}
		if t.Past[i] > 0 {
			s.overshot++
			s.past.Add(uint64(t.Past[i]))
		}
		s.detents += t.Detents[i]
		s.lost += t.Lost[i]
	}
	s.trials += len(t.Seconds)
}

// summary is [Trials.Summary] of the sums.
func (s *sums) summary() *Summary {
	times := s.times.Counts(1e-3)
	if s.timeouts > 0 {
		times = append(times, paired.Count{Value: math.Inf(1), N: s.timeouts})
	}
	sum := &Summary{
		Trials: s.trials, Timeouts: s.timeouts,
		Time: times.QuantileInterval(0.5), P90: times.Quantile(0.9), P95: times.Quantile(0.95), Mean: s.moments().Mean,
		Overshoot: paired.ShareInterval(s.overshot, s.trials),
		Fated:     s.detents > 0, Lost: paired.ShareInterval(s.lost, max(1, s.detents)),
	}
	if s.overshot > 0 {
		sum.OvershootP90 = s.past.Counts(1).Quantile(0.9)
	}
	return sum
}

// moments are those of the times.
func (s *sums) moments() paired.Moments { return moments(&s.time, &powers{}, s.trials) }

// beside is the pairs of trials with those of the first candidate, added up.
type beside struct {
	first *Trials

	quicker, slower powers       // ns
	same            int          // trials
	inTime          [2]Histogram // ms; quicker, then slower or the same
	late, firstLate Histogram    // ms; only these timed out, only the first
	bothLate        int

	bothPast, past, firstPast, neitherPast int // trials that overshot
}

// add adds up the pairs of trials that are kept.
func (b *beside) add(t *Trials) {
	for i := range t.Seconds {
		mine, its := t.ns(i), b.first.ns(i)
		size, side := mine-its, 1
		switch {
		case mine < its:
			size, side = its-mine, 0
			b.quicker.add(size)
		case mine == its:
			b.same++
		default:
			b.slower.add(size)
		}
		switch late, firstLate := math.IsInf(t.Seconds[i], 1), math.IsInf(b.first.Seconds[i], 1); {
		case late && firstLate:
			b.bothLate++
		case late:
			b.late.Add(toMS(size))
		case firstLate:
			b.firstLate.Add(toMS(size))
		default:
			b.inTime[side].Add(toMS(size))
		}
		switch past, firstPast := t.Past[i] > 0, b.first.Past[i] > 0; {
		case past && firstPast:
			b.bothPast++
		case past:
			b.past++
		case firstPast:
			b.firstPast++
		default:
			b.neitherPast++
		}
	}
}

// mirrored turns a sample round: the negatives of its values.
func mirrored(c paired.Counts) paired.Counts {
	m := make(paired.Counts, 0, len(c))
	for i := len(c) - 1; i >= 0; i-- {
		m = append(m, paired.Count{Value: 0 - c[i].Value, N: c[i].N})
	}
	return m
}

// moments are those of the differences.
func (b *beside) moments() paired.Moments {
	return moments(&b.slower, &b.quicker, b.slower.n+b.quicker.n+b.same)
}

// pairs returns the differences.
func (b *beside) pairs() *paired.Pairs {
	return &paired.Pairs{
		InTime: append(mirrored(b.inTime[0].Counts(1e-3)), b.inTime[1].Counts(1e-3)...),
		OnlyA:  b.late.Counts(1e-3), OnlyB: mirrored(b.firstLate.Counts(1e-3)), Both: b.bothLate,
		Minus: b.quicker.n, Zero: b.same, Plus: b.slower.n, Moments: b.moments(),
	}
}

// Fold adds up the trials that are kept of several candidates on a use, and lets go of
// them: of each by itself, and of each but the first beside it. All have to have the
// same number of trials; how they are cut into parts makes no difference. What is folded
// can be summed up, judged and weighed against the first, and goes on; the columns are
// empty.
func Fold(all ...*Trials) {
	for i, t := range all {
		if t.sums == nil {
			t.sums = &sums{times: Fine(), past: Fine()}
		}
		t.sums.add(t)
		if i == 0 {
			continue
		}
		if t.beside == nil {
			t.beside = &beside{first: all[0], inTime: [2]Histogram{Fine(), Fine()}, late: Fine(), firstLate: Fine()}
		}
		t.beside.add(t)
	}
	for _, t := range all {
		if cap(t.Seconds) > Kept { // the first time; after that the room is used again
			t.Seconds, t.Past, t.Detents, t.Lost = nil, nil, nil, nil
		}
		t.Seconds, t.Past, t.Detents, t.Lost, t.summary = t.Seconds[:0], t.Past[:0], t.Detents[:0], t.Lost[:0], nil
	}
}

// Folded says whether trials were added up.
func (t *Trials) Folded() bool { return t.sums != nil }

// interval returns the mean time with its interval, a timeout as the limit.
func (t *Trials) interval() paired.Estimate {
	if t.sums != nil {
		return paired.MeanOf([]paired.Summed{{Weight: 1, Moments: t.sums.moments()}})
	}
	return paired.MeanInterval(t.Capped())
}

// judge is [Judge] of trials that were folded beside others.
func (t *Trials) judge(name, than string) paired.Verdict {
	b := t.beside
	v := []paired.Verdict{{
		A: name, B: than, Task: t.Use.Name(), Of: b.first.sums.moments().Mean,
		Time: b.pairs().Difference(), Overshoot: paired.SharesOf(b.bothPast, b.past, b.firstPast, b.neitherPast),
	}}
	paired.Family(v)
	return v[0]
}
