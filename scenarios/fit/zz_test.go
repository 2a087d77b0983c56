package fit

import (
	"math"
	"testing"
)

func TestZZ(t *testing.T) {
	for n := 4; n < 6; n++ {
		o := somebody(uint64(n))
		d := sitting(t, o, 40, uint64(n))
		r := &refit{from: (&Study{}).start()}
		r.take(d, 1)
		all := make([]int, len(r.real))
		for i := range all {
			all[i] = i
		}
		e, err := r.claimed(t.Context(), all)
		if err == nil {
			continue
		}
		t.Logf("sitting %d: %v", n, err)
		for _, x := range r.traits {
			t.Logf("%s truth log %.2f", x.key, math.Log(x.read(o)/x.read(&r.from)))
		}
		_ = e
		t.Logf("at %.2f", r.at)
		free, logs := make([]int, len(r.traits)), make([]float64, len(r.traits))
		for k := range free {
			free[k] = k
		}
		for range 4 {
			_ = r.spread(t.Context(), logs)
			_ = r.slope(t.Context(), logs)
			e, err := r.find(t.Context(), all, free, logs)
			if err != nil {
				t.Fatal(err)
			}
			logs = e.logs
			t.Logf("%.2f", logs)
			s := []float64{}
			for j := range free {
				s = append(s, e.sd(j, r.times))
			}
			t.Logf("sd %.2f", s)
		}
		break
	}
}
