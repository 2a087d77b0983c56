package tune

import (
	"math"
	"slices"
	"testing"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
)

// overField is a search over a population of which nothing was measured.
func overField(change ...string) *overSearch {
	return &overSearch{
		Over: &Over{MaxOvershoot: 0.1, MaxLost: 0.05, For: Speed, Change: change, Population: &scenarios.Population{}}, tried: map[string]*option{}, most: 0.1, lost: 0.05,
		space: &space{homes: []scenarios.Home{encoder.InProgram}, curves: []string{"power"}},
	}
}

// came is an option with what it came to.
func (s *overSearch) came(p *scenarios.Profile, members int, seconds, overshoot, lost float64) *option {
	o := s.option(p)
	o.members, o.score = members, score{100, seconds, overshoot, lost}
	return o
}

// An option is what is set: the same twice is one, and without an acceleration its home
// says nothing.
func TestTheSameProfileIsOneOption(t *testing.T) {
	s := overField()
	a := s.option(gain(2))
	named := gain(2)
	named.Name = "another name"
	if s.option(named) != a || s.evaluations != 1 || !slices.Equal(s.order, []*option{a}) || a.profile.Acceleration.Curve != (accel.Constant{Gain: 2}) {
		t.Errorf("%d options", s.evaluations)
	}
	there := *scenarios.Plain()
	there.Home = encoder.InFirmware
	if s.option(scenarios.Plain()) != s.option(&there) || s.option(&there).profile.Home != encoder.InProgram {
		t.Error("without an acceleration the home makes another option")
	}
	there = *gain(2)
	if there.Home = encoder.InFirmware; s.option(&there) == a {
		t.Error("an acceleration in the firmware is one in the program")
	}
	parts := *gain(2)
	parts.Parts = []scenarios.Part{{}}
	if s.option(&parts).searched() || s.option(&scenarios.Profile{PressCoarse: 10}).searched() || !a.searched() {
		t.Error("profiles of fixed parts are moved, or others are not")
	}
}

// One of the population's own profiles is a candidate where it changes only what may.
func TestWhichOfThePopulationsOwnMayBeRecommended(t *testing.T) {
	press, there := &scenarios.Profile{PressCoarse: 10}, *gain(2)
	there.Home = encoder.InFirmware
	for _, x := range []struct {
		change []string
		p      *scenarios.Profile
		want   bool
	}{
		{nil, press, true}, {nil, gain(2, "firmware.gap=20ms"), true},
		{[]string{"firmware.gap"}, press, false}, {[]string{"firmware.gap"}, gain(2, "firmware.gap=20ms"), true}, {[]string{"firmware.gap"}, gain(2, "firmware.pulse=20ms"), false},
		{[]string{"program"}, &there, false}, {[]string{"program"}, scenarios.Plain(), true},
	} {
		if got := overField(x.change...).allowed(x.p); got != x.want {
			t.Errorf("--change %v: %+v is allowed %t", x.change, x.p, got)
		}
	}
	s := overField("firmware.gap")
	if s.space.curves = nil; s.allowed(gain(2)) {
		t.Error("an acceleration is allowed that nobody can have")
	}
}

// What is asked are the caps, or where nothing keeps to one, a point more than the best
// does.
func TestTheLimitsOfADefault(t *testing.T) {
	s := overField()
	s.came(gain(2), 24, 5, 0.2, 0.01)
	s.came(gain(3), 24, 5, 0.1, 0.2)
	if s.limit(s.order); s.most != 0.1 || s.lost != 0.05 {
		t.Errorf("%g and %g", s.most, s.lost)
	}
	if s.limit(s.order[:1]); math.Abs(s.most-0.21) > 1e-9 || s.lost != 0.05 {
		t.Errorf("%g and %g", s.most, s.lost)
	}
	if s.limit(s.order[1:]); s.most != 0.1 || math.Abs(s.lost-0.21) > 1e-9 {
		t.Errorf("%g and %g", s.most, s.lost)
	}
}

// The finalists are the best eight of those that met most members, the population's own,
// and the quickest at each level of overshoot, each once.
func TestTheFinalistsOfADefault(t *testing.T) {
	s := overField()
	var best []*option
	for i := range 9 {
		best = append(best, s.came(gain(float64(2+i)), 72, 5+float64(i), 0.09, 0))
	}
	calm := s.came(gain(20), 24, 30, 0.04, 0)
	s.came(gain(21), 24, 31, 0.03, 0)
	quick := s.came(gain(22), 24, 1, 0.28, 0)
	s.came(gain(23), 24, 0.5, 0.09, 0.2) // loses too much
	own := s.came(gain(24), 24, 90, 0.9, 0)
	own.listed = true
	s.option(gain(25)) // was not measured
	want := append(slices.Clone(best[:8]), own, calm, quick)
	if got := s.finalists(); !slices.Equal(got, want) {
		t.Errorf("%d finalists, want %d", len(got), len(want))
	}
	list := s.levels(want)
	for i, x := range []*option{calm, best[0], best[0], quick} {
		if list[i].Profile != x.profile || list[i].Seconds != x.seconds || list[i].Overshoot != x.overshoot {
			t.Errorf("at %g: %+v", list[i].Most, list[i])
		}
	}
	if l := s.levels(best)[0]; l.Profile != nil || !math.IsInf(l.Seconds, 1) {
		t.Errorf("nothing is so calm: %+v", l)
	}
}

// The default is the quickest within the caps, with what chance makes of an overshoot; one
// of the population's own where nobody would notice the difference.
func TestTheDefaultIsTheQuickestWithinTheCaps(t *testing.T) {
	s := overField()
	loud, close, quick, own := s.came(gain(2), 200, 3, 0.2, 0), s.came(gain(3), 200, 4, 0.098, 0), s.came(gain(4), 200, 5, 0.05, 0), s.came(gain(5), 200, 5.02, 0.05, 0)
	losing := s.came(gain(6), 200, 1, 0.05, 0.15)
	own.listed, close.unsure = true, 0.01 // 0.7 of it more is beyond the cap
	all := []*option{loud, close, quick, losing}
	if got := s.choose(all); got != quick {
		t.Errorf("%+v", got.score)
	}
	if got := s.choose(append(all, own)); got != own { // 0.4 % slower
		t.Errorf("%+v", got.score)
	}
	if own.seconds = 5.03; s.choose(append(all, own)) != quick { // 0.6 %
		t.Error("one of the population's own is slower, and chosen")
	}
	if close.unsure = 0.001; s.choose(all) != close {
		t.Error("within the cap for sure, and not chosen")
	}
	s.most = 0.2 // nothing keeps to the cap: what the calmest does is asked
	if got := s.choose(all); got != loud {
		t.Errorf("%+v", got.score)
	}
}
