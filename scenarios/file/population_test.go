package file_test

import (
	"bytes"
	"reflect"
	"testing"

	"dialwright/scenarios/demo"
	"dialwright/scenarios/file"
)

// What is written of a population reads back to the same one.
func TestAPopulationReadsBack(t *testing.T) {
	text, err := file.New(file.Template{Kind: "population"})
	if err != nil {
		t.Fatal(err)
	}
	for _, text := range [][]byte{text, demo.Text("households")} {
		l := loader()
		l.In = bytes.NewReader(text)
		want, err := l.Population("-")
		if err != nil {
			t.Fatal(err)
		}
		written, err := file.Write(want)
		if err != nil {
			t.Fatal(err)
		}
		l = loader()
		l.In = bytes.NewReader(written)
		got, err := l.Population("-")
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%v\n%s\nreads back as\n%+v, want\n%+v", err, written, got, want)
		}
	}
}
