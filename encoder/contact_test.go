package encoder

import (
	"slices"
	"testing"
	"time"

	"dialwright/encoder/draw"

	"pgregory.net/rapid"
)

// emission is what the decoder makes of edges.
type emission struct {
	at    int64
	dir   int8
	owner int
}

// walkEverything reads every scan of both contacts, one after the other, and
// decodes: the plain way, with the same random numbers.
func walkEverything(p *Path, edges []plainEdge) []emission {
	type plain struct {
		level, accepted bool
		from, until     int64
		first           int64
		bits            uint64
		number          int64
		detent, owner   int
		run             int
	}
	var c [2]plain
	var got []emission
	detents := make([]detent, len(p.detents))
	copy(detents, p.detents)
	for i := range detents {
		detents[i].counted = false
	}
	q := &Path{detents: detents}
	gray, quarters, next := int8(0), 0, 0
	last := edges[len(edges)-1].at + int64(2*time.Second)
	for k := p.scan.first(edges[0].at - 1); p.scan.tick(k) < last; k++ {
		at := p.scan.tick(k)
		for next < len(edges) && edges[next].at <= at {
			e := edges[next]
			x := &c[e.contact]
			b := p.chatterNoise.Bits(int64(next))
			x.level, x.detent, x.number = !x.level, e.detent, int64(next)
			x.from = e.at
			x.until = e.at + int64(b>>32*uint64(p.bounce+1)>>32)
			x.bits = b & (1<<32 - 1)
			x.first = p.scan.first(e.at)
			next++
		}
		var changed [2]bool
		for i := range c {
			x := &c[i]
			reading := x.level
			if at < x.until {
				n := k - x.first
				if n < 32 {
					reading = x.bits>>uint(n)&1 == 1
				} else {
					reading = p.longChatter.Bits(x.number<<24|n>>6)>>uint(n&63)&1 == 1
				}
			}
			if reading == x.accepted {
				x.run = 0
				continue
			}
			if x.run == 0 {
				x.owner = x.detent
			}
			if x.run++; x.run == p.debounce {
				x.run, x.accepted, changed[i] = 0, reading, true
			}
		}
		if p.decoder == Edge {
			if changed[0] && c[0].accepted {
				dir := int8(1)
				if c[1].accepted {
					dir = -1
				}
				got = append(got, emission{at, dir, q.ownerOf(dir, c[0].owner)})
			}
			continue
		}
		g := int8(0)
		switch {
		case c[0].accepted && !c[1].accepted:
			g = 1
		case c[0].accepted && c[1].accepted:
			g = 2
		case c[1].accepted:
			g = 3
		}
		switch (g - gray) & 3 {
		case 1, 3:
			delta := int8(1)
			if (g-gray)&3 == 3 {
				delta = -1
			}
			if quarters += int(delta); quarters == p.perDetent || quarters == -p.perDetent {
				quarters = 0
				owner := c[0].owner
				if changed[1] {
					owner = c[1].owner
				}
				got = append(got, emission{at, delta, q.ownerOf(delta, owner)})
			}
		}
		gray = g
	}
	return got
}

type plainEdge struct {
	at      int64
	contact int
	detent  int
}

// Scans that are skipped by arithmetic decide nothing: reading every one gives the
// same emissions at the same times for the same detents, bit for bit, however
// edges crowd and however long contacts chatter.
func TestSkippedScansDecideNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := Default()
		part := rapid.SampledFrom([][2]int{{24, 24}, {30, 15}, {12, 24}, {0, 24}}).Draw(t, "part")
		r.Knob = Knob{Detents: part[0], Cycles: part[1], MinState: float64(rapid.SampledFrom([]int{250, 80, 50}).Draw(t, "min_state")) / 1000}
		r.Knob.Bounce = time.Duration(rapid.IntRange(0, 60).Draw(t, "bounce")) * 100 * time.Microsecond
		r.Firmware.Scan = time.Duration(rapid.SampledFrom([]int{20, 100, 1000, 3000}).Draw(t, "scan")) * time.Microsecond
		r.Firmware.Debounce = rapid.IntRange(1, 40).Draw(t, "debounce")
		r.Firmware.Decoder = Decoder(rapid.IntRange(0, 1).Draw(t, "decoder"))
		p, err := NewPath(Setup{Rig: &r})
		if err != nil {
			t.Fatal(err)
		}
		var got []emission
		p.Trace = func(e Event) {
			if e.Kind == Counted {
				got = append(got, emission{e.At, e.Dir, e.Detent})
			}
		}
		p.Start(draw.NewTrial(1, "skip", rapid.IntRange(0, 1000).Draw(t, "trial")), 0)
		var edges []plainEdge
		at, position := int64(10*time.Millisecond), int64(0)
		for d := range rapid.IntRange(1, 12).Draw(t, "detents") {
			dir := int8(2*rapid.IntRange(0, 1).Draw(t, "direction") - 1)
			times := make([]int64, p.perDetent)
			for j := range times {
				at += int64(rapid.IntRange(1, 120).Draw(t, "gap")) * int64(100*time.Microsecond)
				times[j] = at
				q := position
				if position += int64(dir); dir < 0 {
					q--
				}
				edges = append(edges, plainEdge{at, int(q & 1), d})
			}
			p.Turn(dir, times)
		}
		p.Finish()
		if want := walkEverything(p, edges); !slices.Equal(got, want) {
			t.Errorf("skipping scans: %v\nwalking them: %v", got, want)
		}
	})
}
