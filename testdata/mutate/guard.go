package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// Most of the time of a mutant is its build. So those of which Go allows it are built
// into one program, each behind a switch that the environment throws:
//
//	a < b    less(7, a, b)      a <= b for mutant 7
//	if c {   if (broken(7) != (c)) {
//	x = y    if !broken(7) { x = y }
//	12       more(7, int64(12)) 13 for mutant 7
const switchOn = "MUTANT"

// edit is a change of a file's text. Of several in one place the widest comes first.
type edit struct {
	from, end int // bytes
	with      string
	other     int // where what belongs to it is
}

// source is a package with its types.
type source struct {
	set   *token.FileSet
	files []*file
	pkg   *types.Package
	info  types.Info
}

type file struct {
	name string
	text []byte
	tree *ast.File
}

// read reads a package's own files for this system, without its tests.
func read(dir string) (*source, error) {
	out, err := exec.Command("go", "list", "-export", "-deps", "-json=Dir,ImportPath,Export,GoFiles", dir).Output()
	if err != nil {
		return nil, fmt.Errorf("go list: %w", err)
	}
	type listed struct {
		Dir, ImportPath, Export string
		GoFiles                 []string
	}
	exports := map[string]string{}
	var own listed
	for d := json.NewDecoder(bytes.NewReader(out)); ; {
		var l listed
		if err := d.Decode(&l); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return nil, err
		}
		exports[l.ImportPath], own = l.Export, l // the package itself comes last
	}
	p := &source{set: token.NewFileSet(), info: types.Info{Types: map[ast.Expr]types.TypeAndValue{}}}
	var trees []*ast.File
	for _, name := range own.GoFiles {
		f := &file{name: filepath.Join(dir, name)}
		if f.text, err = os.ReadFile(f.name); err != nil {
			return nil, err
		}
		if f.tree, err = parser.ParseFile(p.set, f.name, f.text, parser.SkipObjectResolution); err != nil {
			return nil, err
		}
		p.files, trees = append(p.files, f), append(trees, f.tree)
	}
	c := types.Config{Importer: importer.ForCompiler(p.set, "gc", func(path string) (io.ReadCloser, error) { return os.Open(exports[path]) })}
	p.pkg, err = c.Check(own.ImportPath, p.set, trees, &p.info)
	return p, err
}

// functions take the place of operators that are swapped.
var functions = map[token.Token]string{
	token.LSS: "less", token.LEQ: "atMost", token.GTR: "greater", token.GEQ: "atLeast",
	token.ADD: "plus", token.SUB: "minus", token.MUL: "times", token.QUO: "over", token.REM: "modulo",
	token.AND: "bits", token.OR: "anyBits", token.LAND: "both", token.LOR: "either",
}

// swapped are the edits that swap an operator behind a switch; none where that cannot be.
func (p *source) swapped(n *ast.BinaryExpr, at func(token.Pos) int, around func(ast.Node, string, string) []edit) []edit {
	if p.info.Types[n].Value != nil { // a constant
		return nil
	}
	from, end := at(n.OpPos), at(n.OpPos)+len(n.Op.String())
	middle := edit{from: from, end: end, with: ", "}
	switch name := functions[n.Op]; {
	case n.Op == token.EQL || n.Op == token.NEQ:
		return around(n, "(broken(#) != (", "))")
	case n.Op == token.LAND || n.Op == token.LOR:
		middle.with = ", func() bool { return "
		return append(around(n, "broken"+name+"(#, ", " })"), middle)
	case name != "":
		if b, ok := p.info.Types[n.X].Type.Underlying().(*types.Basic); ok && b.Info()&types.IsString != 0 && n.Op == token.ADD {
			return nil // there is no minus
		}
		return append(around(n, "broken"+name+"(#, ", ")"), middle)
	}
	return nil
}

// typeOf is the type of a literal in the words of its file, "" where it must stay a
// constant.
func (p *source) typeOf(n *ast.BasicLit, within []ast.Node) string {
	for i, w := range within {
		switch w := w.(type) {
		case *ast.GenDecl:
			if w.Tok == token.CONST {
				return ""
			}
		case *ast.ArrayType:
			return ""
		case *ast.KeyValueExpr:
			if i+1 == len(within) && w.Key == ast.Expr(n) {
				return ""
			}
		case *ast.BinaryExpr:
			if (w.Op == token.SHL || w.Op == token.SHR) && p.info.Types[w].Value == nil && p.info.Types[w.X].Value != nil {
				return "" // 1 << n takes its type from elsewhere
			}
		}
	}
	t := p.info.Types[n].Type
	if b, ok := t.(*types.Basic); t == nil || ok && b.Info()&types.IsUntyped != 0 {
		return ""
	}
	if _, ok := t.Underlying().(*types.Basic); !ok {
		return ""
	}
	return types.TypeString(t, func(o *types.Package) string {
		if o == p.pkg {
			return ""
		}
		return o.Name()
	})
}

func typed(around func(ast.Node, string, string) []edit, n *ast.BasicLit, typ string) []edit {
	if typ == "" {
		return nil
	}
	return around(n, "brokenmore(#, "+typ+"(", "))")
}

// switches is what the guarded text calls.
const switches = `package %s

import (
	"os"
	"strconv"
)

var brokenNow, _ = strconv.Atoi(os.Getenv("` + switchOn + `"))

func broken(n int) bool { return n == brokenNow }

type brokenWhole interface {
	~int | ~int8 | ~int16 | ~int32 | ~int64 | ~uint | ~uint8 | ~uint16 | ~uint32 | ~uint64 | ~uintptr
}
type brokenNumber interface{ brokenWhole | ~float32 | ~float64 }
type brokenOrdered interface{ brokenNumber | ~string }

func brokenless[T brokenOrdered](n int, a, b T) bool    { if broken(n) { return a <= b }; return a < b }
func brokenatMost[T brokenOrdered](n int, a, b T) bool  { if broken(n) { return a < b }; return a <= b }
func brokengreater[T brokenOrdered](n int, a, b T) bool { if broken(n) { return a >= b }; return a > b }
func brokenatLeast[T brokenOrdered](n int, a, b T) bool { if broken(n) { return a > b }; return a >= b }
func brokenplus[T brokenNumber](n int, a, b T) T        { if broken(n) { return a - b }; return a + b }
func brokenminus[T brokenNumber](n int, a, b T) T       { if broken(n) { return a + b }; return a - b }
func brokentimes[T brokenNumber](n int, a, b T) T       { if broken(n) { return a / b }; return T(a * b) }
func brokenover[T brokenNumber](n int, a, b T) T        { if broken(n) { return a * b }; return a / b }
func brokenmodulo[T brokenWhole](n int, a, b T) T       { if broken(n) { return a * b }; return a %% b }
func brokenbits[T brokenWhole](n int, a, b T) T         { if broken(n) { return a | b }; return a & b }
func brokenanyBits[T brokenWhole](n int, a, b T) T      { if broken(n) { return a & b }; return a | b }
func brokenmore[T brokenNumber](n int, a T) T           { if broken(n) { return a + 1 }; return a }

func brokenboth(n int, a bool, b func() bool) bool   { if broken(n) { return a || b() }; return a && b() }
func brokeneither(n int, a bool, b func() bool) bool { if broken(n) { return a && b() }; return a || b() }
`

// buildGuarded builds the mutants that can be built together, and takes the edits from the
// others. The folder with the program is to be removed.
func buildGuarded(dir string, all []*mutant) (folder string, err error) {
	folder, err = os.MkdirTemp("", "mutate")
	if err != nil {
		return "", err
	}
	for range 50 { // what does not build is left to builds of its own
		lines, err := writeGuarded(dir, folder, all)
		if err != nil {
			return folder, err
		}
		err = build(dir, folder, "-overlay="+filepath.Join(folder, "overlay.json"))
		if err == nil {
			return folder, nil
		}
		left := 0
		for _, m := range regexp.MustCompile(`(?m)([\w./-]+\.go):(\d+):\d+: `).FindAllStringSubmatch(err.Error(), -1) {
			n, _ := strconv.Atoi(m[2])
			for _, x := range lines[filepath.Base(m[1])][n] {
				x.guarded = nil
				left++
			}
		}
		if left == 0 {
			return folder, err
		}
	}
	return folder, errors.New("too much cannot be built together")
}

// writeGuarded writes the files with the switches, and returns which mutants are on a line.
func writeGuarded(dir, folder string, all []*mutant) (lines map[string]map[int][]*mutant, err error) {
	edits := map[string][]edit{}
	lines = map[string]map[int][]*mutant{}
	for i, m := range all {
		if lines[filepath.Base(m.file)] == nil {
			lines[filepath.Base(m.file)] = map[int][]*mutant{}
		}
		if m.guarded == nil {
			continue
		}
		l := lines[filepath.Base(m.file)]
		l[m.line] = append(l[m.line], m)
		for _, e := range m.guarded {
			e.with = strings.ReplaceAll(e.with, "#", strconv.Itoa(i+1))
			edits[m.file] = append(edits[m.file], e)
		}
	}
	replace, name := map[string]string{}, ""
	files, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		return nil, err
	}
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			return nil, err
		}
		if !strings.HasSuffix(f, "_test.go") && name == "" {
			name = string(regexp.MustCompile(`(?m)^package (\w+)`).FindSubmatch(text)[1])
		}
		if edits[f] == nil {
			continue
		}
		whole, err := filepath.Abs(f)
		if err != nil {
			return nil, err
		}
		replace[whole] = filepath.Join(folder, filepath.Base(f))
		if err := os.WriteFile(replace[whole], edited(text, edits[f]), 0o600); err != nil {
			return nil, err
		}
	}
	whole, err := filepath.Abs(filepath.Join(dir, "broken_switches.go"))
	if err != nil {
		return nil, err
	}
	replace[whole] = filepath.Join(folder, "broken_switches.go")
	if err := os.WriteFile(replace[whole], fmt.Appendf(nil, switches, name), 0o600); err != nil {
		return nil, err
	}
	overlay, err := json.Marshal(map[string]any{"Replace": replace})
	if err != nil {
		return nil, err
	}
	return lines, os.WriteFile(filepath.Join(folder, "overlay.json"), overlay, 0o600)
}

// edited is a text with edits. Where several begin the widest is first, and where several
// end the widest is last.
func edited(text []byte, list []edit) []byte {
	begins := func(e edit) int {
		switch {
		case e.end > e.from:
			return 1 // takes the place of something
		case e.other > e.from:
			return 2 // begins here
		}
		return 0 // ends here
	}
	slices.SortStableFunc(list, func(a, b edit) int {
		switch {
		case a.from != b.from:
			return a.from - b.from
		case begins(a) != begins(b):
			return begins(a) - begins(b)
		case begins(a) == 0:
			return b.other - a.other // what began last ends first
		}
		return b.other - a.other
	})
	// Two around the very same text: they end in the other order than they begin.
	for i := 0; i < len(list); {
		j := i + 1
		for j < len(list) && list[j].from == list[i].from && list[j].other == list[i].other && begins(list[j]) == begins(list[i]) {
			j++
		}
		if begins(list[i]) == 0 {
			slices.Reverse(list[i:j])
		}
		i = j
	}
	var out bytes.Buffer
	at := 0
	for _, e := range list {
		out.Write(text[at:e.from])
		out.WriteString(e.with)
		at = e.end
	}
	out.Write(text[at:])
	return out.Bytes()
}
