package scenarios

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Quantity is what kind of value a key takes and how it is written.
type Quantity uint8

// The quantities.
const (
	Time         Quantity = iota // 20ms; ns, us, ms, s
	Rate                         // 30/s
	Share                        // 10%
	Fraction                     // 0.25
	Whole                        // 8
	Angle                        // 15deg
	AngularSpeed                 // 75deg/s
	Switch                       // true, false
	Word                         // one of a few
)

// forms says for each quantity with a unit what it is called, its units with
// their size in the quantity's own unit as a power of ten, and an example.
var forms = [...]struct {
	name    string
	units   []string
	powers  []int
	example string
}{
	Time:         {"a time", []string{"ns", "us", "ms", "s", "µs", "μs"}, []int{0, 3, 6, 9, 3, 3}, "20ms"},
	Rate:         {"a rate", []string{"/s"}, []int{0}, "30/s"},
	Share:        {"a share", []string{"%"}, []int{-2}, "10%"},
	Fraction:     {"a number", []string{""}, []int{0}, "0.25"},
	Whole:        {"a whole number", []string{""}, []int{0}, "8"},
	Angle:        {"an angle", []string{"deg"}, []int{0}, "15deg"},
	AngularSpeed: {"an angular speed", []string{"deg/s"}, []int{0}, "75deg/s"},
	Switch:       {name: "a switch", example: "true"},
	Word:         {name: "a word"},
}

// String returns what the quantity is called, with its article: "a time".
func (q Quantity) String() string { return forms[q].name }

// Units returns the units that the quantity may be written in.
func (q Quantity) Units() []string { return forms[q].units }

// Parse reads a quantity: a time in nanoseconds, a rate per second, a share of
// 1, a whole number, degrees or degrees per second. An error is a Fault without
// a field that says what would do.
func (q Quantity) Parse(s string) (float64, error) {
	digits, power, err := q.split(s)
	if err != nil {
		return 0, err
	}
	v, _ := strconv.ParseFloat(digits+"e"+strconv.Itoa(power), 64)
	if math.IsInf(v, 0) {
		return 0, Fault{Found: Shown(s) + " is beyond any " + strings.SplitN(forms[q].name, " ", 2)[1], Would: q.such()}
	}
	if v == 0 {
		return 0, nil // -0 is no number that a file writes
	}
	return v, nil
}

// Exact reads a quantity as a whole number of nanoseconds, of ones for a whole
// number, of millionths for the others. An error is a Fault without a field.
func (q Quantity) Exact(s string) (int64, error) {
	digits, power, err := q.split(s)
	if err != nil {
		return 0, err
	}
	least := "a billionth of a second"
	switch q {
	case Time:
	case Whole:
		least = "one"
	default:
		least = "a millionth"
		power += 6
	}
	whole, frac, _ := strings.Cut(digits, ".")
	frac = strings.TrimRight(frac, "0")
	if power < 0 || len(frac) > power {
		return 0, Fault{Found: Shown(s) + " is finer than " + least, Would: q.such()}
	}
	n, err := strconv.ParseInt(whole+frac+strings.Repeat("0", power-len(frac)), 10, 64)
	if err != nil {
		return 0, Fault{Found: Shown(s) + " is too large", Would: q.such()}
	}
	return n, nil
}

// split takes a quantity apart: its digits and the power of ten of its unit.
func (q Quantity) split(s string) (digits string, power int, err error) {
	form := forms[q]
	i := 0
	for i < len(s) && strings.IndexByte("+-.0123456789", s[i]) >= 0 {
		i++
	}
	digits, unit := s[:i], strings.TrimPrefix(s[i:], " ")
	if !decimal(digits) {
		found := " is not " + form.name
		if word := strings.ToLower(strings.TrimLeft(s, "+-.")); word == "nan" || strings.HasPrefix(word, "inf") {
			found = " is not a number"
		}
		return "", 0, Fault{Found: Shown(s) + found, Would: q.such()}
	}
	k := slices.Index(form.units, unit)
	switch {
	case q == Fraction && exponent(unit): // as other programs write JSON
		power, _ = strconv.Atoi(strings.TrimPrefix(unit[1:], "+"))
		return digits, power, nil
	case k >= 0 && q == Whole && strings.Contains(digits, "."):
		return "", 0, Fault{Found: Shown(s) + " is not a whole number", Would: q.such()}
	case k >= 0:
		return digits, form.powers[k], nil
	case exponent(strings.TrimRight(unit, "abcdefghijklmnopqrstuvwxyz/%")):
		return "", 0, Fault{Found: Shown(s) + " has an exponent", Would: q.such()}
	case unit == "":
		example := strings.TrimLeft(form.example, "0123456789")
		return "", 0, Fault{Found: Shown(s) + " has no unit", Would: Shown(digits+example) + " would do"}
	case form.units[0] == "":
		return "", 0, Fault{Found: Shown(s) + " has the unit " + Shown(unit), Would: form.name + " without a unit would do, such as " + form.example}
	}
	units := form.units[:min(len(form.units), 4)]
	list := strings.Join(units, ", ")
	if n := len(units) - 1; n > 0 {
		list = strings.Join(units[:n], ", ") + " or " + units[n]
	}
	return "", 0, Fault{Found: Shown(s) + " has the unit " + Shown(unit), Would: form.name + " in " + list + " would do, such as " + form.example}
}

// such says what would do.
func (q Quantity) such() string { return forms[q].name + " such as " + forms[q].example + " would do" }

// exponent reports whether s is a power of ten such as e3 or E-07.
func exponent(s string) bool {
	digits := strings.TrimLeft(strings.TrimLeft(s, "eE"), "+-")
	return len(s) > 1 && (s[0] == 'e' || s[0] == 'E') && len(s)-len(digits) <= 2 && digits != "" && len(digits) <= 3 && strings.Trim(digits, "0123456789") == ""
}

// decimal reports whether s is digits with at most one point among them and
// perhaps a minus before them.
func decimal(s string) bool {
	whole, frac, point := strings.Cut(strings.TrimPrefix(s, "-"), ".")
	all := func(d string) bool { return d != "" && strings.Trim(d, "0123456789") == "" }
	return all(whole) && (!point || all(frac))
}

// Text writes a value as Parse reads it: the same number, to the last bit, in
// as few digits as that takes.
func (q Quantity) Text(v float64) string {
	switch q {
	case Time:
		return TimeText(time.Duration(v))
	case Share:
		return shifted(v, 2) + "%"
	case Whole:
		return strconv.FormatFloat(v, 'f', 0, 64)
	}
	return shifted(v, 0) + forms[q].units[0]
}

// ExactText writes what Exact reads.
func (q Quantity) ExactText(n int64) string {
	switch q {
	case Time:
		return TimeText(time.Duration(n))
	case Whole:
		return strconv.FormatInt(n, 10)
	case Share:
		return Amount(n*100).String() + "%"
	}
	return Amount(n).String() + forms[q].units[0]
}

// shifted writes v·10^places in plain decimals. The digits are those of v
// itself, so that reading them back and dividing gives v again.
func shifted(v float64, places int) string {
	if v == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return strconv.FormatFloat(v+0, 'f', -1, 64)
	}
	s := strconv.FormatFloat(v, 'e', -1, 64)
	mantissa, exponent, _ := strings.Cut(s, "e")
	e, _ := strconv.Atoi(exponent)
	e += places
	sign := ""
	if mantissa[0] == '-' {
		sign, mantissa = "-", mantissa[1:]
	}
	digits := strings.Replace(mantissa, ".", "", 1)
	switch {
	case e < 0:
		return sign + "0." + strings.Repeat("0", -e-1) + digits
	case e >= len(digits)-1:
		return sign + digits + strings.Repeat("0", e-len(digits)+1)
	}
	return sign + digits[:e+1] + "." + digits[e+1:]
}

// ParseTime reads a time such as 20ms, to the nanosecond.
func ParseTime(s string) (time.Duration, error) {
	n, err := Time.Exact(s)
	return time.Duration(n), err
}

// Spoken writes a time as it stands in a sentence: 30 ms.
func Spoken(d time.Duration) string { return spaced(TimeText(d)) }

// spaced sets the unit of a time apart from its number; anything else it leaves.
func spaced(text string) string {
	number := strings.TrimRight(text, "nums")
	switch unit := text[len(number):]; {
	case unit == "" || number == "" || strings.ContainsFunc(number, func(r rune) bool { return r != '-' && r != '.' && (r < '0' || r > '9') }):
		return text
	case unit == "us":
		return number + " µs"
	default:
		return number + " " + unit
	}
}

// TimeText writes a time in the unit that a reader expects: whole seconds in s,
// milliseconds, then us and ns for what is shorter.
func TimeText(d time.Duration) string {
	size := max(d, -d)
	switch {
	case d == 0:
		return "0ms"
	case d%time.Second == 0:
		return strconv.FormatInt(int64(d/time.Second), 10) + "s"
	case size >= time.Millisecond:
		return Amount(d).String() + "ms" // a nanosecond is a millionth of it
	case size >= time.Microsecond:
		return Amount(1000*d).String() + "us"
	}
	return strconv.FormatInt(int64(d), 10) + "ns"
}
