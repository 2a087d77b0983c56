// Command mutate says how much of a package its tests hold: it breaks the code in
// one place at a time, runs the package's tests on it, and lists the breaks that
// no test noticed. README.md says how to read the list.
package main

import (
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"go/ast"
	"go/token"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// mutant is one break: new text for a piece of a file.
type mutant struct {
	file      string
	line      int
	from, end int // bytes
	with      string
	guarded   []edit // the same behind a switch, so that one program holds many; none: it needs one of its own
}

var (
	testArgs = flag.String("args", "-test.short", "further arguments for the package's test program, divided by spaces")
	only     = flag.String("only", "", "only files whose name matches this regular expression")
	every    = flag.Int("every", 1, "only every so many mutants, spread over the files")
	from     = flag.Int("from", 0, "how many mutants to pass over before the first")
	again    = flag.String("again", "", "only the survivors in this earlier output")
	quickly  = flag.Bool("quickly", false, "leave out the mutants that need a program of their own")
	list     = flag.Bool("list", false, "list the mutants and run nothing")
)

func main() {
	flag.Parse()
	if err := run(flag.Args()); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(packages []string) error {
	if len(packages) == 0 {
		return fmt.Errorf("a folder of a package, such as ./accel, would do")
	}
	for _, p := range packages {
		if err := mutate(p); err != nil {
			return fmt.Errorf("%s: %w", p, err)
		}
	}
	return nil
}

// mutate runs the tests of one package over all its mutants.
func mutate(dir string) error {
	all, err := mutants(dir)
	if err != nil {
		return err
	}
	if *list {
		for _, m := range all {
			fmt.Println(m)
		}
		return nil
	}
	before := ""
	if *again != "" {
		text, err := os.ReadFile(*again)
		if err != nil {
			return err
		}
		before = string(text)
	}
	tests, limit, err := measure(dir)
	if err != nil {
		return err
	}
	var chosen []*mutant
	for i := *from; i < len(all); i += *every {
		if m := &all[i]; before == "" || strings.Contains(before, "survived "+m.String()+"\n") {
			chosen = append(chosen, m)
		}
	}
	together, err := buildGuarded(dir, chosen)
	if err != nil {
		return err
	}
	defer os.RemoveAll(together)
	killed, endless, survived, unbuilt := 0, 0, 0, 0
	for n, m := range chosen {
		err := error(nil)
		switch {
		case m.guarded != nil:
			err = tried(dir, together, n+1, tests, limit)
		case *quickly:
			continue
		default:
			err = m.run(dir, tests, limit)
		}
		switch {
		case errors.Is(err, errUnbuilt):
			unbuilt++
		case errors.Is(err, errEndless):
			killed, endless = killed+1, endless+1
		case errors.Is(err, errKilled):
			killed++
		case err != nil:
			return err
		default:
			survived++
			fmt.Println("survived", m)
		}
	}
	fmt.Printf("%s: %d killed (%d by time), %d survived, %.0f %%; %d more do not build\n", dir, killed, endless, survived, 100*float64(killed)/float64(max(1, killed+survived)), unbuilt)
	return nil
}

// What becomes of a mutant that does not survive.
var (
	errUnbuilt = errors.New("does not build")
	errKilled  = errors.New("a test failed")
	errEndless = errors.New("the tests do not end")
)

// measure runs the package's tests as it is and returns two selections of them, the
// quick ones first, and how much of a processor's time a run may take: on a busy machine
// the clock says nothing.
func measure(dir string) (tests [2][]string, limit time.Duration, err error) {
	tmp, err := os.MkdirTemp("", "mutate")
	if err != nil {
		return tests, 0, err
	}
	defer os.RemoveAll(tmp)
	if err := build(dir, tmp); err != nil {
		return tests, 0, err
	}
	out, took, err := test(dir, tmp, 0, time.Hour, []string{"-test.v"})
	if err != nil {
		return tests, 0, fmt.Errorf("the tests fail as it is: %w\n%s", err, out)
	}
	var quick []string
	lasted := map[string]float64{}
	whole := 0.0
	for _, m := range regexp.MustCompile(`(?m)^--- PASS: (\w+) \((.*)s\)`).FindAllStringSubmatch(string(out), -1) {
		if lasted[m[1]], err = strconv.ParseFloat(m[2], 64); err != nil {
			return tests, 0, err
		}
		whole += lasted[m[1]]
	}
	for _, name := range slices.Sorted(maps.Keys(lasted)) { // all together a tenth of the time
		if lasted[name] <= whole/10/float64(len(lasted)) {
			quick = append(quick, name)
		}
	}
	these := "^(" + strings.Join(quick, "|") + ")$"
	return [2][]string{{"-test.run=" + these}, {"-test.skip=" + these}}, 3*took + 3*time.Second, nil
}

// run runs the tests on a mutant; nil is that none notices it. Tests that end no more
// have noticed.
func (m mutant) run(dir string, tests [2][]string, limit time.Duration) error {
	tmp, err := os.MkdirTemp("", "mutate")
	if err != nil {
		return err
	}
	defer os.RemoveAll(tmp)
	overlay, err := m.overlay(tmp)
	if err != nil {
		return err
	}
	if err := build(dir, tmp, "-overlay="+overlay); err != nil {
		return errUnbuilt
	}
	return tried(dir, tmp, 0, tests, limit)
}

// tried runs the tests in a folder with a guarded mutant switched on, 0 for none.
func tried(dir, tmp string, number int, tests [2][]string, limit time.Duration) error {
	for _, args := range tests {
		switch _, took, err := test(dir, tmp, number, limit, args); {
		case err != nil && took >= limit-time.Second:
			return errEndless
		case err != nil:
			return errKilled
		}
	}
	return nil
}

// build makes the test program of a package in a folder of its own.
func build(dir, tmp string, args ...string) error {
	args = append([]string{"test", "-c", "-vet=off", "-ldflags=-s -w", "-o", filepath.Join(tmp, "tests")}, args...)
	out, err := exec.Command("go", append(args, dir)...).CombinedOutput()
	if err != nil {
		return fmt.Errorf("%w: %s", err, out)
	}
	return nil
}

// test runs a package's test program where go test would, and says how much of a
// processor's time it took.
func test(dir, tmp string, number int, limit time.Duration, args []string) (out []byte, took time.Duration, err error) {
	args = append(slices.Clone(args), "-test.failfast", "-test.timeout=15m")
	args = append(args, strings.Fields(*testArgs)...)
	seconds := strconv.Itoa(int(limit / time.Second))
	c := exec.Command("sh", append([]string{"-c", `ulimit -t "$0" && exec "$@"`, seconds, filepath.Join(tmp, "tests")}, args...)...)
	c.Dir, c.Env = dir, append(os.Environ(), switchOn+"="+strconv.Itoa(number))
	out, err = c.CombinedOutput()
	if c.ProcessState != nil {
		took = c.ProcessState.UserTime() + c.ProcessState.SystemTime()
	}
	return out, took, err
}

// overlay writes the broken file and what tells go test to take it.
func (m mutant) overlay(dir string) (path string, err error) {
	text, err := os.ReadFile(m.file)
	if err != nil {
		return "", err
	}
	broken := slices.Concat(text[:m.from], []byte(m.with), text[m.end:])
	whole, err := filepath.Abs(m.file)
	if err != nil {
		return "", err
	}
	file, path := filepath.Join(dir, "broken.go"), filepath.Join(dir, "overlay.json")
	replace, err := json.Marshal(map[string]any{"Replace": map[string]string{whole: file}})
	if err != nil {
		return "", err
	}
	if err := os.WriteFile(file, broken, 0o600); err != nil {
		return "", err
	}
	return path, os.WriteFile(path, replace, 0o600)
}

// String returns FILE:LINE: old text => new text.
func (m mutant) String() string {
	text, _ := os.ReadFile(m.file)
	short := func(s string) string {
		s = strings.Join(strings.Fields(s), " ")
		return s[:min(len(s), 70)]
	}
	return fmt.Sprintf("%s:%d: %s => %s", m.file, m.line, short(string(text[m.from:m.end])), short(m.with))
}

// mutants returns every break of a package's own files, in their order.
func mutants(dir string) ([]mutant, error) {
	pick, err := regexp.Compile(*only)
	if err != nil {
		return nil, err
	}
	p, err := read(dir)
	if err != nil {
		return nil, err
	}
	var all []mutant
	for _, f := range p.files {
		if !pick.MatchString(filepath.Base(f.name)) {
			continue
		}
		found := p.breaks(f)
		slices.SortStableFunc(found, func(a, b mutant) int { return a.from - b.from })
		all = append(all, found...)
	}
	return all, nil
}

// swaps are operators and what takes their place.
var swaps = map[token.Token]string{
	token.LSS: "<=", token.LEQ: "<", token.GTR: ">=", token.GEQ: ">", token.EQL: "!=", token.NEQ: "==",
	token.ADD: "-", token.SUB: "+", token.MUL: "/", token.QUO: "*", token.REM: "*",
	token.SHL: ">>", token.SHR: "<<", token.AND: "|", token.OR: "&", token.LAND: "||", token.LOR: "&&",
}

// breaks returns the mutants of a file: operators swapped, numbers one up,
// conditions negated, statements dropped.
func (p *source) breaks(f *file) (all []mutant) {
	at := func(x token.Pos) int { return p.set.Position(x).Offset }
	add := func(from, end token.Pos, with string, guarded ...edit) {
		all = append(all, mutant{f.name, p.set.Position(from).Line, at(from), at(end), with, guarded})
	}
	around := func(n ast.Node, before, after string) []edit {
		return []edit{{at(n.Pos()), at(n.Pos()), before, at(n.End())}, {at(n.End()), at(n.End()), after, at(n.Pos())}}
	}
	negate := func(x ast.Expr) {
		add(x.Pos(), x.End(), "!("+string(f.text[at(x.Pos()):at(x.End())])+")", around(x, "(broken(#) != (", "))")...)
	}
	var within []ast.Node // of what is looked at
	ast.Inspect(f.tree, func(n ast.Node) bool {
		if n == nil {
			within = within[:len(within)-1]
			return true
		}
		drop := func() {
			switch within[len(within)-1].(type) {
			case *ast.BlockStmt, *ast.CaseClause, *ast.CommClause:
				add(n.Pos(), n.End(), "", around(n, "if !broken(#) { ", " }")...)
			default:
				add(n.Pos(), n.End(), "")
			}
		}
		switch n := n.(type) {
		case *ast.ImportSpec:
			return false
		case *ast.BinaryExpr:
			if with, ok := swaps[n.Op]; ok {
				add(n.OpPos, n.OpPos+token.Pos(len(n.Op.String())), with, p.swapped(n, at, around)...)
			}
		case *ast.BasicLit:
			typ := p.typeOf(n, within)
			if v, err := strconv.ParseInt(n.Value, 0, 64); n.Kind == token.INT && err == nil {
				add(n.Pos(), n.End(), strconv.FormatInt(v+1, 10), typed(around, n, typ)...)
			} else if v, err := strconv.ParseFloat(n.Value, 64); n.Kind == token.FLOAT && err == nil {
				add(n.Pos(), n.End(), strconv.FormatFloat(v+1, 'g', -1, 64), typed(around, n, typ)...)
			}
		case *ast.IfStmt:
			negate(n.Cond)
		case *ast.SwitchStmt:
			for _, c := range n.Body.List {
				if n.Tag == nil {
					for _, x := range c.(*ast.CaseClause).List {
						negate(x)
					}
				}
			}
		case *ast.AssignStmt:
			if n.Tok != token.DEFINE {
				drop()
			}
		case *ast.IncDecStmt, *ast.ExprStmt:
			drop()
		}
		within = append(within, n)
		return true
	})
	return all
}
