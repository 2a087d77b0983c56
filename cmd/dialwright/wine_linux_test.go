package main

import (
	"bufio"
	"bytes"
	"io"
	"net/http"
	"net/http/cookiejar"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// The Windows program, under wine, gives the bytes that this one gives, in a folder and
// from a file whose names have a space and letters beyond ASCII; neither colours nor
// carriage returns are in them.
func TestTheWindowsProgramGivesTheSameBytes(t *testing.T) {
	if testing.Short() {
		t.Skip("builds a program and starts wine: left out of short runs")
	}
	const compiler = "x86_64-w64-mingw32-gcc"
	for _, tool := range []string{"wine", compiler, "go"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skipf("%s is not here (Debian: wine, wine64, gcc-mingw-w64-x86-64-win32)", tool)
		}
	}
	prefix, dir := t.TempDir(), filepath.Join(t.TempDir(), "mein Übungsplatz")
	if err := os.Mkdir(dir, 0o777); err != nil {
		t.Fatal(err)
	}
	env := append(os.Environ(), "WINEPREFIX="+prefix, "WINEDEBUG=-all", "GOOS=windows", "GOARCH=amd64", "CGO_ENABLED=0")
	do := func(in string, words ...string) []byte {
		t.Helper()
		var errs bytes.Buffer
		c := exec.Command(words[0], words[1:]...)
		c.Dir, c.Env, c.Stderr = in, env, &errs
		out, err := c.Output()
		if err != nil {
			t.Fatalf("%q: %v: %s", words, err, errs.String())
		}
		return out
	}
	program := filepath.Join(dir, "dialwright.exe")
	do(".", "go", "build", "-o", program, ".")
	do(dir, "wine", "wineboot", "-i")
	defer exec.Command("env", "WINEPREFIX="+prefix, "wineserver", "-k").Run()
	do("testdata/wine", compiler, "-shared", "-o", filepath.Join(prefix, "drive_c/windows/system32/bcryptprimitives.dll"), "bcryptprimitives.c", "-ladvapi32")

	t.Chdir(dir)
	if err := os.WriteFile("mein Gerät.yaml", []byte("kind: rig\r\nversion: 1\r\nname: Gerät\r\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	t.Setenv("LC_ALL", "C.UTF-8")
	for _, args := range [][]string{
		{"check", "mein Gerät.yaml"},
		{"compare", "plain", "power", "--rig", "mein Gerät.yaml", "--trials", "20", "--task", "heading", "--format", "csv", "--quiet"},
		{"report", "--rig", "mein Gerät.yaml", "--trials", "20", "--task", "heading", "--format", "json", "--quiet"},
	} {
		theirs := do(".", append([]string{"wine", program}, args...)...)
		code, ours, errs := ran(t, args...)
		if code != exitDone {
			t.Fatal(errs)
		}
		if args[len(args)-2] == "json" { // a test's build has no version
			theirs, ours = versionless(theirs), string(versionless([]byte(ours)))
		}
		if string(theirs) != ours || bytes.ContainsAny(theirs, "\r\x1b") {
			t.Errorf("%q: %.300q, here %.300q", args, theirs, ours)
		}
	}

	// serve shows its page to whoever has the link, and keeps a file in the folder.
	c := exec.CommandContext(t.Context(), "wine", program, "serve", "--no-open", "--port", "0", "--dir", "mein Ordner")
	c.Env = env
	printed, err := c.StdoutPipe()
	if err == nil {
		err = c.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	defer c.Wait()
	defer c.Process.Kill()
	said, err := bufio.NewReader(printed).ReadString('\n')
	link, found := strings.CutPrefix(strings.TrimSpace(said), "The workbench: ")
	if err != nil || !found {
		t.Fatalf("serve says %q, %v", said, err)
	}
	jar, _ := cookiejar.New(nil)
	browser := &http.Client{Jar: jar}
	ask := func(r *http.Response, err error) []byte {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		defer r.Body.Close()
		text, err := io.ReadAll(r.Body)
		if err != nil || r.StatusCode != http.StatusOK {
			t.Fatalf("%s, %v: %.300s", r.Status, err, text)
		}
		return text
	}
	ask(browser.Get(link))
	home, _, _ := strings.Cut(link, "open/")
	if page := ask(browser.Get(home + "index.html")); !bytes.Contains(page, []byte("the workbench")) {
		t.Errorf("the page is %.300s", page)
	}
	ask(browser.Post(home+"keep", "application/json", strings.NewReader(`{"name":"Gerät.yaml","text":"kind: rig\n"}`)))
	if kept, err := filepath.Glob(filepath.Join("mein Ordner", "dialwright-*.yaml")); len(kept) != 1 {
		t.Errorf("kept: %q, %v", kept, err)
	}
}

func versionless(text []byte) []byte {
	return regexp.MustCompile(`(?m)^  "version": .*$`).ReplaceAll(text, nil)
}
