//go:build unix

package file_test

import (
	"context"
	"os"
	"syscall"
	"testing"

	"golang.org/x/sys/unix"

	"dialwright/scenarios/file"
)

func TestALinkToNothingIsFollowed(t *testing.T) {
	folder(t, map[string]string{"real/x": ""})
	for from, to := range map[string]string{"link": "other", "other": "real/out.txt"} {
		if err := os.Symlink(to, from); err != nil {
			t.Fatal(err)
		}
	}
	if err := file.WriteOutput(t.Context(), "link", false, writing("new")); err != nil {
		t.Fatal(err)
	}
	if i, err := os.Lstat("link"); err != nil || i.Mode()&os.ModeSymlink == 0 {
		t.Errorf("the link is %v, %v", i, err)
	}
	if text, err := os.ReadFile("real/out.txt"); string(text) != "new" {
		t.Errorf("%q, %v", text, err)
	}
	if err := os.Symlink("round", "round"); err != nil {
		t.Fatal(err)
	}
	if err := file.WriteOutput(t.Context(), "round", true, writing("new")); !file.IsSystemFailure(err) {
		t.Errorf("a link to itself: %v", err)
	}
}

func TestReplacingKeepsTheOwner(t *testing.T) {
	if os.Getuid() != 0 {
		t.Skip("only root can give files away")
	}
	folder(t, map[string]string{"out.txt": "old"})
	if err := os.Chown("out.txt", 12, 34); err != nil {
		t.Skip(err)
	}
	if err := file.WriteOutput(t.Context(), "out.txt", true, writing("new")); err != nil {
		t.Fatal(err)
	}
	i, err := os.Stat("out.txt")
	if err != nil {
		t.Fatal(err)
	}
	if is := i.Sys().(*syscall.Stat_t); is.Uid != 12 || is.Gid != 34 {
		t.Errorf("belongs to %d:%d", is.Uid, is.Gid)
	}
}

// What a process left that died while it wrote goes with the next write into the
// folder; what another one is writing stays.
func TestLeftoversOfTheDeadAreSweptAway(t *testing.T) {
	folder(t, map[string]string{".dialwright-1-0": "half", ".dialwright-2-7": "half", "notes.txt": "mine", ".dialwright": "mine"})
	alive, err := os.OpenFile(".dialwright-2-7", os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer alive.Close()
	if err := unix.Flock(int(alive.Fd()), unix.LOCK_EX); err != nil {
		t.Skip(err)
	}
	if err := file.WriteOutput(t.Context(), "out.txt", true, writing("new")); err != nil {
		t.Fatal(err)
	}
	for name, stays := range map[string]bool{".dialwright-1-0": false, ".dialwright-2-7": true, "notes.txt": true, ".dialwright": true, "out.txt": true} {
		if _, err := os.Stat(name); (err == nil) != stays {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestWaitingForAPipeEndsWithTheContext(t *testing.T) {
	folder(t, nil)
	pipes := []string{"opened", "written", "read"}
	for _, name := range pipes {
		if err := unix.Mkfifo(name, 0o600); err != nil {
			t.Skip(err)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := file.Open(ctx, "opened"); err != context.Canceled {
		t.Errorf("open: %v", err)
	}
	if err := file.WriteOutput(ctx, "written", true, writing("x")); err != context.Canceled {
		t.Errorf("write: %v", err)
	}
	l := loader()
	l.Context = ctx
	if _, err := l.Rig("./read"); err != context.Canceled {
		t.Errorf("read: %v", err)
	}
	for _, name := range pipes { // lets go of those who still wait
		if f, err := os.OpenFile(name, os.O_RDWR, 0); err == nil {
			f.Close()
		}
	}
}
