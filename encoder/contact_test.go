package encoder

import (
	"math"
	"slices"
	"testing"
	"time"

	"dialwright/encoder/draw"

	"pgregory.net/rapid"
)

// plainEdge is a quarter step of the shaft.
type plainEdge struct {
	at      int64
	contact int
	dir     int8
	detent  int
}

// plainContact is a contact as model.md, stages 1 and 2, has it.
type plainContact struct {
	level, accepted bool
	chatter         int64 // ends before this time
	first           int64 // scan that first saw the newest edge
	bits            uint64
	edge            int64
	detent, owner   int
	run             int
}

// emission is what the decoder makes of edges.
type emission struct {
	at    int64
	dir   int8
	owner int
}

// walkEverything reads every scan of both contacts one after the other, with the
// random numbers of a path that has been started, and decodes.
func walkEverything(p *Path, edges []plainEdge, dirs []int8) (got []emission, illegal int) {
	c := [2]plainContact{{chatter: math.MinInt64}, {chatter: math.MinInt64}}
	counted := make([]bool, len(dirs))
	// model.md, Accounting: the detent whose edge completed the count; if that one
	// turned the other way or has its counts already, the newest earlier one of the
	// count's direction that lacks one; else none.
	emit := func(at int64, dir int8, completed int) {
		for i := completed; i >= 0; i-- {
			if dirs[i] == dir && !counted[i] {
				counted[i] = true
				got = append(got, emission{at, dir, i})
				return
			}
		}
		got = append(got, emission{at, dir, nobody})
	}
	clockwise := map[[2]bool]int{{false, false}: 0, {true, false}: 1, {true, true}: 2, {false, true}: 3}
	quarters, next := 0, 0
	end := edges[len(edges)-1].at + p.contacts.bounce + int64(p.contacts.debounce+2)*p.contacts.scan.period.by
	for k := p.contacts.scan.first(edges[0].at - 1); p.contacts.scan.tick(k) < end; k++ {
		at := p.contacts.scan.tick(k)
		for ; next < len(edges) && edges[next].at <= at; next++ {
			e, x := edges[next], &c[edges[next].contact]
			b := p.contacts.chatterNoise.Bits(int64(next))
			x.level, x.detent, x.edge = !x.level, e.detent, int64(next)
			x.chatter = e.at + int64(b>>32*uint64(p.contacts.bounce+1)>>32)
			x.bits, x.first = b&(1<<32-1), k
		}
		before := [2]bool{c[0].accepted, c[1].accepted}
		var changed [2]bool
		for i := range c {
			x := &c[i]
			reading := x.level
			if n := k - x.first; at < x.chatter && n < 32 {
				reading = x.bits>>n&1 == 1
			} else if at < x.chatter {
				reading = p.contacts.longChatter.Bits(x.edge<<24|n>>6)>>(n&63)&1 == 1
			}
			if reading == x.accepted {
				x.run = 0
				continue
			}
			if x.run == 0 {
				x.owner = x.detent
			}
			if x.run++; x.run == p.contacts.debounce {
				x.run, x.accepted, changed[i] = 0, reading, true
			}
		}
		after := [2]bool{c[0].accepted, c[1].accepted}
		switch {
		case p.contacts.decoder == Edge:
			if changed[0] && after[0] {
				dir := int8(+1)
				if after[1] {
					dir = -1
				}
				emit(at, dir, c[0].owner)
			}
		case changed[0] && changed[1]:
			illegal++
		case changed[0] || changed[1]:
			dir := int8(+1)
			if (clockwise[after]+1)%4 == clockwise[before] {
				dir = -1
			}
			if quarters += int(dir); max(quarters, -quarters) == p.contacts.perDetent {
				quarters = 0
				owner := c[0].owner
				if changed[1] {
					owner = c[1].owner
				}
				emit(at, dir, owner)
			}
		}
	}
	return got, illegal
}

// shaft follows the knob for a plain model.
type shaft struct {
	position int64
	edges    []plainEdge
	dirs     []int8
}

func (s *shaft) turn(dir int8, times []int64) {
	for _, at := range times {
		q := s.position
		if s.position += int64(dir); dir < 0 {
			q--
		}
		s.edges = append(s.edges, plainEdge{at, int(q & 1), dir, len(s.dirs)})
	}
	s.dirs = append(s.dirs, dir)
}

// contactRig draws contacts that bounce for up to 300 scans, and a firmware that
// believes them soon or late.
func contactRig(t *rapid.T) Rig {
	r := Default()
	part := rapid.SampledFrom([][2]int{{24, 24}, {30, 15}, {12, 24}, {24, 6}, {16, 12}, {0, 24}}).Draw(t, "part")
	r.Knob = Knob{Detents: part[0], Cycles: part[1], MinState: float64(rapid.SampledFrom([]int{250, 80, 50}).Draw(t, "min_state")) / 1000}
	r.Knob.Bounce = time.Duration(rapid.IntRange(0, 60).Draw(t, "bounce")) * 100 * time.Microsecond
	r.Firmware.Scan = time.Duration(rapid.SampledFrom([]int{20, 100, 333, 1000, 3000}).Draw(t, "scan")) * time.Microsecond
	r.Firmware.Debounce = rapid.OneOf(rapid.IntRange(1, 4), rapid.IntRange(1, 40), rapid.IntRange(40, 400)).Draw(t, "debounce")
	r.Firmware.Decoder = Decoder(rapid.IntRange(0, 1).Draw(t, "decoder"))
	return r
}

// compareWithWalk turns a shaft on a path in five trials and compares each with
// the plain walk.
func compareWithWalk(t *rapid.T, p *Path, s *shaft, turn func()) {
	var got []emission
	illegal := 0
	p.Trace = func(e Event) {
		switch e.Kind {
		case Counted:
			got = append(got, emission{e.At, e.Dir, e.Detent})
		case IllegalTransition:
			illegal++
		}
	}
	for trial := range 5 {
		got, illegal = nil, 0
		p.Start(draw.NewTrial(uint64(trial), "skip", rapid.IntRange(0, 1000).Draw(t, "trial")), 0)
		turn()
		p.Finish()
		want, wantIllegal := walkEverything(p, s.edges, s.dirs)
		if !slices.Equal(got, want) || illegal != wantIllegal {
			t.Fatalf("skipping scans: %v, %d illegal\nwalking them: %v, %d illegal", got, illegal, want, wantIllegal)
		}
	}
}

// Scans that are skipped by arithmetic decide nothing: reading every one gives the
// same emissions at the same times for the same detents, bit for bit, however
// edges crowd and however long contacts chatter. (Issue 4: the fast path and the
// walking one are equal.) Here the edges come at times of their own.
func TestSkippedScansDecideNothing(t *testing.T) {
	apart := 0 // strokes that were turned without the edges within their detents
	CheckOften(t, 2000, func(t *rapid.T) {
		r := contactRig(t)
		p, err := NewPath(Setup{Rig: &r})
		if err != nil {
			t.Fatal(err)
		}
		var s shaft
		at, dir := int64(10*time.Millisecond), int8(1)
		for range rapid.IntRange(1, 15).Draw(t, "detents") {
			unit := int64(rapid.SampledFrom([]time.Duration{time.Microsecond, 100 * time.Microsecond, 100 * time.Microsecond, time.Millisecond}).Draw(t, "gaps in"))
			times := make([]int64, p.contacts.perDetent)
			for j := range times {
				at += unit * int64(rapid.IntRange(1, 120).Draw(t, "gap"))
				times[j] = at
			}
			if rapid.IntRange(0, 2).Draw(t, "turns back") == 0 {
				dir = -dir
			}
			s.turn(dir, times)
		}
		times := make([]int64, len(s.edges))
		for i := range times {
			times[i] = s.edges[i].at
		}
		strokes, ends := rapid.Bool().Draw(t, "strokes"), rapid.Bool().Draw(t, "ends")
		compareWithWalk(t, p, &s, func() {
			e := p.contacts.perDetent
			for from, to := 0, 0; from < len(s.dirs); from = to {
				for to = from + 1; strokes && to < len(s.dirs) && s.dirs[to] == s.dirs[from]; {
					to++
				}
				switch turned := times[from*e : to*e]; {
				case strokes && ends && turnEnds(p, s.dirs[from], turned):
					apart++
				case strokes:
					p.Stroke(s.dirs[from], turned)
				default:
					p.Turn(s.dirs[from], turned)
				}
			}
		})
	})
	if apart == 0 {
		t.Error("no stroke lay apart")
	}
}

// turnEnds turns a stroke by the ends of its detents alone, if its edges lie apart.
func turnEnds(p *Path, dir int8, edges []int64) bool {
	spacing := int64(never)
	for i := 1; i < len(edges); i++ {
		spacing = min(spacing, edges[i]-edges[i-1])
	}
	var ends []int64
	e := p.contacts.perDetent
	for last := e - 1; last < len(edges); last += e {
		ends = append(ends, edges[last])
	}
	return p.StrokeApart(dir, edges[0], edges[max(0, len(edges)-2)], spacing, ends)
}

// The same for detents that are given by their times: edge j of E comes at
// t − ⌊(E−j)·g/E⌋, g the time since the detent before, at most 40 ms; with E−j odd
// 1−4·min_state of a quarter step later (model.md, stage 1).
func TestSkippedScansOfDetentsDecideNothing(t *testing.T) {
	CheckOften(t, 2000, func(t *rapid.T) {
		r := contactRig(t)
		p, err := NewPath(Setup{Rig: &r})
		if err != nil {
			t.Fatal(err)
		}
		const most = int64(40 * time.Millisecond)
		n := int64(p.contacts.perDetent)
		quarters := int64(4*r.Knob.MinState*1000 + 0.5) // 4·min_state, in thousandths
		var s shaft
		var ends []int64
		at := int64(0)
		for d := range rapid.IntRange(1, 15).Draw(t, "detents") {
			gap := rapid.OneOf(rapid.Int64Range(20e3, 5e6), rapid.Int64Range(5e6, 60e6)).Draw(t, "gap")
			at += gap
			g := min(gap, most)
			if d == 0 {
				g = most
			}
			times := make([]int64, n)
			for j := int64(1); j <= n; j++ {
				x := 1000 * (n - j)
				if (n-j)%2 == 1 {
					x = 1000*(n-j-1) + quarters
				}
				times[j-1] = at - x*g/(1000*n)
			}
			s.turn(int8(2*rapid.IntRange(0, 1).Draw(t, "direction")-1), times)
			ends = append(ends, at)
		}
		compareWithWalk(t, p, &s, func() {
			for d, at := range ends {
				p.Detent(at, s.dirs[d])
			}
		})
	})
}

// The plain walk itself, by hand: three equal readings, one a millisecond, are
// believed at the last of them.
func TestPlainWalkIsRight(t *testing.T) {
	r := Default()
	r.Knob.Bounce = 0
	r.Firmware.Debounce, r.Firmware.Phase = 3, PhaseAt(0)
	p, err := NewPath(Setup{Rig: &r})
	if err != nil {
		t.Fatal(err)
	}
	p.Start(draw.NewTrial(1, "", 0), 0)
	var s shaft
	s.turn(+1, []int64{70e6, 80e6, 90e6, 100e6})
	s.turn(-1, []int64{170e6, 180e6, 190e6, 200e6})
	got, illegal := walkEverything(p, s.edges, s.dirs)
	if want := []emission{{102e6, +1, 0}, {202e6, -1, 1}}; !slices.Equal(got, want) || illegal != 0 {
		t.Errorf("%v, %d illegal; want %v", got, illegal, want)
	}
}
