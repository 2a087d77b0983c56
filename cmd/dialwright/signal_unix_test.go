//go:build unix

package main

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// patient is how long a test waits for what must come soon: nothing here is about
// the speed of the machine.
const patient = time.Minute

// started is a running dialwright.
type started struct {
	*exec.Cmd
	done chan error
}

// start runs this program as dialwright in a folder.
func start(t *testing.T, dir string, in io.Reader, out, err io.Writer, args ...string) *started {
	t.Helper()
	self, e := os.Executable()
	if e != nil {
		t.Fatal(e)
	}
	s := &started{&exec.Cmd{Path: self, Args: append([]string{"dialwright"}, args...), Dir: dir, Stdin: in, Stdout: out, Stderr: err}, make(chan error, 1)}
	if e := s.Start(); e != nil {
		t.Fatal(e)
	}
	go func() { s.done <- s.Wait() }()
	t.Cleanup(func() { s.Process.Kill() })
	return s
}

// ends waits for the end and returns the exit code.
func (s *started) ends(t *testing.T) int {
	t.Helper()
	select {
	case <-s.done:
		return s.ProcessState.ExitCode()
	case <-time.After(patient):
		t.Fatalf("%q does not end", s.Args)
		return -1
	}
}

// left wants no file in a folder but those named.
func left(t *testing.T, dir string, names ...string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		found := false
		for _, n := range names {
			ok, _ := filepath.Match(n, e.Name())
			found = found || ok
		}
		if !found {
			t.Errorf("%s is left behind", e.Name())
		}
	}
}

func ignored(s os.Signal) bool { return signal.Ignored(s) }

var endings = []syscall.Signal{syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP}

// Every command ends with 130 on every signal that ends it, whenever it comes. It
// leaves no half written file; the old file is there, and what was finished stands
// beside it, marked.
func TestEverySignalEndsEveryCommand(t *testing.T) {
	if testing.Short() {
		t.Skip("computes much")
	}
	const old = "an old file\n"
	long := []string{"--trials", "80000", "--task", "heading", "--quiet"}
	commands := [][]string{
		append([]string{"compare", "plain", "power", "-o", "out.csv", "--force", "--format", "csv"}, long...),
		append([]string{"compare", "plain", "power", "-o", "out.md", "--force", "--format", "markdown"}, long...),
		append([]string{"overshoot", "-o", "out.json", "--force", "--format", "json", "--trials-out", "out.csv"}, long...),
		append([]string{"explain", "-o", "out.csv", "--force", "--format", "csv"}, long...),
		append([]string{"tune", "--write", "out.yaml", "--force"}, long...),
		append([]string{"tune", "--decide", "home", "-o", "out.txt", "--force"}, long...),
		append([]string{"report", "-o", "out.html", "--force"}, long...),
		append([]string{"export", "power", "--as", "card", "-o", "out.md", "--force"}, long...),
		{"evidence", "-o", "out.json", "--force", "--format", "json", "--quiet"},
		{"fit", "-o", "out.json", "--force", "--format", "json"},
		{"capture", "-", "--control", "wheel", "-o", "out.csv", "--force"},
		{"serve", "--no-open", "--port", "0", "--dir", "."},
	}
	random := rand.New(rand.NewPCG(18, 0))
	for _, args := range commands {
		for _, signal := range endings {
			if ignored(signal) { // as nohup has it, and the program keeps to that
				continue
			}
			after := time.Duration(random.IntN(900)) * time.Millisecond
			t.Run(fmt.Sprint(args[0], " ", signal, " ", after), func(t *testing.T) {
				dir := t.TempDir()
				for _, name := range []string{"out.csv", "out.md", "out.json", "out.yaml", "out.txt", "out.html"} {
					if err := os.WriteFile(filepath.Join(dir, name), []byte(old), 0o666); err != nil {
						t.Fatal(err)
					}
				}
				in, w, err := os.Pipe()
				if err != nil {
					t.Fatal(err)
				}
				defer in.Close()
				defer w.Close()
				fmt.Fprint(w, clicks)
				var out, errs bytes.Buffer
				s := start(t, dir, in, &out, &errs, args...)
				time.Sleep(after)
				s.Process.Signal(signal)
				code := s.ends(t)
				if code == int(-1) && s.ProcessState.Sys().(syscall.WaitStatus).Signal() == signal {
					t.Skip("before the program had begun to listen")
				}
				if code == exitDone { // it was faster, or it serves until then
					if args[0] == "serve" {
						left(t, dir, "out.*")
					}
					return
				}
				if code != exitInterrupted || !strings.Contains(errs.String(), "interrupted: ") {
					t.Errorf("exit code %d: %s", code, errs.String())
				}
				left(t, dir, "out.*", "out-partial.*", "out-new.*")
				partial, _ := filepath.Glob(filepath.Join(dir, "out-*"))
				for _, name := range partial {
					text, err := os.ReadFile(name)
					if err != nil || !bytes.Contains(bytes.ToLower(text), []byte("partial")) {
						t.Errorf("%s is not marked: %.300s", filepath.Base(name), text)
					}
				}
				for name, ending := range map[string]string{"out.csv": "csv", "out.md": "markdown", "out.json": "json", "out.yaml": "", "out.html": "", "out.txt": ""} {
					if text, err := os.ReadFile(filepath.Join(dir, name)); args[0] != "capture" && (err != nil || string(text) != old) {
						t.Errorf("the old file %s (%s) is gone: %.100s", name, ending, text)
					}
				}
			})
		}
	}
}

// A command that waits for somebody else ends all the same: for standard input, for
// a named pipe wherever a file may stand, for a reader of its output.
func TestASignalEndsWaiting(t *testing.T) {
	if testing.Short() {
		t.Skip("waits much: left out of short runs")
	}
	dir := t.TempDir()
	pipe := filepath.Join(dir, "pipe")
	if err := unix.Mkfifo(pipe, 0o600); err != nil {
		t.Skip(err)
	}
	waits := "kind: panel\nversion: 1\nname: p\nknobs:\n  - {name: a, rig: ./pipe, tasks: [{task: heading}]}\n"
	if err := os.WriteFile(filepath.Join(dir, "waits.yaml"), []byte(waits), 0o666); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{
		{"check", "-"}, {"check", "pipe"}, {"check", "waits.yaml"}, {"compare", "--panel", "waits.yaml"}, {"compare", "-"}, {"compare", "./pipe"}, {"compare", "--rig", "./pipe"}, {"compare", "--operator", "./pipe"},
		{"compare", "--panel", "./pipe"}, {"compare", "--task", "./pipe"}, {"tune", "--profile", "./pipe"}, {"explain", "--rig", "-"},
		{"follow", "--detents", "pipe"}, {"follow", "--detents", "-"}, {"fit", "pipe"}, {"fit", "-"}, {"capture", "pipe"}, {"capture", "-"},
		{"compare", "plain", "--task", "heading", "--trials", "20", "-o", "pipe"},
		{"report", "--task", "heading", "--trials", "20", "--quiet"},
		{"overshoot", "heading", "--trials", "20", "--trials-out", "pipe"},
	} {
		t.Run(fmt.Sprint(args), func(t *testing.T) {
			in, w, _ := os.Pipe()
			full, out, _ := os.Pipe() // nobody reads
			for _, f := range []*os.File{in, w, full, out} {
				defer f.Close()
			}
			out.SetWriteDeadline(time.Now().Add(50 * time.Millisecond))
			for {
				if _, err := out.Write(make([]byte, 4096)); err != nil {
					break
				}
			}
			var to io.Writer = io.Discard
			if args[0] == "report" {
				to = out
			}
			s := start(t, dir, in, to, io.Discard, args...)
			select {
			case err := <-s.done:
				t.Fatalf("does not wait: %v", err)
			case <-time.After(time.Second + time.Duration(len(args)/5)*2*time.Second):
			}
			s.Process.Signal(syscall.SIGTERM)
			if code := s.ends(t); code != exitInterrupted {
				t.Errorf("exit code %d", code)
			}
			left(t, dir, "pipe", "waits.yaml")
		})
	}
}

// Of what is no part of a survey only the beginning is read: it may have no end.
func TestAPartIsKnownByItsBeginning(t *testing.T) {
	dir := t.TempDir()
	pipe := filepath.Join(dir, "pipe")
	if err := unix.Mkfifo(pipe, 0o600); err != nil {
		t.Skip(err)
	}
	held, err := os.OpenFile(pipe, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer held.Close()
	fmt.Fprint(held, "kind: rig\nversion: 1\nna") // as long as a part says what it is
	var errs bytes.Buffer
	if code := start(t, dir, nil, io.Discard, &errs, "merge", "pipe").ends(t); code != exitUsage || !strings.Contains(errs.String(), "no part of a survey") {
		t.Errorf("exit code %d: %s", code, errs.String())
	}
	s := start(t, dir, nil, io.Discard, io.Discard, "merge", "pipe") // which holds nothing now
	time.Sleep(200 * time.Millisecond)
	s.Process.Signal(syscall.SIGTERM)
	if code := s.ends(t); code != exitInterrupted {
		t.Errorf("exit code %d on SIGTERM", code)
	}
}

// A disk that is full leaves the old file as it was, and no new one; what was worked
// out is not lost.
func TestAFullDiskLeavesTheOldFile(t *testing.T) {
	for _, args := range [][]string{
		{"export", "power", "--as", "c", "--force", "-o"}, {"show", "power", "--force", "-o"}, {"new", "rig", "--force", "-o"}, {"check", "--schema", "rig", "--force", "-o"},
		{"compare", "plain", "--task", "heading", "--trials", "20", "--quiet", "--force", "-o"},
		{"survey", "--rigs", "2", "--trials", "2", "--shard", "1/2", "--quiet", "--force", "-o"},
		{"overshoot", "heading", "--trials", "20", "--quiet", "--force", "--trials-out"},
		{"fit", "--quiet", "--force", "--write-rig"},
	} {
		for _, old := range []string{"old.txt", "none.txt"} {
			dir := t.TempDir()
			if err := os.WriteFile(filepath.Join(dir, "old.txt"), []byte("an old file\n"), 0o666); err != nil {
				t.Fatal(err)
			}
			limited := exec.Command("sh", slices.Concat([]string{"-c", `ulimit -f 0; exec "$0" "$@"`, "dialwright"}, args, []string{old})...)
			limited.Dir = dir
			out, err := limited.CombinedOutput()
			if limited.ProcessState == nil || limited.ProcessState.ExitCode() != exitFailed || !bytes.Contains(out, []byte(old+": file too large")) {
				t.Errorf("%q: %v: %s", args, err, out)
			}
			if args[0] == "compare" && (!bytes.Contains(out, []byte("mean time, s")) || !bytes.Contains(out, []byte("it is on standard output instead"))) {
				t.Errorf("%q: the result is lost: %s", args, out)
			}
			left(t, dir, "old.txt")
			if text, err := os.ReadFile(filepath.Join(dir, "old.txt")); string(text) != "an old file\n" {
				t.Errorf("%q: the old file became %q, %v", args, text, err)
			}
		}
	}
}

// A recording is on the disk while it is made: what SIGKILL leaves is known as
// broken off, and fits.
func TestARecordingOutlivesItsProgram(t *testing.T) {
	for _, torn := range []bool{false, true} {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, "knob.csv"), []byte("an old one\n"), 0o666); err != nil {
			t.Fatal(err)
		}
		in, w, err := os.Pipe()
		if err != nil {
			t.Fatal(err)
		}
		s := start(t, dir, in, io.Discard, io.Discard, "capture", "-", "--control", "wheel", "-o", "knob.csv", "--force")
		in.Close()
		fmt.Fprint(w, clicks)
		name := filepath.Join(dir, "knob-new.csv")
		deadline := time.Now().Add(patient)
		for {
			if text, _ := os.ReadFile(name); strings.Contains(string(text), "0.6,wheel,1") {
				break
			}
			if time.Now().After(deadline) {
				t.Fatal("nothing is written while the recording runs")
			}
			time.Sleep(20 * time.Millisecond)
		}
		s.Process.Kill()
		s.ends(t)
		w.Close()
		if old, _ := os.ReadFile(filepath.Join(dir, "knob.csv")); string(old) != "an old one\n" {
			t.Errorf("the old recording became %q", old)
		}
		if torn {
			f, err := os.OpenFile(name, os.O_WRONLY|os.O_APPEND, 0)
			if err != nil {
				t.Fatal(err)
			}
			fmt.Fprint(f, "0.7,wheel,-") // of -12
			f.Close()
		}
		var out, errs bytes.Buffer
		code := run(t.Context(), []string{"fit", name}, nil, &out, &errs)
		if code != exitDone || !strings.Contains(strings.Join(strings.Fields(out.String()), " "), "ended early (broken off); what came before is used") {
			t.Errorf("torn %v: exit code %d: %s%s", torn, code, out.String(), errs.String())
		}
	}
}
