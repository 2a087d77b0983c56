package radio

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"dialwright/encoder/draw"
	"dialwright/scenarios"
)

// C1, ICAO Annex 10 Vol V Table 4-1 (bis), as in channel_names_833.csv.
func TestChannelNamesAndCarriersAreThoseOfTheTable(t *testing.T) {
	text, err := os.ReadFile("testdata/channel_names_833.csv")
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(bytes.NewReader(text))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	rows = rows[1:]
	if len(rows) != 16 {
		t.Fatalf("the table has %d names in 100 kHz, want 16", len(rows))
	}
	listed := map[int64]bool{}
	for _, row := range rows {
		offset := number(t, row[0])
		listed[offset] = true
		for base := int64(comFirst); base < comEnd; base += 100 {
			c, ok := ChannelNamed(kHz(base + offset))
			if !ok {
				t.Fatalf("%d is a name", base+offset)
			}
			if want := 1000*base + number(t, row[3]); c.Carrier != want {
				t.Errorf("%d is sent on %d Hz, want %d", base+offset, c.Carrier, want)
			}
			if got := (c.Spacing == Spacing25); got != (row[5] == "25") {
				t.Errorf("%d has 25 kHz spacing: %v, want spacing %s", base+offset, got, row[5])
			}
		}
		twin := scenarios.Amount(0)
		if row[6] != "" {
			twin = kHz(number(t, strings.Replace(row[6], ".", "", 1)))
		}
		if c, _ := ChannelNamed(kHz(comFirst + offset)); c.Twin != twin {
			t.Errorf("the twin of %d is %v, want %v", comFirst+offset, c.Twin, twin)
		}
	}
	for n := int64(117_900); n < 137_200; n++ {
		_, ok := ChannelNamed(kHz(n))
		if want := n >= comFirst && n < comEnd && listed[n%100]; ok != want {
			t.Errorf("%d is a name: %v, want %v", n, ok, want)
		}
	}
	if _, ok := ChannelNamed(kHz(118_000) + 1); ok {
		t.Error("118000.000001 is a name")
	}
}

// C1, the three carriers that were read in open documents.
func TestCarriersReadInOpenDocuments(t *testing.T) {
	for name, mhz := range map[int64]string{118_805: "118.8000", 133_010: "133.0083", 127_560: "127.5583"} {
		c, ok := ChannelNamed(kHz(name))
		if got := fmt.Sprintf("%.4f", float64(c.Carrier)/1e6); !ok || got != mhz {
			t.Errorf("%d is sent on %s MHz, want %s", name, got, mhz)
		}
	}
}

// C1: 760 and 3040 names (ICAO Annex 10 Vol V Table 4-1 (bis)); walking the band
// passes each once, one click a name, in both directions, on one ring and on
// two.
func TestOneClickIsOneChannelName(t *testing.T) {
	for _, test := range []struct {
		task  *scenarios.Task
		names int64
		last  string
	}{{COM25(), 760, "136975 kHz"}, {COM833(), 3040, "136990 kHz"}} {
		task, scale := test.task, test.task.Scale()
		if task.Count() != test.names {
			t.Errorf("%s has %d names, want %d", task.Name, task.Count(), test.names)
		}
		if got := task.Format(test.names - 1); task.Format(0) != "118000 kHz" || got != test.last {
			t.Errorf("%s goes from %s to %s, want 118000 kHz to %s", task.Name, task.Format(0), got, test.last)
		}
		at, carrier := int64(0), int64(0)
		for range test.names {
			name := task.At(at)
			c, ok := ChannelNamed(name)
			if !ok {
				t.Fatalf("%s passes %v, which is no name", task.Name, name)
			}
			if slices.Contains([]int64{20, 45, 70, 95}, int64(name/scenarios.Unity)%100) {
				t.Errorf("%s passes %v", task.Name, name)
			}
			if c.Carrier < carrier {
				t.Errorf("%s: the carrier falls at %v", task.Name, name)
			}
			carrier = c.Carrier
			next := scale.Add(at, 1)
			if n := task.Clicks(at, next, 1); n != 1 {
				t.Errorf("%s: %v to the next is %d clicks", task.Name, name, n)
			}
			if back := scale.Add(next, -1); back != at {
				t.Errorf("%s: a click up and down from %v ends at %v", task.Name, name, task.At(back))
			}
			at = next
		}
		if at != 0 {
			t.Errorf("%s: after %d clicks the knob is not back at the first name", task.Name, test.names)
		}
		dials := task.Dials(2)
		if outer, inner := dials[0].Scale.Count, dials[1].Scale.Count; outer != 19 || outer*inner != test.names {
			t.Errorf("%s: rings of %d and %d numbers, want 19 MHz and all %d together", task.Name, outer, inner, test.names)
		}
		for i := range test.names { // the outer ring shows MHz
			if got, want := dials[0].Part(i), int64(task.At(i)/kHz(1000))-118; got != want {
				t.Fatalf("%s: the outer ring shows %d MHz above 118 at %v", task.Name, got, task.At(i))
			}
		}
	}
}

// C1: 16 names in each 100 kHz, so that a knob never counts 5 kHz a click.
func TestSixteenNamesInEach100KHz(t *testing.T) {
	per := map[scenarios.Amount]int{}
	for _, n := range channelNames() {
		per[n/kHz(100)]++
	}
	if len(per) != 190 {
		t.Errorf("%d hundreds of kHz, want 190", len(per))
	}
	for at, n := range per {
		if n != 16 {
			t.Errorf("%d names from %v00 kHz, want 16", n, at)
		}
	}
}

// C2, FAA AIM 1-1-3.
func TestNavigationSettings(t *testing.T) {
	nav := NAV()
	localizers := 0
	for i := range nav.Count() {
		if IsLocalizer(nav.At(i)) {
			localizers++
		}
	}
	if nav.Count() != 200 || localizers != 40 {
		t.Errorf("%d settings and %d localizers, want 200 and 40", nav.Count(), localizers)
	}
	for khz, want := range map[int64]bool{108_000: false, 108_050: false, 108_100: true, 108_150: true, 108_200: false, 111_950: true, 111_900: true, 112_100: false} {
		if got := IsLocalizer(kHz(khz)); got != want {
			t.Errorf("%d is a localizer: %v, want %v", khz, got, want)
		}
	}
}

// C3, FAA AIM 1-1-2.
func TestBeaconSettings(t *testing.T) {
	ndb := NDB()
	if n := ndb.Count(); n != 1561 {
		t.Errorf("%d settings, want 1561", n)
	}
	if s := ndb.Scale(); s.Add(0, -1) != 0 || s.Add(1560, 1) != 1560 || s.Low != 190 {
		t.Errorf("the receiver does not stop at 190 and 1750 kHz: %+v", s)
	}
}

// C11: the figures of sources.md, recomputed from the rows: median change 3.70
// MHz, 148 clicks on one 25 kHz knob (without wrap), 14 on two rings with wrap.
func TestMediansOfTheHandOffsReproduce(t *testing.T) {
	com := COM25()
	all := HandOffs().Pairs
	if len(all) != 3000 {
		t.Fatalf("%d rows, want 3000", len(all))
	}
	var change []float64
	for _, p := range all {
		change = append(change, math.Abs(p.To.Float()-p.From.Float())/1000)
	}
	if m := median(change); m != 3.70 {
		t.Errorf("median change %.3f MHz, want 3.70", m)
	}
	if m := median(change) * 1000 / com.Step.Float(); m != 148 {
		t.Errorf("median of %v clicks over all rows, want 148", m)
	}
	var straight, shorter, rings []float64
	for _, p := range handOffs25() {
		from, ok1 := com.Index(p.From)
		to, ok2 := com.Index(p.To)
		if !ok1 || !ok2 {
			t.Fatalf("%v is not a row of com-25", p)
		}
		straight = append(straight, math.Abs(float64(to-from)))
		shorter = append(shorter, float64(com.Clicks(from, to, 1)))
		rings = append(rings, float64(com.Clicks(from, to, 2)))
	}
	if m := median(straight); m != 148 {
		t.Errorf("median of %v clicks on one knob that does not wrap, want 148", m)
	}
	if m := median(rings); m != 14 {
		t.Errorf("median of %v clicks on two rings, want 14", m)
	}
	t.Logf("%d rows; rows with two 25 kHz names %d; the shorter way round, one knob: median of %v clicks",
		len(all), len(straight), median(shorter))
}

func TestEveryRowOfThePairsIsAChangeOfItsTask(t *testing.T) {
	for _, test := range []struct {
		task    *scenarios.Task
		changes Changes
		rows    int
	}{
		{COM833(), HandOffs(), 3000},
		{COM25(), Changes{HandOffs().Source, handOffs25()}, 2913},
		{NAV(), VORChanges(), 3000},
		{NDB(), NDBChanges(), 3000},
	} {
		if len(test.changes.Pairs) != test.rows {
			t.Errorf("%s draws from %d rows, want %d", test.task.Name, len(test.changes.Pairs), test.rows)
		}
		if s := test.changes.Source; !strings.Contains(s, "Public domain") || !strings.Contains(s, "NOT for navigation") {
			t.Errorf("%s: the source line says %q", test.task.Name, s)
		}
		for _, p := range test.changes.Pairs {
			from, ok1 := test.task.Index(p.From)
			to, ok2 := test.task.Index(p.To)
			if !ok1 || !ok2 || from == to {
				t.Errorf("%s: %v to %v is no change of it", test.task.Name, p.From, p.To)
			}
		}
	}
}

// C9: whatever is drawn lies inside the band and outside the tolerance, for
// every band and segment of the plans.
func TestTuningNeverLeavesTheBand(t *testing.T) {
	for _, b := range Bands() {
		for _, tol := range Tolerances() {
			task := Tuning(b, tol)
			if b.Upper-b.Lower < scenarios.Amount(tol.Hz)*scenarios.Unity/1000 {
				continue // 500 Hz of weak signals still hold ±200
			}
			longest := int64(0)
			for n := range 2000 {
				from, to := task.Draw(draw.NewTrial(1, task.Name, n))
				for _, i := range []int64{from, to} {
					if at := task.At(i); i < 0 || at < 1000*b.Lower || at > 1000*b.Upper {
						t.Fatalf("%s: trial %d asks for %v Hz", task.Name, n, at)
					}
				}
				d := max(from-to, to-from)
				longest = max(longest, d)
				if 10*d <= tol.Hz {
					t.Errorf("%s: trial %d moves %d Hz, within the tolerance", task.Name, n, 10*d)
				}
			}
			if longest > 2000 {
				t.Errorf("%s moves by up to %d Hz, want 20 kHz at most", task.Name, 10*longest)
			}
		}
	}
}

// C9: the three tolerances are named, with their source.
func TestTolerancesAreNamed(t *testing.T) {
	var hz []int64
	for _, tol := range Tolerances() {
		hz = append(hz, tol.Hz)
		b := Bands()[5]
		task := Tuning(b, tol)
		if !strings.Contains(task.Title, tol.Name) || !strings.Contains(task.Source, tol.Source) {
			t.Errorf("%s does not name its tolerance: %s; %s", task.Name, task.Title, task.Source)
		}
		if got := task.ToleranceSteps(); got != tol.Hz/10 {
			t.Errorf("%s: a tolerance of %d steps, want %d", task.Name, got, tol.Hz/10)
		}
	}
	if !slices.Equal(hz, []int64{20, 50, 200}) {
		t.Errorf("tolerances %v Hz, want 20, 50 and 200", hz)
	}
}

// The distribution of moves is ours; what it says must hold: between 0.1 and 1
// kHz lie as many moves as log(10)/log(200) of them.
func TestMovesAreUniformOnALogarithmicScale(t *testing.T) {
	task := Task("hf-10m-20hz")
	const trials = 20_000
	short, up := 0, 0
	for n := range trials {
		from, to := task.Draw(draw.NewTrial(2, task.Name, n))
		if d := max(from-to, to-from); d < 100 {
			short++
		}
		if to > from {
			up++
		}
	}
	p := math.Log(10) / math.Log(200)
	if z := (float64(short) - trials*p) / math.Sqrt(trials*p*(1-p)); math.Abs(z) > 4 {
		t.Errorf("%d of %d moves under 1 kHz, want a share of %.3f (z = %.1f)", short, trials, p, z)
	}
	if z := (float64(up) - trials/2) / math.Sqrt(trials/4); math.Abs(z) > 4 {
		t.Errorf("%d of %d moves go up (z = %.1f)", up, trials, z)
	}
}

func TestBandPlansAreRead(t *testing.T) {
	var edges, segments, recalled int
	for _, b := range Bands() {
		if b.Lower >= b.Upper || b.Scope == "" || b.Name == "" || b.Source == "" {
			t.Errorf("band %+v", b)
		}
		if b.Use == "edges" {
			edges++
		} else {
			segments++
		}
		if !b.Read {
			recalled++
		}
	}
	if edges != 29 || segments != 19 || recalled != 10 {
		t.Errorf("%d bands, %d segments, %d from memory; want 29, 19, 10", edges, segments, recalled)
	}
	if b := Bands()[2]; b.Name != "60m" || b.Lower.String() != "5351.5" || b.Upper.String() != "5366.5" {
		t.Errorf("the 60m band is %+v", b)
	}
}

func TestTasksAreFoundByName(t *testing.T) {
	seen := map[string]bool{}
	for _, task := range Tasks() {
		if seen[task.Name] {
			t.Errorf("two tasks %s", task.Name)
		}
		seen[task.Name] = true
		if got := Task(task.Name); got == nil || got.Title != task.Title {
			t.Errorf("Task(%q) is %v", task.Name, got)
		}
		if task.Title == "" || task.Source == "" {
			t.Errorf("%s has title %q and source %q", task.Name, task.Title, task.Source)
		}
	}
	if len(seen) != 34 {
		t.Errorf("%d tasks, want 4 radios and 10 bands with 3 tolerances", len(seen))
	}
	if us := Task("hf-us-40m-50hz"); us == nil || us.To.String() != "7300000" {
		t.Errorf("hf-us-40m-50hz is %+v", us)
	}
	if r3 := Task("hf-iaru-r3-40m-20hz"); r3 == nil || r3.To.String() != "7200000" {
		t.Errorf("hf-iaru-r3-40m-20hz is %+v", r3)
	}
	for _, name := range []string{"", "hf-", "hf-20m", "hf-20m-30hz", "com"} {
		if got := Task(name); got != nil {
			t.Errorf("Task(%q) is %s", name, got.Name)
		}
	}
}

// The embedded tables are those of shared/tables, byte for byte.
func TestTablesAreUnchanged(t *testing.T) {
	const shared = "../../../shared/tables"
	if _, err := os.Stat(shared); err != nil {
		t.Skip("shared/tables is not beside this clone")
	}
	for _, name := range []string{"com_pairs.csv", "nav_pairs.csv", "adf_pairs.csv", "band_plans.csv", "testdata/channel_names_833.csv"} {
		ours, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		theirs, err := os.ReadFile(filepath.Join(shared, filepath.Base(name)))
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(ours, theirs) {
			t.Errorf("%s differs from the shared one", name)
		}
	}
}

func number(t *testing.T, s string) int64 {
	t.Helper()
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func median(x []float64) float64 {
	x = slices.Sorted(slices.Values(x))
	return (x[(len(x)-1)/2] + x[len(x)/2]) / 2
}
