package survey

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"dialwright/scenarios"
	"dialwright/scenarios/file"
	"dialwright/scenarios/sample"
)

// Shard is one of so many parts of a survey, counted from 1.
type Shard struct{ I, Of int }

// Whole is a survey in one part.
var Whole = Shard{1, 1}

// String returns it as --shard takes it: 3/200.
func (s Shard) String() string { return fmt.Sprintf("%d/%d", s.I, s.Of) }

// members returns which members are the shard's: from first to before last of so many.
func (s Shard) members(of int) (first, last int) {
	return of * (s.I - 1) / s.Of, of * s.I / s.Of
}

// Header says what a part is a part of.
type Header struct {
	Format     int                `json:"format"`
	Version    string             `json:"version"` // of the program
	Digest     string             `json:"digest"`  // SHA-256 over everything that results depend on
	Inputs     []file.Input       `json:"inputs"`
	Population string             `json:"population"`
	Seed       uint64             `json:"seed"`
	Members    int                `json:"members"` // of the whole survey
	Trials     int                `json:"trials"`  // a member and candidate
	Caps       Caps               `json:"caps"`
	Candidates []string           `json:"candidates"`
	Keys       []scenarios.Varied `json:"keys"`
	Of         int                `json:"of"`     // parts
	Shards     [][2]int           `json:"shards"` // runs of parts that are in here, from 1, first and last
}

// format is the number of the form in which parts are written.
const format = 1

// Caps are what a candidate must keep to on a member's rig. Shares are 0 to 1.
type Caps struct {
	Overshoot float64 `json:"overshoot_share"` // of trials
	Lost      float64 `json:"lost_share"`      // of detents
}

// Part is what some members of a population came to. Everything in it that is added
// up is whole numbers, so parts merge to the same bytes in any order and grouping.
type Part struct {
	Header
	members []member // those of the shards, in the order of their numbers
	totals  []Total  // by candidate
	Partial bool     // interrupted: some members are not done
}

// member is a member and what each candidate came to on its rig.
type member struct {
	done  bool
	dead  bool     // its rig cannot be dialed on: no candidate counts
	stays uint64   // bit i: candidate i cannot be set on its rig, which stays plain
	at    []int64  // see scenarios.Member
	of    []record // by candidate
}

// record is the trials of a member with a candidate.
type record struct {
	time                              sample.Sum // ns, a timeout as its limit
	timeouts, overshot, detents, lost uint64     // detents with a fate
}

// Total is all trials with a candidate.
type Total struct {
	Trials        uint64
	Time, Squares sample.Sum       // ns, ns²; a timeout as its limit
	Times         sample.Histogram // ns; a timeout as Beyond
}

// Beyond stands for a timeout in Total.Times: longer than any limit.
const Beyond = 1 << 62

func (t *Total) merge(o *Total) {
	t.Trials += o.Trials
	t.Time.Merge(o.Time)
	t.Squares.Merge(o.Squares)
	t.Times.Merge(&o.Times)
}

// magic begins every part.
const magic = "dialwright survey part\n"

// Encode returns the part as a file: a line that says what it is, a line of JSON, the
// numbers as varints, and the SHA-256 of all before it.
func (p *Part) Encode() ([]byte, error) {
	head, err := json.Marshal(p.Header)
	if err != nil {
		return nil, err
	}
	out := append(append([]byte(magic), head...), '\n')
	put := func(xs ...uint64) {
		for _, x := range xs {
			out = binary.AppendUvarint(out, x)
		}
	}
	for i := range p.members {
		m := &p.members[i]
		if m.dead {
			put(1)
		} else {
			put(0)
		}
		put(m.stays)
		for _, at := range m.at {
			out = binary.AppendVarint(out, at)
		}
		for _, r := range m.of {
			put(r.time.High, r.time.Low, r.timeouts, r.overshot, r.detents, r.lost)
		}
	}
	for i := range p.totals {
		t := &p.totals[i]
		put(t.Trials, t.Time.High, t.Time.Low, t.Squares.High, t.Squares.Low)
		bins, before := 0, 0
		for range t.Times.Bins() {
			bins++
		}
		put(uint64(bins))
		for bin, n := range t.Times.Bins() {
			put(uint64(bin-before), n)
			before = bin
		}
	}
	sum := sha256.Sum256(out)
	return append(out, sum[:]...), nil
}

var (
	// errForeign is what is wrong with a file that is no part.
	errForeign = errors.New("this is no part of a survey; dialwright survey --shard writes one")
	// ErrCut is what is wrong with a part that is not whole.
	ErrCut = errors.New("the part is cut short or damaged; doing its shard again would do")
)

// Decode reads a part.
func Decode(text []byte) (*Part, error) {
	if !bytes.HasPrefix(text, []byte(magic)) {
		if len(text) > 0 && strings.HasPrefix(magic, string(text)) {
			return nil, ErrCut
		}
		return nil, errForeign
	}
	head, rest, ok := bytes.Cut(text[len(magic):], []byte("\n"))
	p := &Part{}
	var form struct {
		Format  int    `json:"format"`
		Version string `json:"version"`
	}
	if !ok || json.Unmarshal(head, &form) != nil {
		return nil, ErrCut
	}
	if form.Format > format {
		return nil, fmt.Errorf("written by a newer dialwright (%s, form %d); this one reads form %d", scenarios.Shown(form.Version), form.Format, format)
	}
	if len(rest) < sha256.Size {
		return nil, ErrCut
	}
	end := len(text) - sha256.Size
	if sum := sha256.Sum256(text[:end]); !bytes.Equal(sum[:], text[end:]) {
		return nil, ErrCut
	}
	if json.Unmarshal(head, &p.Header) != nil || !p.Header.sound() {
		return nil, ErrCut
	}
	in := numbers{rest[:len(rest)-sha256.Size], true}
	p.numbers(&in)
	if !in.good || len(in.left) > 0 {
		return nil, ErrCut
	}
	return p, nil
}

// sound says whether a header's numbers can be.
func (h *Header) sound() bool {
	if h.Format != format || h.Members < 1 || h.Members > MostMembers || h.Trials < 1 || h.Of < 1 || h.Of > MostShards || len(h.Candidates) < 1 || len(h.Candidates) > scenarios.MostCandidates || len(h.Keys) > 1000 {
		return false
	}
	before := 0
	for _, s := range h.Shards {
		if s[0] <= before || s[1] < s[0] || s[1] > h.Of {
			return false
		}
		before = s[1]
	}
	return true
}

// numbers reads varints until one cannot be read.
type numbers struct {
	left []byte
	good bool
}

func (n *numbers) next() uint64 {
	x, size := binary.Uvarint(n.left)
	return after(n, x, size)
}

func (n *numbers) signed() int64 {
	x, size := binary.Varint(n.left)
	return after(n, x, size)
}

func after[T any](n *numbers, x T, size int) (read T) {
	if size <= 0 {
		n.good, n.left = false, nil
		return read
	}
	n.left = n.left[size:]
	return x
}

func (n *numbers) sum() sample.Sum { return sample.Sum{High: n.next(), Low: n.next()} }

// numbers reads the part's numbers.
func (p *Part) numbers(in *numbers) {
	here := 0
	for _, s := range p.Shards {
		first, _ := Shard{s[0], p.Of}.members(p.Members)
		_, last := Shard{s[1], p.Of}.members(p.Members)
		here += last - first
	}
	if here > len(in.left) { // each takes some bytes
		in.good = false
		return
	}
	p.members = make([]member, here)
	for i := range p.members {
		m := &p.members[i]
		m.done, m.dead, m.stays = true, in.next() == 1, in.next()
		m.at, m.of = make([]int64, len(p.Keys)), make([]record, len(p.Candidates))
		for k := range m.at {
			m.at[k] = in.signed()
			if v := &p.Keys[k]; v.Listed() && m.at[k] != scenarios.NotUsed && (m.at[k] < 0 || m.at[k] >= int64(len(v.Values))) {
				in.good = false
			}
		}
		for c := range m.of {
			m.of[c] = record{in.sum(), in.next(), in.next(), in.next(), in.next()}
		}
		if !in.good {
			return
		}
	}
	p.totals = make([]Total, len(p.Candidates))
	for i := range p.totals {
		t := &p.totals[i]
		*t = Total{Trials: in.next(), Time: in.sum(), Squares: in.sum()}
		bin := uint64(0)
		for n := in.next(); n > 0 && in.good; n-- {
			bin += in.next()
			in.good = in.good && bin < math.MaxInt32 && t.Times.Refill(int(bin), in.next())
		}
	}
}

// Complete says whether a part is the whole survey.
func (p *Part) Complete() bool {
	return len(p.Shards) == 1 && p.Shards[0] == [2]int{1, p.Of}
}

// Named is a part and the file that it was read from.
type Named struct {
	*Part
	Name string
}

// Merge makes one part of several, which are not changed. An error has a line for each
// part that does not belong to the first, and for each that is there twice.
func Merge(parts []Named) (*Part, error) {
	var faults []error
	first := parts[0]
	type run struct {
		first, last int
		part        Named
		from        int // of its members
	}
	var runs []run
	for _, p := range parts {
		if why := first.unlike(&p.Header); why != "" {
			faults = append(faults, fmt.Errorf("%s: does not belong to %s: %s", p.Name, first.Name, why))
			continue
		}
		from := 0
		for _, s := range p.Shards {
			runs = append(runs, run{s[0], s[1], p, from})
			a, _ := Shard{s[0], p.Of}.members(p.Members)
			_, z := Shard{s[1], p.Of}.members(p.Members)
			from += z - a
		}
	}
	slices.SortStableFunc(runs, func(a, b run) int { return a.first - b.first })
	merged := &Part{Header: first.Header, totals: make([]Total, len(first.Candidates))}
	merged.Shards = nil
	for i, r := range runs {
		if i == 0 {
			merged.Inputs = r.part.Inputs // whatever the order
		} else if before := runs[i-1]; r.first <= before.last {
			faults = append(faults, fmt.Errorf("%s: shard %s is in %s as well", r.part.Name, Shard{r.first, first.Of}, before.part.Name))
			continue
		}
		a, _ := Shard{r.first, first.Of}.members(first.Members)
		_, z := Shard{r.last, first.Of}.members(first.Members)
		merged.members = append(merged.members, r.part.members[r.from:r.from+z-a]...)
		if n := len(merged.Shards); n > 0 && merged.Shards[n-1][1] == r.first-1 {
			merged.Shards[n-1][1] = r.last
		} else {
			merged.Shards = append(merged.Shards, [2]int{r.first, r.last})
		}
	}
	if faults != nil {
		return nil, errors.Join(faults...)
	}
	for _, p := range parts {
		for c := range merged.totals {
			merged.totals[c].merge(&p.totals[c])
		}
	}
	if merged.Complete() {
		merged.Of, merged.Shards = 1, [][2]int{{1, 1}}
	}
	return merged, nil
}

// Missing says which parts there are not yet, nil when the survey is complete.
func (p *Part) Missing() error {
	var gaps []string
	next := 1
	gap := func(to int) {
		switch {
		case next == to:
			gaps = append(gaps, fmt.Sprint(next))
		case next < to:
			gaps = append(gaps, fmt.Sprintf("%d–%d", next, to))
		}
	}
	for _, s := range p.Shards {
		gap(s[0] - 1)
		next = s[1] + 1
	}
	gap(p.Of)
	if gaps == nil {
		return nil
	}
	return fmt.Errorf("of %d shards these are missing: %s", p.Of, strings.Join(gaps, ", "))
}

// unlike says in what another part's survey differs, "" when it is the same.
func (h *Header) unlike(o *Header) string {
	for _, x := range []struct {
		what        string
		here, there any
	}{
		{"made by dialwright", h.Version, o.Version}, {"seed", h.Seed, o.Seed}, {"population", h.Population, o.Population}, {"members", h.Members, o.Members},
		{"trials", h.Trials, o.Trials}, {"caps", h.Caps, o.Caps}, {"candidates", strings.Join(h.Candidates, ", "), strings.Join(o.Candidates, ", ")}, {"parts", h.Of, o.Of},
	} {
		if x.here != x.there {
			return fmt.Sprintf("%s %v, there %v", x.what, x.there, x.here)
		}
	}
	if h.Digest != o.Digest {
		return "what its files say is not the same"
	}
	return ""
}

// largest is the longest part that is read, bytes: what it comes to in memory is some
// four times as much.
const largest = 1 << 30

// Load reads a part from a file.
func Load(ctx context.Context, path string) (*Part, error) {
	f, err := file.Open(ctx, path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var text []byte
	if e := file.Aside(ctx, func() error { text, err = read(f); return nil }); e != nil {
		return nil, e
	}
	if err != nil {
		return nil, err
	}
	p, err := Decode(text)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return p, nil
}

// read reads what may be a part, and no more than the beginning of what is none.
func read(f io.Reader) ([]byte, error) {
	text := make([]byte, len(magic))
	n, err := io.ReadFull(f, text)
	if text = text[:n]; err != nil || string(text) != magic {
		if err == io.EOF || err == io.ErrUnexpectedEOF {
			err = nil
		}
		return text, err
	}
	rest, err := io.ReadAll(io.LimitReader(f, largest+1))
	if len(rest) > largest {
		return nil, fmt.Errorf("longer than %d MiB; more parts of fewer members would do", largest>>20)
	}
	return append(text, rest...), err
}

// PartName is what a part's file is called where nobody gives it a name: with zeros in
// front, so that the parts of a survey are listed in their order.
func PartName(s Shard) string {
	return fmt.Sprintf("survey-%0*d-of-%d.part", len(fmt.Sprint(s.Of)), s.I, s.Of)
}

// Settled says whether a part that is there already is this shard of this survey. An
// error says what else it is.
func (p *Part) Settled(h *Header, s Shard) error {
	if why := h.unlike(&p.Header); why != "" {
		return errors.New(why)
	}
	if want := [][2]int{{s.I, s.I}}; !slices.Equal(p.Shards, want) {
		return fmt.Errorf("it is not shard %s", s)
	}
	return nil
}

// digest is over everything that results depend on.
func digest(p *scenarios.Population, h *Header) (string, error) {
	sum := sha256.New()
	add := func(things ...any) error {
		for _, x := range things {
			text, err := file.Write(x)
			if err != nil {
				return err
			}
			sum.Write(text)
		}
		return nil
	}
	err := add(p)
	for _, x := range p.Rigs {
		err = errors.Join(err, add(x.Of))
	}
	for _, x := range p.Operators {
		err = errors.Join(err, add(x.Of))
	}
	for _, x := range p.Dialed {
		for _, u := range x.Of.Served() {
			fmt.Fprintln(sum, u.Knob.Name, u.Knob.Rings, u.PerHour, u.Others)
			err = errors.Join(err, add(u.Task))
		}
	}
	for _, x := range p.Profiles {
		err = errors.Join(err, add(x))
	}
	fmt.Fprintln(sum, h.Seed, h.Members, h.Trials, h.Caps)
	return hex.EncodeToString(sum.Sum(nil)), err
}
