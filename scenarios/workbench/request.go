package workbench

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strings"
	"sync"
	"time"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/file"
)

// Request is a study that a page asks for, as the command line would: the command's
// name, its arguments, the values of its flags, and the text of the files that these
// name. A flag that may be repeated has a list.
type Request struct {
	Study string                     `json:"study"`
	Args  []string                   `json:"args"`
	Flags map[string]json.RawMessage `json:"flags"`
	Files map[string]string          `json:"files"`
}

// Answer is what a study came to, for a page.
type Answer struct {
	JSON    string            `json:"json"`              // the bytes of --format json; empty for what is text alone
	Text    string            `json:"text,omitempty"`    // what export, show and report write
	Files   map[string]string `json:"files,omitempty"`   // what flags such as --write would write, by the names they give
	Figures map[string]string `json:"figures,omitempty"` // SVG by name
}

// Bounds of a request; ours.
const (
	MostBytes  = 64 << 20 // of a request as JSON: room for a recording of a million clicks
	mostFiles  = 100
	mostAsked  = 100     // arguments, and values of a flag
	askMemory  = 1 << 30 // bytes of samples; half of what a browser gives a page
	figureWide = 720     // CSS pixels, as report --figures draws them
	often      = 50 * time.Millisecond
)

// studies are what can be asked for.
var studies = map[string]func(file.Loader) Study{
	"compare":   func(l file.Loader) Study { return NewCompare(l) },
	"explain":   func(l file.Loader) Study { return NewExplain(l) },
	"overshoot": func(l file.Loader) Study { return NewOvershoot(l) },
	"tune":      func(l file.Loader) Study { return NewTune(l) },
	"fit":       func(l file.Loader) Study { return NewFit(l) },
	"follow":    func(l file.Loader) Study { return NewFollow(l) },
	"export":    func(l file.Loader) Study { return NewExport(l) },
	"report":    func(l file.Loader) Study { return NewReport(l) },
	"check":     func(l file.Loader) Study { return NewCheck(l) },
	"show":      func(l file.Loader) Study { return NewShow(l) },
	"desk":      func(l file.Loader) Study { return NewDesk(l) },
	"list":      func(l file.Loader) Study { return NewList(l) },
}

// Commands returns every study that the command line asks as it is, anew: what was
// asked of one before is not asked again.
func Commands(l func() file.Loader) (all []Commanded) {
	for _, word := range slices.Sorted(maps.Keys(studies)) {
		if c, ok := studies[word](l()).(Commanded); ok {
			all = append(all, c)
		}
	}
	return all
}

// Ask answers a request. It reads no disk and writes to none. A run that the context
// ends has no answer, only the context's error.
func Ask(ctx context.Context, r *Request, at Progress) (*Answer, error) {
	make, ok := studies[r.Study]
	if !ok {
		return nil, fmt.Errorf("study: there is no %s; %s would do", scenarios.Shown(r.Study), columns.Either(slices.Sorted(maps.Keys(studies))))
	}
	texts, err := r.texts()
	if err != nil {
		return nil, err
	}
	l := Builtins()
	l.Context, l.Texts = ctx, texts
	study := make(l)
	asked := study.Asks()
	asked.Memory = askMemory
	asked.Given = func(flag string) bool { _, ok := r.Flags[flag]; return ok }
	if err := errors.Join(r.set(study.Flags()), r.bounded()); err != nil {
		return nil, err
	}
	if err := study.Check(r.Args); err != nil {
		return nil, err
	}
	o, err := study.Run(ctx, r.Args, at)
	if e := ctx.Err(); e != nil {
		return nil, e
	}
	if err != nil {
		return nil, err
	}
	return o.answer()
}

// texts are the files of a request.
func (r *Request) texts() (file.Texts, error) {
	if len(r.Files) > mostFiles {
		return nil, fmt.Errorf("files: %d; %d or fewer would do", len(r.Files), mostFiles)
	}
	texts := file.Texts{}
	for name, text := range r.Files {
		if !fs.ValidPath(name) || name == "." || strings.ContainsAny(name, "\\:") {
			return nil, fmt.Errorf("files: %s; a name such as my-rig.yaml would do", scenarios.Shown(name))
		}
		texts[path.Clean(name)] = text
	}
	return texts, nil
}

// bounded holds how much can be asked at once.
func (r *Request) bounded() error {
	var faults []error
	if len(r.Args) > mostAsked {
		faults = append(faults, fmt.Errorf("args: %d; %d or fewer would do", len(r.Args), mostAsked))
	}
	if slices.Contains(r.Args, "") {
		faults = append(faults, errors.New("an argument is empty; leave it out, or name something"))
	}
	return errors.Join(faults...)
}

// set gives the flags of a study the values of the request.
func (r *Request) set(flags []Flag) error {
	var faults []error
	for _, name := range slices.Sorted(maps.Keys(r.Flags)) {
		i := slices.IndexFunc(flags, func(f Flag) bool { return f.Name == name })
		if i < 0 {
			faults = append(faults, fmt.Errorf("%s has no flag --%s", r.Study, columns.Line(name)))
			continue
		}
		faults = append(faults, flags[i].set(r.Flags[name]))
	}
	return errors.Join(faults...)
}

// set takes a value from JSON; of a flag that may be repeated, one value or a list.
func (f *Flag) set(value json.RawMessage) error {
	list, many := f.Value.(*[]string)
	if many && !bytes.HasPrefix(value, []byte("[")) {
		value = slices.Concat([]byte("["), value, []byte("]"))
	}
	if json.Unmarshal(value, f.Value) != nil || bytes.Equal(value, []byte("null")) {
		return fmt.Errorf("--%s: %s; %s would do", f.Name, scenarios.Shown(string(value)), f.would())
	}
	if many && f.Commas {
		*list = strings.Split(strings.Join(*list, ","), ",")
	}
	values := f.values()
	if len(values) > mostAsked {
		return fmt.Errorf("--%s: %d values; %d or fewer would do", f.Name, len(values), mostAsked)
	}
	if slices.Contains(values, "") {
		return fmt.Errorf("--%s: the value is empty; leave the flag out, or give it one", f.Name)
	}
	return nil
}

// would says what values a flag takes.
func (f *Flag) would() string {
	switch f.Value.(type) {
	case *int, *uint64:
		return "a whole number"
	case *bool:
		return "true or false"
	case *[]string:
		return "a text, or a list of texts,"
	}
	return "a text"
}

// answer makes what a page gets.
func (o *Outcome) answer() (*Answer, error) {
	var a Answer
	var text strings.Builder
	if o.Report != nil {
		if err := o.JSON(&text); err != nil {
			return nil, err
		}
		a.JSON = text.String()
	}
	if o.Text != nil {
		text.Reset()
		if err := o.Text(&text); err != nil {
			return nil, err
		}
		a.Text = text.String()
	}
	if o.Figures != nil {
		a.Figures = map[string]string{}
		for _, f := range o.Figures() {
			text.Reset()
			if err := f.SVG(&text, figureWide); err != nil {
				return nil, err
			}
			a.Figures[f.Name] = text.String()
		}
	}
	for _, f := range o.Files {
		text, err := f.Text()
		if err != nil {
			return nil, err
		}
		if a.Files == nil {
			a.Files = map[string]string{}
		}
		a.Files[f.Name] = string(text)
	}
	return &a, nil
}

// line is one of the lines that answer a request.
type line struct {
	Progress *done    `json:"progress,omitempty"`
	Answer   *Answer  `json:"answer,omitempty"`
	Faults   []string `json:"faults,omitempty"`
}

// done is how far a study is.
type done struct {
	Done int    `json:"done"`
	Of   int    `json:"of"`
	What string `json:"what"`
}

// Tell answers a request that is written in JSON, line by line in JSON: {"progress":…}
// now and then, and at the end {"answer":…} or {"faults":[…]}. Where the context ended
// there is no end. tell is called by one at a time.
func Tell(ctx context.Context, request []byte, tell func(line []byte)) {
	say := func(l line) {
		text, err := json.Marshal(l)
		if err != nil {
			panic(err) // it is made of texts and numbers
		}
		tell(text)
	}
	var r Request
	d := json.NewDecoder(bytes.NewReader(request))
	d.DisallowUnknownFields()
	if err := d.Decode(&r); err != nil {
		say(line{Faults: []string{"the request: " + columns.Line(err.Error()) + `; {"study": "compare"} would do`}})
		return
	}
	var mutex sync.Mutex // several workers report
	var last time.Time
	far := 0
	a, err := Ask(ctx, &r, func(n, all int, found string) {
		mutex.Lock()
		defer mutex.Unlock()
		if found == "" && (time.Since(last) < often || n < far) {
			return
		}
		last, far = time.Now(), n
		if found == "" {
			found = r.Study
		}
		say(line{Progress: &done{n, all, found}})
	})
	mutex.Lock()
	defer mutex.Unlock()
	switch {
	case ctx.Err() != nil:
	case err != nil:
		say(line{Faults: strings.Split(err.Error(), "\n")})
	default:
		say(line{Answer: a})
	}
}
