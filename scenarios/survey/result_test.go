package survey

import (
	"fmt"
	"testing"

	"dialwright/scenarios"
)

// made returns a part whose members have these values of some keys, and with two
// candidates the times that times says.
func made(keys []scenarios.Varied, members int, at func(i int) []int64, times func(i int) [2]float64) *Part {
	p := &Part{Header: Header{Members: members, Trials: 1, Candidates: []string{"a", "b"}, Keys: keys, Population: "made up", Shards: [][2]int{{1, 1}}, Of: 1}, totals: make([]Total, 2)}
	for i := range members {
		m := member{done: true, at: at(i), of: make([]record, 2)}
		for c, s := range times(i) {
			m.of[c].time.Add(uint64(s * 1e9))
		}
		p.members = append(p.members, m)
	}
	return p
}

// A range is divided into fifths of the members, but equal values stay together and few
// values are parts of their own; whoever does not use a key is in none.
func TestRangesAreFifthsOfTheMembers(t *testing.T) {
	keys := []scenarios.Varied{
		{Key: "firmware.pulse", From: "1ms", To: "200ms"},
		{Key: "firmware.gap", From: "1ms", To: "200ms"},
		{Key: "firmware.debounce", From: "1", To: "3"},
		{Key: "usb.poll", Values: []scenarios.Weighted[string]{{Of: "1ms"}, {Of: "8ms"}}},
	}
	p := made(keys, 100, func(i int) []int64 {
		gap := int64(i+1) * 1e6
		if i >= 15 && i < 30 {
			gap = 20e6
		}
		poll := int64(i % 2)
		if i < 10 {
			poll = scenarios.NotUsed
		}
		return []int64{int64(i+1) * 1e6, gap, int64(1 + i%3), poll}
	}, func(i int) [2]float64 { return [2]float64{float64(5 + i%4), float64(6 + i%3)} })
	r, err := Sum(p)
	if err != nil {
		t.Fatal(err)
	}
	want := []string{
		"firmware.pulse: below 21ms 20, 21ms to 41ms 20, 41ms to 61ms 20, 61ms to 81ms 20, 81ms and more 20",
		"firmware.gap: below 31ms 30, 31ms to 41ms 10, 41ms to 61ms 20, 61ms to 81ms 20, 81ms and more 20",
		"firmware.debounce: 1 34, 2 33, 3 33",
		"usb.poll: 1ms 45, 8ms 45",
	}
	for i, k := range r.Keys {
		got := k.Key + ":"
		for j, g := range k.Ranges {
			if j > 0 {
				got += ","
			}
			got += fmt.Sprintf(" %s %d", g.Name, g.Members)
		}
		if got != want[i] {
			t.Errorf("%s\nwant\n%s", got, want[i])
		}
	}
}

// What costs the population most is told first: how much is lost, times how many lose.
func TestLossesAreToldByWhatTheyCost(t *testing.T) {
	two := []scenarios.Weighted[string]{{Of: "true"}, {Of: "false"}}
	keys := []scenarios.Varied{{Key: "few", Values: two}, {Key: "many", Values: two}, {Key: "none", Values: two}}
	bit := func(is bool) int64 {
		if is {
			return 1
		}
		return 0
	}
	p := made(keys, 400, func(i int) []int64 { return []int64{bit(i < 40), bit(i%2 == 0), bit(i%7 == 0)} }, func(i int) [2]float64 {
		a, b := 5.0, 9+float64(i%5)/10
		if i < 40 {
			a += 6 // a loses 2 to b
		}
		if i%2 == 0 {
			b -= 5 // and 1 in every second member
		}
		return [2]float64{a, b}
	})
	r, err := Sum(p)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Losses) != 2 || r.Losses[0].Key != "many" || r.Losses[1].Key != "few" || r.Candidates[r.Ranking[0]].Name != "a" {
		t.Fatalf("%+v, %+v", r.Losses, r.Ranking)
	}
	if got, want := r.lost(r.Losses[1]), "where few is false (10 % of members) a loses to b by 4.3 s (3.5 to 5.1)"; got[:60] != want[:60] {
		t.Errorf("%s\nwant\n%s", got, want)
	}
}
