package recording

import (
	"math/big"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestDecimalsAreExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[-+]?([0-9]{1,9}(\.[0-9]{0,9})?|\.[0-9]{1,9})([eE][-+]?[0-9]{1,2})?`).Draw(t, "number")
		places := rapid.IntRange(0, 9).Draw(t, "places")
		got, ok := decimal([]byte(text), places, false)

		r, valid := new(big.Rat).SetString(strings.Replace(strings.TrimPrefix(text, "+"), "-.", "-0.", 1))
		if !valid {
			t.Skip(text)
		}
		r.Mul(r, new(big.Rat).SetInt(new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(places)), nil)))
		half := big.NewRat(int64(r.Sign()), 2)
		r.Add(r, half)
		want := new(big.Int).Quo(r.Num(), r.Denom())
		if ok != want.IsInt64() || ok && got != want.Int64() {
			t.Fatalf("%s with %d places: %d, %v; want %v", text, places, got, ok, want)
		}
	})
	for _, text := range []string{"", "-", ".", "1.2.3", "1e", "1e+", "1e123", "0x1", "1 ", " 1", "NaN", "inf", "1,5", "1_000", "99999999999999999999"} {
		if n, ok := decimal([]byte(text), 0, false); ok {
			t.Errorf("%q is %d", text, n)
		}
	}
	if n, ok := decimal([]byte("1,5"), 1, true); !ok || n != 15 {
		t.Error("a decimal comma")
	}
	if n, ok := decimal([]byte("1332834952.780559"), 9, false); !ok || n != 1332834952780559000 {
		t.Error("seconds since 1970")
	}
}

// Source B15: linux/input-event-codes.h.
func TestCodesHaveTheNamesOfTheirHeader(t *testing.T) {
	for _, c := range []struct {
		typ, code uint16
		want      string
	}{
		{evRel, 7, "dial"}, {evRel, 8, "wheel"}, {evRel, 11, "wheel"}, {evRel, 6, "hwheel"}, {evRel, 12, "hwheel"}, {evRel, 0, "rel0"},
		{evKey, 30, "key30"}, {evKey, 0x100, "btn256"}, {evKey, 0x120, "btn288"}, {evKey, 0x160, "key352"}, {evKey, 0x2c0, "btn704"}, {evAbs, 40, "abs40"},
	} {
		if got := controlName(c.typ, c.code); got != c.want {
			t.Errorf("type %d code %d is %s, want %s", c.typ, c.code, got, c.want)
		}
	}
}

func TestAbilitiesAreReadFromTheirBits(t *testing.T) {
	var l Listed
	keys := make([]byte, 96)
	for _, code := range []int{30, 48, 0x120, 0x121, 0x122} {
		keys[code/8] |= 1 << (code % 8)
	}
	l.abilities(evKey, keys)
	l.abilities(evRel, []byte{0x80, 0x09}) // 7 dial, 8 wheel, 11 its units
	l.abilities(evAbs, []byte{1, 0, 0, 0, 0, 0x80, 1, 0})
	if l.Keys != 2 || l.Buttons != 3 || strings.Join(l.Turns, " ") != "dial wheel abs0" {
		t.Errorf("%+v", l)
	}
}
