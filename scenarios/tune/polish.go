package tune

import (
	"cmp"
	"context"
	"math"
	"reflect"
	"slices"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/sample"
)

// The budget of the polish, at an effort of 1.
const (
	polishing = 18   // rounds at most
	polished  = 256  // trials a task in the last heat of a round
	few       = 3    // neighbours that go on where none is proven
	settled   = 1024 // trials a task at the end
	dear      = 0.4  // what a cap's worth of overshoots counts at first, in mean dialings
	retreat   = 1.2  // what it counts near the cap
	spare     = 1.2  // standard errors that the panel keeps from its cap on overshoot
)

// strides are how far a number moves in a round, as a factor; a knob that no stride
// helps is done.
var strides = []float64{1.5, 1.2, 1.08}

// polish walks from the choice of each knob to neighbours that are quicker, as long
// as the panel stays within the caps: one value, one word, or one number of one
// task's curve at a time, each round among fresh people, paired. Where the panel is
// too near to its cap on overshoot it walks away from it instead. An overshoot is dear
// at first, and becomes cheaper when nothing helps any more, so that the room under the
// cap goes where it saves most. The clouds find the neighbourhood; this finds what the
// caps leave room for.
func (s *search) polish(ctx context.Context, knobs []*finals, chosen []*candidate) error {
	tried := make([]int, len(knobs)) // strides in a row that did not help
	for i, c := range chosen {
		if len(knobs[i].all) > 0 && c == knobs[i].all[0] {
			tried[i] = len(strides) // stays as it is
		}
	}
	stays := slices.Clone(tried)
	held := [][]*candidate{slices.Clone(chosen)}
	var before totals // of the last one held
	price := dear / s.cap()
	if s.MaxOvershoot >= 1 { // no cap leaves all the room there is
		price = s.For.overshootCost()
	}
	for round := 0; round < polishing; round++ {
		if slices.Min(tried) >= len(strides) { // nothing helps at this price
			if slices.Min(stays) >= len(strides) || price <= s.For.overshootCost() {
				break
			}
			if price /= 4; price < dear/s.cap()/8 {
				price = 0
			}
			copy(tried, stays)
		}
		block := s.block("polish", round)
		panel, err := s.total(ctx, knobs, chosen, block, s.scaled(polished, nil))
		if err != nil {
			copy(chosen, held[len(held)-1])
			return err
		}
		// These people had no say in the last round's moves. Those that took the
		// panel too near to its caps are taken back.
		if last := held[len(held)-1]; !slices.Equal(chosen, last) {
			if s.near(panel, spare) && !(s.near(before, spare) && panel.overshoot < before.overshoot) {
				for i := range chosen {
					if chosen[i] != last[i] {
						tried[i]++
					}
				}
				copy(chosen, last)
				continue
			}
			held = append(held, slices.Clone(chosen))
		}
		before = panel
		at := max(price, s.For.overshootCost())
		retreats := s.near(panel, spare)
		if retreats {
			at = max(at, retreat/s.cap())
		}
		for i, f := range knobs {
			if tried[i] >= len(strides) {
				continue
			}
			better, err := s.better(ctx, f, chosen[i], f.neighbors(chosen[i], strides[tried[i]]), at, retreats, block)
			if err != nil {
				copy(chosen, held[len(held)-1])
				return err
			}
			if moved := s.step(chosen[i], s.enough(chosen[i], better, panel, f.share, retreats), &panel, f.share); moved != nil {
				chosen[i] = moved
			} else {
				tried[i]++
			}
		}
	}
	if !slices.Equal(chosen, held[len(held)-1]) {
		held = append(held, slices.Clone(chosen))
	}
	return s.settle(ctx, knobs, chosen, held)
}

// settle takes the best of the last panels that keeps its distance from the caps
// among many fresh people, else the last before them that does; where none does, the
// one that overshoots least.
func (s *search) settle(ctx context.Context, knobs []*finals, chosen []*candidate, held [][]*candidate) error {
	least, best := math.Inf(1), math.Inf(1)
	for n, h := range slices.Backward(held) {
		if len(held)-n > 3 && !math.IsInf(best, 1) {
			break
		}
		panel, err := s.total(ctx, knobs, h, s.block("settle", 0), s.scaled(settled, nil))
		if err != nil {
			return err
		}
		// The proof has a luck of its own.
		panel.variance += float64(panel.variance * float64(s.scaled(settled, nil)) / float64(s.Trials))
		price := math.Round(panel.seconds*(1+float64(s.For.overshootCost()*panel.overshoot))*1e9) / 1e9
		switch {
		case !s.near(panel, spare) && price < best:
			best = price
			copy(chosen, h)
		case math.IsInf(best, 1) && panel.overshoot < least:
			least = panel.overshoot
			copy(chosen, h)
		}
	}
	return nil
}

// near says whether a panel is within so many standard errors of its cap on
// overshoot, or beyond one of the caps.
func (s *search) near(t totals, errors float64) bool {
	return t.overshoot > s.MaxOvershoot-float64(errors*math.Sqrt(t.variance)) || t.lost > s.MaxLost
}

// totals is what the caps count over a panel.
type totals struct {
	seconds         float64
	overshoot, lost float64
	variance        float64 // of overshoot, from how few trials there are
}

// total measures a candidate of each knob.
func (s *search) total(ctx context.Context, knobs []*finals, chosen []*candidate, block uint64, trials int) (t totals, err error) {
	for i, f := range knobs {
		if err := s.measure(ctx, f.uses, s.Operator, chosen[i:i+1], block, 0, trials); err != nil {
			return t, err
		}
		t.add(chosen[i].sample, f.share)
	}
	return t, nil
}

func (t *totals) add(s sample.Panel, share float64) {
	seconds, o, l := s.Means()
	t.seconds += float64(share * seconds)
	t.overshoot += float64(share * o)
	t.lost += float64(share * l)
	t.variance += float64(share * share * overshootVariance(s))
}

// step takes the best of the proven neighbours that leaves the panel within its
// caps, and with a change of one task's curve those of the other tasks. It returns
// nil where there is none.
func (s *search) step(from *candidate, better []*candidate, panel *totals, share float64) *candidate {
	var to *candidate
	touched := map[int]bool{}
	for _, n := range better {
		if to != nil && (n.like == nil || touched[n.only]) {
			continue
		}
		_, o, l := n.sample.Means()
		_, oHere, lHere := from.sample.Means()
		overshoot, lost := panel.overshoot+float64(share*(o-oHere)), panel.lost+float64(share*(l-lHere))
		if o > oHere && s.near(totals{overshoot: overshoot, variance: panel.variance}, spare) || l > lHere && lost > s.MaxLost {
			continue
		}
		panel.overshoot, panel.lost = overshoot, lost
		if to == nil {
			to = &candidate{name: "searched", profiles: copies(n.profiles)}
		} else {
			to.profiles[n.only] = n.profiles[n.only]
		}
		if n.like == nil {
			break
		}
		touched[n.only] = true
	}
	return to
}

// enough puts first, where the panel is too near to its cap, the quickest of those
// neighbours that take it away from there: no more time than that is to be paid.
func (s *search) enough(from *candidate, better []*candidate, panel totals, share float64, retreats bool) []*candidate {
	if !retreats {
		return better
	}
	far, rest := []*candidate{}, []*candidate{}
	_, here, lHere := from.sample.Means()
	for _, n := range better {
		_, o, l := n.sample.Means()
		there := totals{overshoot: panel.overshoot + float64(share*(o-here)), lost: panel.lost + float64(share*(l-lHere)), variance: panel.variance}
		if s.near(there, spare) {
			rest = append(rest, n)
		} else {
			far = append(far, n)
		}
	}
	seconds := func(n *candidate) float64 {
		t, _, _ := n.sample.Means()
		return math.Round(t*1e9) / 1e9
	}
	slices.SortStableFunc(far, func(a, b *candidate) int { return cmp.Compare(seconds(a), seconds(b)) })
	return append(far, rest...)
}

// better measures neighbours on the trials that the choice has done and returns
// those that are proven better at a price of overshoot, the best first. Where none is,
// the few that may be go on.
func (s *search) better(ctx context.Context, f *finals, c *candidate, near []*candidate, price float64, retreats bool, block uint64) ([]*candidate, error) {
	mean, _, _ := c.sample.Means()
	share := float64(mean * price)
	gain, noise := map[*candidate]float64{}, map[*candidate]float64{}
	measure := func(first, last int) error {
		if err := s.measure(ctx, f.uses, s.Operator, near, block, first, last); err != nil {
			return err
		}
		near = slices.DeleteFunc(near, func(n *candidate) bool { return n.failed })
		for _, n := range near {
			gain[n], noise[n] = contrast(n.sample, c.sample, share)
		}
		slices.SortStableFunc(near, func(a, b *candidate) int { return cmp.Compare(gain[a], gain[b]) })
		return nil
	}
	by := func(errors float64) []*candidate {
		return slices.DeleteFunc(slices.Clone(near), func(n *candidate) bool {
			return gain[n] >= float64(-errors*noise[n]) || gain[n] > float64(-mean*unimportant/20)
		})
	}
	sure := 2.0
	if retreats { // to stay beyond the cap is no answer
		sure = 1
	}
	all := s.scaled(polished, nil)
	if err := measure(0, all/4); err != nil {
		return nil, err
	}
	near = by(0)
	if err := measure(all/4, all); err != nil {
		return nil, err
	}
	if proven := by(sure); len(proven) > 0 {
		return proven, nil
	}
	near = by(0.7)
	near = near[:min(few, len(near))]
	if len(near) == 0 {
		return nil, nil
	}
	if err := s.measure(ctx, f.uses, s.Operator, []*candidate{c}, block, all, 4*all); err != nil {
		return nil, err
	}
	if err := measure(all, 4*all); err != nil {
		return nil, err
	}
	return by(sure), nil
}

// neighbors are the candidates one stride away.
func (f *finals) neighbors(c *candidate, stride float64) []*candidate {
	var list []*candidate
	all := func(change func(p *scenarios.Profile)) {
		n := &candidate{name: "searched", profiles: copies(c.profiles)}
		for _, p := range n.profiles {
			change(p)
		}
		list = append(list, n)
	}
	rig, err := scenarios.Apply(c.profiles[0], f.space.knob.Inner.Rig)
	if err != nil {
		return nil
	}
	used := scenarios.Keys(&rig)
	for _, g := range f.space.settings {
		if !slices.Contains(used, g.key) {
			continue
		}
		k := slices.Index(g.choices, scenarios.Get(&rig, g.key))
		far := len(g.choices) / 6 // as far as the stride is long
		for _, shorter := range strides[:slices.Index(strides, stride)] {
			if shorter > stride {
				far /= 3
			}
		}
		far = max(1, far)
		for n, v := range g.choices {
			if n != k && (g.words || k < 0 || n == k-1 || n == k+1 || n == k-far || n == k+far) {
				all(func(p *scenarios.Profile) {
					p.Settings = f.space.with(p.Settings, scenarios.Setting{Key: g.key, Value: v})
				})
			}
		}
	}
	if len(f.space.curves) == 0 {
		return list
	}
	// A firmware does not know the task: its curve is moved for all of them.
	if p := c.profiles[0]; p.Home == encoder.InFirmware && !p.Acceleration.Plain() {
		for _, curve := range f.space.curvesNear(p.Acceleration.Curve, stride) {
			all(func(p *scenarios.Profile) { p.Acceleration.Curve = curve })
		}
		return list
	}
	for i, p := range c.profiles {
		for _, curve := range f.space.curvesNear(p.Acceleration.Curve, stride) {
			n := &candidate{name: "searched", profiles: slices.Clone(c.profiles), like: c, only: i}
			other := *p
			other.Acceleration.Curve = curve
			n.profiles[i] = &other
			list = append(list, n)
		}
	}
	return list
}

// curvesNear are the curves one stride away: with a little more or less gain, rising
// at a lower or a higher rate, more or less suddenly; without one, those of the
// built-in profiles that the rig's owner can have, with a part of their gain too; and
// none from any.
func (s *space) curvesNear(c accel.Curve, stride float64) []accel.Curve {
	var list []accel.Curve
	if c == nil {
		for _, p := range scenarios.Profiles() {
			if p.Acceleration.Curve != nil && slices.Contains(s.curves, accel.KindOf(p.Acceleration.Curve).Word) {
				for _, by := range []float64{1, 0.3, 0.1} {
					list = append(list, neater(scaled(p.Acceleration.Curve, by)))
				}
			}
		}
		return list
	}
	for _, by := range []float64{stride, 1 / stride} {
		list = append(list, neater(scaled(c, by)), neater(faster(c, by)), neater(bent(c, by)))
	}
	if !s.always {
		list = append(list, nil)
	}
	return slices.DeleteFunc(list, func(n accel.Curve) bool { return reflect.DeepEqual(n, c) || !s.tame(n) })
}

// faster returns a curve that rises at rates multiplied by a factor.
func faster(c accel.Curve, by float64) accel.Curve {
	return accel.Changed(c, func(p accel.Parameter, v float64) float64 {
		if p.Has(accel.RateRole) {
			return math.Min(accel.MaxRate-1, v*by)
		}
		return v
	})
}

// bent returns a curve that rises more suddenly for a factor above 1. Of a ladder
// that is its lower steps' gain, of a line its cap alone.
func bent(c accel.Curve, by float64) accel.Curve {
	if c == nil {
		return nil
	}
	k := accel.KindOf(c)
	if k.Rows != nil && k.Rows.Gain.Has(accel.BendRole) {
		rows := k.Rows.Of(c)
		for i := range len(rows) - 1 {
			rows[i][1] = math.Min(rows[i+1][1], math.Max(1, 1+float64((rows[i][1]-1)/by)))
		}
		c = k.Rows.With(c, rows)
	}
	for _, p := range k.Parameters {
		switch v := p.Of(c); {
		case !p.Has(accel.BendRole):
		case p.Quantity == accel.Factor:
			c = p.With(c, math.Min(accel.MaxGain, 1+float64((v-1)*by)))
		case p.Quantity == accel.PerSecond:
			c = p.With(c, v/by)
		default:
			c = p.With(c, v*by)
		}
	}
	return c
}

// neater rounds the numbers of a curve to what a person would write into a file. A
// far target notices a twentieth of a gain that never changes.
func neater(c accel.Curve) accel.Curve {
	return accel.Changed(c, func(p accel.Parameter, v float64) float64 {
		switch {
		case p.Role == 0:
			return v
		case accel.KindOf(c).Flat():
			return math.Round(20*v) / 20
		}
		return neat(v)
	})
}
