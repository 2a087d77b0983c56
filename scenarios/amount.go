package scenarios

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// Amount is an exact quantity in millionths of a task's unit (kHz, degrees,
// feet, inches of mercury, …), so that 29.92 inHg is a whole number of steps of
// 0.01 inHg.
type Amount int64

// Unity is one whole unit.
const Unity Amount = 1_000_000

// mostUnits is the largest amount that is read, so that sums of a few and millionths
// of it are computed exactly.
const mostUnits = 1_000_000_000_000

// ErrTooLarge says that a number is beyond what is computed.
var ErrTooLarge = errors.New("beyond what is computed; a decimal number from -1000000000000 to 1000000000000 would do")

// ParseAmount reads a decimal number with at most six decimals.
func ParseAmount(s string) (Amount, error) {
	whole, frac, _ := strings.Cut(s, ".")
	neg := strings.HasPrefix(whole, "-")
	if frac == "" && strings.Contains(s, ".") || len(frac) > 6 || strings.Trim(frac, "0123456789") != "" {
		return 0, fmt.Errorf("%q is not a decimal number of at most six decimals", s)
	}
	w, err := strconv.ParseInt(whole, 10, 64)
	if errors.Is(err, strconv.ErrRange) || err == nil && (w > mostUnits || w < -mostUnits) {
		return 0, fmt.Errorf("%s: %w", Shown(s), ErrTooLarge)
	}
	if err != nil {
		return 0, fmt.Errorf("%q is not a decimal number of at most six decimals", s)
	}
	f, _ := strconv.ParseInt((frac + "000000")[:6], 10, 64)
	if neg {
		f = -f
	}
	return Amount(w)*Unity + Amount(f), nil
}

// String writes the amount with as few decimals as it needs.
func (a Amount) String() string {
	s := ""
	if a < 0 {
		s, a = "-", -a
	}
	s += strconv.FormatInt(int64(a/Unity), 10)
	if f := a % Unity; f != 0 {
		s += "." + strings.TrimRight(fmt.Sprintf("%06d", int64(f)), "0")
	}
	return s
}

// Float returns the amount as a number of units.
func (a Amount) Float() float64 { return float64(a) / float64(Unity) }
