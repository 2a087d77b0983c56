package file_test

import (
	"bytes"
	"reflect"
	"testing"

	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/file"
)

// A file that passes reads back from what is written of it, and from itself
// rewritten.
func FuzzWhatPassesReadsBack(f *testing.F) {
	for _, x := range faulty {
		f.Add([]byte(x.text))
	}
	f.Add([]byte(rigText))
	for _, kind := range file.Kinds {
		text, err := file.New(file.Template{Kind: kind})
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	for _, o := range scenarios.Operators() {
		text, err := file.Write(&o)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	for _, i := range demo.Tasks() {
		if text, err := file.Write(demo.Task(i.Name)); err == nil && len(text) < 2000 {
			f.Add(text)
		}
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		backAndForth(t, text, (*file.Loader).Rig)
		backAndForth(t, text, (*file.Loader).Profile)
		backAndForth(t, text, (*file.Loader).Task)
		backAndForth(t, text, (*file.Loader).Operator)
		backAndForth(t, text, (*file.Loader).Population)
	})
}

func backAndForth[T any](t *testing.T, text []byte, read func(*file.Loader, string) (*T, error)) {
	from := func(text []byte) (*T, error) {
		l := loader()
		l.In = bytes.NewReader(text)
		return read(l, "-")
	}
	want, err := from(text)
	if err != nil {
		return
	}
	written, err := file.Write(want)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := from(written); err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("written: %v\n%+v\nnot\n%+v\n%s", err, got, want, written)
	}
	again, err := file.Rewrite(text, want)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := from(again); err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("rewritten: %v\n%+v\nnot\n%+v\n%q", err, got, want, again)
	}
}
