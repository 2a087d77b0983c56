package survey

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unsafe"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/file"
	"dialwright/scenarios/trial"
)

// Bounds of a survey.
const (
	MostMembers = 1_000_000_000
	MostShards  = 1_000_000
)

// Study is a survey.
type Study struct {
	Population *scenarios.Population
	Members    int
	Trials     int // a member and candidate
	Seed       uint64
	Caps       Caps
	Workers    int
	Inputs     []file.Input
	Version    string              // of the program
	Progress   func(done, all int) // may be nil; called from several goroutines
}

// Header returns what a shard of the survey says of itself.
func (s *Study) Header(shard Shard) (*Header, error) {
	h := &Header{
		Format: format, Version: s.Version, Inputs: s.Inputs, Population: s.Population.Name, Seed: s.Seed, Members: s.Members, Trials: s.Trials,
		Caps: s.Caps, Keys: s.Population.Keys(), Of: shard.Of, Shards: [][2]int{{shard.I, shard.I}},
	}
	for _, c := range s.Population.Profiles {
		if slices.Contains(h.Candidates, c.Name) {
			return nil, fmt.Errorf("there are two candidates %s; another name for one of them would do", scenarios.Shown(c.Name))
		}
		h.Candidates = append(h.Candidates, c.Name)
	}
	if n := len(h.Candidates); n > scenarios.MostCandidates {
		return nil, fmt.Errorf("%d candidates; at most %d would do", n, scenarios.MostCandidates)
	}
	var err error
	h.Digest, err = digest(s.Population, h)
	return h, err
}

// Afford refuses members that would take more than so many bytes of memory.
func (s *Study) Afford(shard Shard, memory int) error {
	each := int(unsafe.Sizeof(member{})) + 8*len(s.Population.Keys()) + int(unsafe.Sizeof(record{}))*len(s.Population.Profiles)
	first, last := shard.members(s.Members)
	if most := memory / each; last-first > most {
		return fmt.Errorf("%d members would take some %d GB of memory; %d or fewer, or as many in a --shard, would do", last-first, (last-first)*each>>30, most)
	}
	return nil
}

// Run does the members of a shard. When the context ends it returns the members that
// were finished, marked as partial, with the context's error; nil without any.
func Run(ctx context.Context, s *Study, shard Shard) (*Part, error) {
	h, err := s.Header(shard)
	if err != nil {
		return nil, err
	}
	first, last := shard.members(s.Members)
	p := &Part{Header: *h, members: make([]member, last-first), totals: make([]Total, len(h.Candidates))}
	var (
		mutex sync.Mutex // of what follows
		done  int
		fault error
	)
	inner, stop := context.WithCancel(ctx)
	defer stop()
	_ = trial.Each(inner, s.Workers, last-first, func(i int) {
		m, totals, err := s.member(inner, first+i)
		mutex.Lock()
		defer mutex.Unlock()
		if err != nil {
			if fault == nil && inner.Err() == nil {
				fault = fmt.Errorf("member %d: %w", first+i, err)
			}
			stop()
			return
		}
		p.members[i] = m
		for c := range totals {
			p.totals[c].merge(&totals[c])
		}
		if done++; s.Progress != nil {
			s.Progress(done, last-first)
		}
	})
	switch {
	case fault != nil:
		return nil, fault
	case ctx.Err() == nil:
		return p, nil
	case done == 0:
		return nil, ctx.Err()
	}
	p.Partial = true
	return p, ctx.Err()
}

// member draws a member and lets every candidate do the same trials on its rig.
func (s *Study) member(ctx context.Context, n int) (m member, totals []Total, err error) {
	who, err := s.Population.Draw(s.Seed, n)
	if err != nil {
		return m, nil, err
	}
	candidates := s.Population.Profiles
	m = member{done: true, at: who.At, of: make([]record, len(candidates))}
	totals = make([]Total, len(candidates))
	uses := who.Dialed.Served()
	var grips trial.Grips
	plain := make([]*trial.Seat, len(uses)) // for all candidates that cannot be set
	stay, like := uint64(0), -1             // which of them, and the first that is plain throughout
	for c, p := range candidates {
		seats, own := make([]*trial.Seat, len(uses)), 0
		for i, u := range uses {
			if p := p.On(u.Knob.Name, u.Task.Name); !bare(p) {
				if p = less(p, &who.Rig.Rig); !bare(p) {
					if seats[i], err = grips.Seat(u, p, who.Operator); err == nil {
						own++
						continue
					}
				}
				stay |= 1 << c
			}
			if plain[i] == nil {
				if plain[i], err = grips.Seat(u, scenarios.Plain(), who.Operator); err != nil {
					return dead(m, candidates), make([]Total, len(candidates)), nil
				}
			}
			seats[i] = plain[i]
		}
		if own == 0 && like >= 0 { // the same trials
			m.of[c] = m.of[like]
			totals[c].merge(&totals[like])
			continue
		}
		if own == 0 {
			like = c
		}
		for n := range s.Trials {
			if ctx.Err() != nil {
				return m, nil, ctx.Err()
			}
			seat := seats[who.Use(n)]
			r := seat.Run(who.Seed, n)
			if seat.Err() != nil {
				return dead(m, candidates), make([]Total, len(candidates)), nil
			}
			m.of[c].take(&r)
			totals[c].take(&r)
		}
	}
	m.stays = stay
	return m, totals, nil
}

// less returns a profile without the settings that a rig does not use.
func less(p *scenarios.Profile, r *encoder.Rig) *scenarios.Profile {
	if len(p.Settings) == 0 {
		return p
	}
	with := *r
	for _, s := range p.Settings {
		_ = scenarios.Set(&with, s.Key, s.Value) // what cannot be set is found when it is
	}
	used := scenarios.Keys(&with)
	q := *p
	q.Settings = slices.DeleteFunc(slices.Clone(p.Settings), func(s scenarios.Setting) bool {
		return !slices.ContainsFunc(used, func(k string) bool { return k == s.Key || strings.HasPrefix(k, s.Key+".") })
	})
	return &q
}

// dead returns a member whose rig cannot be dialed on.
func dead(m member, candidates []*scenarios.Profile) member {
	m.dead, m.of = true, make([]record, len(candidates))
	return m
}

// bare says whether a profile sets nothing at all.
func bare(p *scenarios.Profile) bool {
	return len(p.Settings) == 0 && p.Acceleration.Plain() && p.PressCoarse == 0
}

func (r *record) take(t *trial.Result) {
	r.time.Add(uint64(t.TimeToTarget))
	if t.Timeout {
		r.timeouts++
	}
	if t.Overshot() {
		r.overshot++
	}
	if a := &t.Account; a.Delivered+a.Lost() > 0 && !(a.Pulses == 0 && a.Presses > 0) {
		r.detents += uint64(a.Detents)
		r.lost += uint64(a.Lost())
	}
}

func (t *Total) take(r *trial.Result) {
	ns := uint64(r.TimeToTarget)
	t.Trials++
	t.Time.Add(ns)
	t.Squares.AddSquare(ns)
	if r.Timeout {
		ns = Beyond
	}
	t.Times.Add(ns)
}

// ParseShard reads 3/200, or array: then the shard is that of the task of a job array
// that this process is, as the environment says.
func ParseShard(text string, environment func(string) string) (Shard, error) {
	if text == "array" {
		return arrayShard(environment)
	}
	a, b, ok := strings.Cut(text, "/")
	i, err1 := strconv.Atoi(a)
	of, err2 := strconv.Atoi(b)
	if !ok || err1 != nil || err2 != nil {
		return Shard{}, fmt.Errorf("%s; 3/200, the third of 200, or array would do", scenarios.Shown(text))
	}
	return checked(Shard{i, of}, text)
}

func checked(s Shard, text string) (Shard, error) {
	if s.Of < 1 || s.Of > MostShards {
		return s, fmt.Errorf("%s: %d parts; 1 to %d would do", scenarios.Shown(text), s.Of, MostShards)
	}
	if s.I < 1 || s.I > s.Of {
		return s, fmt.Errorf("%s: there is no part %d of %d; 1 to %d would do", scenarios.Shown(text), s.I, s.Of, s.Of)
	}
	return s, nil
}

// arrayShard reads what Slurm and Kubernetes tell the tasks of an array.
func arrayShard(environment func(string) string) (Shard, error) {
	number := func(name string) (int, error) {
		n, err := strconv.Atoi(environment(name))
		if err != nil {
			return 0, fmt.Errorf("array: %s is %s; a whole number would do", name, scenarios.Shown(environment(name)))
		}
		return n, nil
	}
	switch {
	case environment("SLURM_ARRAY_TASK_ID") != "":
		var of [4]int
		for i, name := range []string{"SLURM_ARRAY_TASK_ID", "SLURM_ARRAY_TASK_MIN", "SLURM_ARRAY_TASK_MAX", "SLURM_ARRAY_TASK_STEP"} {
			n, err := number(name)
			if err != nil {
				return Shard{}, err
			}
			of[i] = n
		}
		id, low, high, step := of[0], of[1], of[2], of[3]
		if step < 1 || high < low || id < low || id > high || (id-low)%step != 0 {
			return Shard{}, fmt.Errorf("array: task %d of %d to %d by %d; an array such as 1-200 would do", id, low, high, step)
		}
		s := Shard{(id-low)/step + 1, (high-low)/step + 1}
		if n := environment("SLURM_ARRAY_TASK_COUNT"); n != "" && n != strconv.Itoa(s.Of) {
			return s, fmt.Errorf("array: %s tasks of %d to %d have gaps; submitting the whole array again would do (parts that are there are skipped)", n, low, high)
		}
		return checked(s, "array")
	case environment("JOB_COMPLETION_INDEX") != "":
		i, err := number("JOB_COMPLETION_INDEX")
		if err != nil {
			return Shard{}, err
		}
		of, err := number("JOB_COMPLETION_COUNT")
		if err != nil {
			return Shard{}, err
		}
		return checked(Shard{i + 1, of}, "array")
	}
	return Shard{}, errors.New("array: there is neither SLURM_ARRAY_TASK_ID nor JOB_COMPLETION_INDEX here; inside a job array, or 3/200, would do")
}
