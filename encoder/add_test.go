package encoder

import (
	"reflect"
	"testing"
)

// Adding accounts adds every number of them.
func TestAddAddsEveryNumber(t *testing.T) {
	var a, b Account
	next := int64(0)
	var fill func(x, y reflect.Value)
	fill = func(x, y reflect.Value) {
		for i := range x.NumField() {
			if x.Field(i).Kind() == reflect.Struct {
				fill(x.Field(i), y.Field(i))
				continue
			}
			next++
			x.Field(i).SetInt(next)
			y.Field(i).SetInt(1000 * next)
		}
	}
	fill(reflect.ValueOf(&a).Elem(), reflect.ValueOf(&b).Elem())
	a.Add(b)
	next = 0
	var check func(x reflect.Value, path string)
	check = func(x reflect.Value, path string) {
		for i := range x.NumField() {
			name := path + x.Type().Field(i).Name
			if x.Field(i).Kind() == reflect.Struct {
				check(x.Field(i), name+".")
				continue
			}
			if next++; x.Field(i).Int() != 1001*next {
				t.Errorf("%s is %d, want %d", name, x.Field(i).Int(), 1001*next)
			}
		}
	}
	check(reflect.ValueOf(&a).Elem(), "")
}
