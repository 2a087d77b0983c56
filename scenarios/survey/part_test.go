package survey_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/file"
	"dialwright/scenarios/survey"
)

// small is a survey that is done in a moment.
func small(members int) *survey.Study {
	p := demo.Population("households")
	p.Profiles = p.Profiles[:2]
	return &survey.Study{Population: p, Members: members, Trials: 4, Seed: 3, Caps: survey.Caps{Overshoot: 0.1, Lost: 0.05}, Workers: 2, Version: "test"}
}

func ran(t testing.TB, s *survey.Study, shard survey.Shard) *survey.Part {
	t.Helper()
	p, err := survey.Run(context.Background(), s, shard)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func encoded(t interface{ Fatal(...any) }, p *survey.Part) []byte {
	text, err := p.Encode()
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// shards of a small survey, each written and read again.
func shards(t testing.TB, s *survey.Study, of int) []survey.Named {
	t.Helper()
	list := make([]survey.Named, of)
	for i := range list {
		p, err := survey.Decode(encoded(t, ran(t, s, survey.Shard{I: i + 1, Of: of})))
		if err != nil {
			t.Fatal(err)
		}
		list[i] = survey.Named{Part: p, Name: fmt.Sprintf("%d.part", i+1)}
	}
	return list
}

// The parts of a survey, however many, merge to the very bytes of one run, in any
// order and grouping; and one run gives the same for any number of workers.
func TestPartsMergeToTheBytesOfOneRun(t *testing.T) {
	s := small(24)
	whole := encoded(t, ran(t, s, survey.Whole))
	s.Workers = 1
	if again := encoded(t, ran(t, s, survey.Whole)); !bytes.Equal(again, whole) {
		t.Fatal("one worker gives other bytes than two")
	}
	for _, of := range []int{1, 2, 7, 200} {
		parts := shards(t, s, of)
		for order := range uint64(8) {
			left := slices.Clone(parts)
			r := rand.New(rand.NewPCG(order, 1))
			for len(left) > 1 {
				r.Shuffle(len(left), func(i, j int) { left[i], left[j] = left[j], left[i] })
				n := min(len(left), 2+r.IntN(49))
				p, err := survey.Merge(left[:n])
				if err != nil {
					t.Fatal(err)
				}
				if p, err = survey.Decode(encoded(t, p)); err != nil { // a tree of files
					t.Fatal(err)
				}
				left = append([]survey.Named{{Part: p, Name: "merged"}}, left[n:]...)
			}
			p, err := survey.Merge(left)
			if err != nil || p.Missing() != nil {
				t.Fatal(err, p.Missing())
			}
			if !bytes.Equal(encoded(t, p), whole) {
				t.Fatalf("%d parts merge to other bytes than one run", of)
			}
		}
	}
}

// What does not belong together, is missing, or is there twice, is named.
func TestPartsThatDoNotFitAreNamed(t *testing.T) {
	parts := shards(t, small(12), 4)
	parts[2].Inputs = []file.Input{{Name: "elsewhere/mine.yaml"}} // the same file under another name
	for _, order := range [][]survey.Named{parts, {parts[2], parts[3], parts[0], parts[1]}} {
		if p, err := survey.Merge(order); err != nil || p.Inputs != nil {
			t.Errorf("the inputs are those of the first shard, not %v (%v)", p.Inputs, err)
		}
	}
	other := small(12)
	other.Seed = 4
	seed := shards(t, other, 4)[2]
	seed.Name = "seed.part"
	five := shards(t, small(12), 5)[0]
	five.Name = "five.part"
	changed := small(12)
	changed.Population.Vary[3].From = "16ms"
	digest := shards(t, changed, 4)[1]
	digest.Name = "digest.part"
	twice := parts[1]
	twice.Name = "copy.part"
	for _, x := range []struct {
		parts []survey.Named
		want  string
	}{
		{[]survey.Named{parts[0], parts[1], seed, parts[3], five}, "seed.part: does not belong to 1.part: seed 4, there 3\nfive.part: does not belong to 1.part: parts 5, there 4"},
		{[]survey.Named{parts[0], digest}, "digest.part: does not belong to 1.part: what its files say is not the same"},
		{[]survey.Named{parts[0], parts[1], twice}, "copy.part: shard 2/4 is in 2.part as well"},
	} {
		if _, err := survey.Merge(x.parts); err == nil || err.Error() != x.want {
			t.Errorf("%v\nwant\n%s", err, x.want)
		}
	}
	p, err := survey.Merge([]survey.Named{parts[1]})
	if err != nil || fmt.Sprint(p.Missing()) != "of 4 shards these are missing: 1, 3–4" {
		t.Errorf("%v, %v", err, p.Missing())
	}
}

// A part is read whole or not at all: whatever is cut off or changed is noticed.
func TestADamagedPartIsNoPart(t *testing.T) {
	text := encoded(t, ran(t, small(6), survey.Shard{I: 1, Of: 2}))
	if _, err := survey.Decode(text); err != nil {
		t.Fatal(err)
	}
	for cut := range len(text) {
		if _, err := survey.Decode(text[:cut]); cut > 0 && !errors.Is(err, survey.ErrCut) || err == nil {
			t.Fatalf("%d of %d bytes: %v", cut, len(text), err)
		}
	}
	for i := range text {
		changed := bytes.Clone(text)
		changed[i] ^= 1
		if _, err := survey.Decode(changed); err == nil {
			t.Fatalf("byte %d is changed and nobody notices", i)
		}
	}
	newer := bytes.Replace(text, []byte(`{"format":1,"version":"test"`), []byte(`{"format":2,"version":"v9"`), 1)
	if _, err := survey.Decode(newer); fmt.Sprint(err) != "written by a newer dialwright (v9, form 2); this one reads form 1" {
		t.Errorf("a part of a newer version: %v", err)
	}
	if _, err := survey.Decode([]byte("kind: rig\n")); fmt.Sprint(err) != "this is no part of a survey; dialwright survey --shard writes one" {
		t.Errorf("a rig: %v", err)
	}
}

func FuzzDecode(f *testing.F) {
	f.Add(encoded(f, ran(f, small(3), survey.Whole)))
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := survey.Decode(text)
		if err != nil {
			return
		}
		if again := encoded(t, p); !bytes.Equal(again, text) {
			if q, err := survey.Decode(again); err != nil || !bytes.Equal(encoded(t, q), again) {
				t.Errorf("%q is written as %q", text, again)
			}
		}
	})
}

func TestShards(t *testing.T) {
	slurm := func(id, low, high, step, count string) map[string]string {
		return map[string]string{"SLURM_ARRAY_TASK_ID": id, "SLURM_ARRAY_TASK_MIN": low, "SLURM_ARRAY_TASK_MAX": high, "SLURM_ARRAY_TASK_STEP": step, "SLURM_ARRAY_TASK_COUNT": count}
	}
	for _, x := range []struct {
		text string
		env  map[string]string
		want string
	}{
		{"3/200", nil, "3/200"},
		{"array", slurm("0", "0", "7", "1", "8"), "1/8"},
		{"array", slurm("7", "0", "7", "1", "8"), "8/8"},
		{"array", slurm("21", "1", "41", "10", "5"), "3/5"},
		{"array", slurm("3", "1", "8", "1", ""), "3/8"},
		{"array", map[string]string{"JOB_COMPLETION_INDEX": "0", "JOB_COMPLETION_COUNT": "200"}, "1/200"},
		{"0/5", nil, "0/5: there is no part 0 of 5; 1 to 5 would do"},
		{"6/5", nil, "6/5: there is no part 6 of 5; 1 to 5 would do"},
		{"1/0", nil, "1/0: 0 parts; 1 to 1000000 would do"},
		{"3", nil, "3; 3/200, the third of 200, or array would do"},
		{"a/b", nil, "a/b; 3/200, the third of 200, or array would do"},
		{"array", nil, "array: there is neither SLURM_ARRAY_TASK_ID nor JOB_COMPLETION_INDEX here; inside a job array, or 3/200, would do"},
		{"array", slurm("3", "1", "8", "", "8"), `array: SLURM_ARRAY_TASK_STEP is ""; a whole number would do`},
		{"array", slurm("9", "1", "8", "1", "8"), "array: task 9 of 1 to 8 by 1; an array such as 1-200 would do"},
		{"array", slurm("7", "3", "7", "1", "2"), "array: 2 tasks of 3 to 7 have gaps; submitting the whole array again would do (parts that are there are skipped)"},
		{"array", map[string]string{"JOB_COMPLETION_INDEX": "0"}, `array: JOB_COMPLETION_COUNT is ""; a whole number would do`},
		{"array", map[string]string{"JOB_COMPLETION_INDEX": "5", "JOB_COMPLETION_COUNT": "5"}, "array: there is no part 6 of 5; 1 to 5 would do"},
	} {
		s, err := survey.ParseShard(x.text, func(name string) string { return x.env[name] })
		got := s.String()
		if err != nil {
			got = err.Error()
		}
		if got != x.want {
			t.Errorf("%s %v: %s, want %s", x.text, x.env, got, x.want)
		}
	}
}

// An interrupted survey has whole members only, and says that it is partial.
func TestAnInterruptedSurveyIsPartial(t *testing.T) {
	s := small(10_000_000)
	ctx, cancel := context.WithCancel(context.Background())
	s.Progress = func(done, _ int) {
		if done == 5 {
			cancel()
		}
	}
	s.Members = 1000
	p, err := survey.Run(ctx, s, survey.Whole)
	if !errors.Is(err, context.Canceled) || !p.Partial {
		t.Fatalf("%v, %+v", err, p)
	}
	r, err := survey.Sum(p)
	if err != nil || r.Members < 5 || r.Members > 8 {
		t.Fatalf("%v: %d members", err, r.Members)
	}
	if text := page(t, r); !strings.Contains(text, "Partial: interrupted after ") {
		t.Errorf("%s", text)
	}
}

// A member whose rig nobody can dial on counts nowhere, and is counted.
func TestADeadRigIsSaid(t *testing.T) {
	s := small(6)
	rig := *s.Population.Rigs[0].Of
	rig.Firmware.Debounce, rig.Firmware.Scan = 100, 10*time.Millisecond // longer than any state
	s.Population.Vary = nil
	s.Population.Rigs = append(s.Population.Rigs[:1], scenarios.Weighted[*scenarios.Rig]{Of: &rig, Weight: 6})
	r, err := survey.Sum(ran(t, s, survey.Whole))
	if err != nil {
		t.Skip(err)
	}
	if r.Dead == 0 || r.Dead+r.Members != 6 || !strings.Contains(page(t, r), fmt.Sprintf("%d more members have rigs on which no number can be dialed", r.Dead)) {
		t.Errorf("%d dead, %d members", r.Dead, r.Members)
	}
}

func BenchmarkMerge(b *testing.B) {
	s := small(1000)
	s.Population = demo.Population("households")
	s.Trials = 1
	var texts [][]byte
	for i := range 200 {
		texts = append(texts, encoded(b, ran(b, s, survey.Shard{I: i + 1, Of: 200})))
	}
	for b.Loop() {
		var parts []survey.Named
		for _, t := range texts {
			p, err := survey.Decode(t)
			if err != nil {
				b.Fatal(err)
			}
			parts = append(parts, survey.Named{Part: p})
		}
		p, err := survey.Merge(parts)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := survey.Sum(p); err != nil {
			b.Fatal(err)
		}
	}
}
