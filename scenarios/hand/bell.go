package hand

import "math"

// The normal distribution in integers, for plans: bell[k] is Φ(k/32) in 1/65536.
var bell = func() (t [128]int32) {
	for k := range t {
		t[k] = int32(math.Round(65536 * (1 + math.Erf(float64(k)/32/math.Sqrt2)) / 2))
	}
	return t
}()

// below returns the probability, in 1/65536, that a normal deviate with standard
// deviation sd is below x. With sd 0 it is 1 from x = 0 up.
func below(x, sd int64) int64 {
	switch {
	case x < 0:
		return 65536 - below(-x, sd)
	case x >= 4*sd-sd/32:
		return 65536
	}
	return int64(bell[x*32/sd])
}
