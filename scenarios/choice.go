package scenarios

import (
	"fmt"

	"dialwright/encoder"
)

// mostChoices is how many values one adjustable setting may have.
const mostChoices = 1000

// Choices returns the values that a setting may take, as they are written in a
// rig file: From, From+By, … up to To, or the list. An error is a Faults of the
// fields key, from, to, by and list positions, under the key.
func (r Range) Choices() ([]string, error) {
	k, ok := keyed(r.Key)
	if !ok {
		return nil, Faults{noKey(r.Key)}
	}
	var faults Faults
	try := func(field, value string) {
		scratch := encoder.Default()
		if f := k.set(&scratch, value); f != nil {
			faults = append(faults, f.under(r.Key+field))
		}
	}
	if r.Values != nil {
		for i, v := range r.Values {
			try(fmt.Sprintf("[%d]", i), v)
		}
		if len(r.Values) == 0 {
			faults = append(faults, Fault{r.Key, "an empty list", "one value or more would do"})
		}
		return r.Values, faults.err()
	}
	if k.Quantity >= Switch {
		return nil, Faults{{r.Key, "has no from and to", "a list such as [" + k.Example() + "] would do"}}
	}
	try(".from", r.From)
	try(".to", r.To)
	var n [3]int64
	for i, s := range []string{r.From, r.To, r.By} {
		var err error
		if n[i], err = k.Quantity.Exact(s); err != nil && len(faults) == 0 {
			faults = append(faults, err.(Fault).under(r.Key+[]string{".from", ".to", ".by"}[i]))
		}
	}
	from, to, by := n[0], n[1], n[2]
	switch {
	case len(faults) > 0:
	case by <= 0:
		faults = append(faults, Fault{r.Key + ".by", Shown(r.By) + " leads nowhere", "a step above 0 would do"})
	case from > to:
		faults = append(faults, Fault{r.Key + ".to", Shown(r.To) + " is below from, " + Shown(r.From), "from the smaller to the larger would do"})
	case (to-from)/by >= mostChoices:
		faults = append(faults, Fault{r.Key + ".by", fmt.Sprintf("%s makes %d values", Shown(r.By), (to-from)/by+1), fmt.Sprintf("a step that makes at most %d would do", mostChoices)})
	}
	if len(faults) > 0 {
		return nil, faults
	}
	var list []string
	for v := from; v <= to; v += by {
		list = append(list, k.Quantity.ExactText(v))
	}
	return list, nil
}

// Number returns the size of a key's value: nanoseconds, a rate per second, a
// share of 1, a whole number. It returns false for words, switches, none and
// what the key does not take.
func Number(key, value string) (float64, bool) {
	k, ok := keyed(key)
	if !ok || k.Quantity >= Switch || value == none {
		return 0, false
	}
	v, err := k.Quantity.Parse(value)
	return v, err == nil
}
