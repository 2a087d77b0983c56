package fit

import (
	"context"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
)

// fourCounts is what the README asks for: slowly, at two easy paces, and one flick.
var fourCounts = []tempo{{24, 12 * time.Second}, {24, 4800 * time.Millisecond}, {24, 2400 * time.Millisecond}, {12, 400 * time.Millisecond}}

// theFamily remembers what its rigs show.
var theFamily = sync.OnceValues(func() (*Family, error) { return NewFamily(1) })

// evenly turns a count test in a way that the family does not know: spaced evenly,
// but each click up to a fifth of the spacing early or late, and the whole up to a
// tenth faster or slower.
func evenly(path *encoder.Path, t tempo, source draw.Trial, d *dice) outcome {
	path.Start(source, 0)
	spacing := float64(t.over) / float64(t.turned) * d.between(0.9, 1.1)
	for k := range t.turned {
		path.Detent(1e9+int64(spacing*(float64(k)+d.between(-0.2, 0.2))), +1)
	}
	return outcomeOf(path)
}

// Four counts a rig: of 50 random rigs that lose a tenth of the clicks or more at one
// link (ranges in ranges_test.go), half turned in strokes and half evenly, the link
// that loses most is among the first two named in at least 45.
func TestFourCountsNameTheLinkThatLosesMost(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	family, err := theFamily()
	if err != nil {
		t.Fatal(err)
	}
	ctx := context.Background()
	rigs, first, firstTwo := 0, 0, 0
	var by [scenarios.Links][2]int
	for n := 0; rigs < 50; n++ {
		d := newDice("counted", n)
		rig := countedRig(d)
		path, err := encoder.NewPath(encoder.Setup{Rig: &rig})
		if err != nil {
			t.Fatal(err)
		}
		var counts []Count
		var lost [scenarios.Links]float64
		for k, x := range fourCounts {
			source := draw.NewTrial(2026, "counted", 10*n+k)
			o := tried(path, x, source, false)
			if n%2 == 1 {
				o = evenly(path, x, source, d)
			}
			counts = append(counts, Count{x.turned, x.over, o.shown})
			for _, l := range losing {
				lost[l] += float64(o.lost[l])
			}
		}
		top, most := topOf(lost)
		if most < 8.4 { // of 84
			continue
		}
		rigs++
		w, err := family.weigh(ctx, counts)
		if err != nil {
			t.Fatal(err)
		}
		named := family.blame(counts, w)
		by[top][0]++
		if named[0].Link == top {
			first++
		}
		if named[0].Link == top || named[1].Link == top {
			firstTwo++
			by[top][1]++
		} else {
			t.Logf("rig %d: %s loses %.0f of %v, named are %v", n, top, most, lost, named)
		}
	}
	t.Logf("named first %d, among the first two %d of %d; by link %v", first, firstTwo, rigs, by)
	if firstTwo < 45 {
		t.Errorf("among the first two named in %d of %d; 45 would do", firstTwo, rigs)
	}
}

// Counts that a rig of the family makes are explained, and the next test tells the
// links apart.
func TestCountsAreExplainedAndTheNextOneTells(t *testing.T) {
	family, err := theFamily()
	if err != nil {
		t.Fatal(err)
	}
	r, err := family.TestCounts(context.Background(), []Count{{48, 1600 * time.Millisecond, 31}, {24, 12 * time.Second, 24}})
	if err != nil {
		t.Fatal(err)
	}
	if !r.Explains || len(r.Paths) < 2 || r.Nothing {
		t.Fatalf("48 clicks of which 31 show are not explained: %+v", r)
	}
	sum := 0.0
	for _, l := range r.Links {
		sum += l.First
	}
	if sum < 0.95 || sum > 1.000001 {
		t.Errorf("the links lose most with probabilities that add up to %g", sum)
	}
	for _, p := range r.Paths {
		if len(p.Shows) != 2 || p.Shows[0] > 40 || p.Shows[0] < 22 {
			t.Errorf("%s shows %v", p.Link, p.Shows)
		}
	}
	if r.Next == nil || len(r.Next.Shows) < 2 || r.Next.Bits < 0.15 {
		t.Fatalf("nothing is to be counted next: %+v", r.Next)
	}
	// Far more steps than clicks, fast only: nothing in the family does that.
	odd, err := family.TestCounts(context.Background(), []Count{{24, 12 * time.Second, 0}, {12, 400 * time.Millisecond, 300}})
	if err != nil {
		t.Fatal(err)
	}
	if odd.Explains {
		t.Errorf("300 steps of 12 clicks are explained by %+v", odd.Paths[0])
	}
	all, err := family.TestCounts(context.Background(), []Count{{24, 12 * time.Second, 24}, {24, 2400 * time.Millisecond, 24}})
	if err != nil {
		t.Fatal(err)
	}
	if !all.Nothing || !all.Explains {
		t.Errorf("nothing lost: %+v", all)
	}
}

func TestCountsAreRead(t *testing.T) {
	for text, want := range map[string]Count{
		"turned 48 in 1.6s shown 31":          {48, 1600 * time.Millisecond, 31},
		" turned 24  in 12s shown 24 ":        {24, 12 * time.Second, 24},
		"Turned 48 clicks in 1.6 s, shown 31": {48, 1600 * time.Millisecond, 31},
		"turned 12 in 400ms shown 0":          {12, 400 * time.Millisecond, 0},
		"turned 1000 in 600s shown 99999":     {1000, 600 * time.Second, 99999},
	} {
		c, err := ParseCount(text)
		if err != nil || c != want {
			t.Errorf("%q: %+v, %v; want %+v", text, c, err, want)
		}
		if again, err := ParseCount(c.String()); err != nil || again != c {
			t.Errorf("%q is written %q and read as %+v, %v", text, c.String(), again, err)
		}
	}
	for _, text := range []string{"", "48 in 1.6s: 31", "turned 0 in 1s shown 0", "turned 48 in 1s shown -3", "turned 48 in 0s shown 3",
		"turned 48 in 1.6 shown 31", "turned 48 in 20ms shown 31", "turned 48 in 1h shown 31", "turned 1001 in 60s shown 3",
		"turned 4 in 1s shown 401", strings.Repeat("turned ", 1000)} {
		if c, err := ParseCount(text); err == nil {
			t.Errorf("%q is read as %+v", text, c)
		}
	}
}

func FuzzParseCount(f *testing.F) {
	f.Add("turned 48 in 1.6s shown 31")
	f.Fuzz(func(t *testing.T, text string) {
		c, err := ParseCount(text)
		if err != nil {
			return
		}
		if again, err := ParseCount(c.String()); err != nil || again != c {
			t.Errorf("%q is written %q and read as %+v, %v", text, c.String(), again, err)
		}
	})
}

// The clicks of a count test come one after the other, and as many as were turned.
func TestATurnHasAsManyClicksAsWereTurned(t *testing.T) {
	for n := range 200 {
		d := newDice("turn", n)
		x := tempo{1 + d.of(100), time.Duration(d.wide(50e6, 20e9))}
		at := x.turnsOf(draw.NewTrial(1, "turn", n).Stream(countNoise), n%2 == 0)
		if len(at) != x.turned || !slices.IsSorted(at) || len(slices.Compact(at)) != x.turned {
			t.Fatalf("%+v: %d clicks at %v", x, len(at), at)
		}
		if last := float64(at[x.turned-1]-1e9) / float64(x.over); x.turned > 20 && x.over > 2e9 && (last < 0.7 || last > 1.3) {
			t.Errorf("%+v: the last click comes at %.2f of the time", x, last)
		}
	}
}
