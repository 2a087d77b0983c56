//go:build unix

package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// watched is an output that something waits for.
type watched struct {
	bytes.Buffer
	until string
	then  func()
}

func (w *watched) Write(p []byte) (int, error) {
	n, err := w.Buffer.Write(p)
	if w.then != nil && strings.Contains(w.String(), w.until) {
		w.then()
		w.then = nil
	}
	return n, err
}

// A named pipe in which a device's records come, keys among them, is recorded
// while they come, and Ctrl-C ends it though the pipe stays open.
func TestANamedPipeIsRecordedInRealTime(t *testing.T) {
	pipe := filepath.Join(t.TempDir(), "knob")
	if err := unix.Mkfifo(pipe, 0o600); err != nil {
		t.Skip(err)
	}
	ctx, ctrlC := context.WithCancel(t.Context())
	defer ctrlC()
	opened := make(chan *os.File, 1)
	go func() {
		f, err := os.OpenFile(pipe, os.O_WRONLY, 0)
		if err != nil {
			t.Error(err)
		}
		opened <- f
		d := desk{to: f}
		d.wheel(4, 15*time.Millisecond)
		d.report([3]int32{0, 3, 0}) // the kernel lost events
		d.wheel(-4, 15*time.Millisecond)
	}()
	out := watched{until: ",wheel,-1\n", then: ctrlC}
	var errs bytes.Buffer
	code := run(ctx, []string{"capture", pipe, "--control", "wheel"}, nil, &out, &errs)
	defer (<-opened).Close()
	text := out.String()
	if code != exitInterrupted || errs.String() != "interrupted: the result is partial\n" {
		t.Errorf("exit code %d: %s", code, errs.String())
	}
	if strings.Count(text, ",wheel,1\n") != 4 || strings.Count(text, ",,dropped\n") != 1 || !strings.HasSuffix(text, "# partial: interrupted\n") || strings.Contains(text, "key") {
		t.Error(text)
	}
}

// Nobody writes into the pipe, and Ctrl-C ends the wait.
func TestWaitingForAPipeCanBeInterrupted(t *testing.T) {
	pipe := filepath.Join(t.TempDir(), "knob")
	if err := unix.Mkfifo(pipe, 0o600); err != nil {
		t.Skip(err)
	}
	ctx, ctrlC := context.WithCancel(t.Context())
	time.AfterFunc(20*time.Millisecond, ctrlC)
	var out, errs bytes.Buffer
	if code := run(ctx, []string{"capture", pipe}, nil, &out, &errs); code != exitInterrupted || out.Len() > 0 {
		t.Errorf("exit code %d: %s%s", code, out.String(), errs.String())
	}
	// The open that still waits is let go.
	if f, err := os.OpenFile(pipe, os.O_RDWR, 0); err == nil {
		f.Close()
	}
}
