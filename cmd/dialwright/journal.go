package main

import (
	"errors"
	"os"
	"time"

	"dialwright/scenarios/file"
)

// journal is the file of a recording under way: what was recorded is on the disk
// within a second, whatever becomes of the program. It stands under the name that
// was asked for, or beside a file that has that name already.
type journal struct {
	*os.File
	asked  string // the name that was asked for
	lasts  bool   // a file, no device or pipe
	events int    // that are on the disk
	synced time.Time
}

// newJournal begins a recording. A file that has the name already is left alone
// until the end.
func newJournal(path string) (*journal, error) {
	j := &journal{asked: path, lasts: !special(path)}
	flags := os.O_WRONLY | os.O_APPEND
	if j.lasts {
		flags |= os.O_CREATE | os.O_EXCL
		if _, err := os.Stat(path); err == nil {
			path = beside(path, "new")
		}
	}
	var err error
	j.File, err = os.OpenFile(path, flags, 0o666)
	return j, err
}

// rest is told how many events there were so far. Ten times a second is often, so
// the disk is waited for once a second at most.
func (j *journal) rest(events int) {
	if !j.lasts || events == j.events || time.Since(j.synced) < time.Second {
		return
	}
	_ = j.Sync() // a file system that cannot: it has what was written all the same
	j.events, j.synced = events, time.Now()
}

// end ends the recording and returns the file that it is in: under the name that
// was asked for when it is whole or nothing has that name; none when nothing was
// recorded.
func (j *journal) end(any, whole bool) (string, error) {
	if j.File == nil {
		return "", nil
	}
	if !j.lasts {
		return j.asked, j.Close()
	}
	if !any {
		return "", errors.Join(j.Close(), os.Remove(j.Name()))
	}
	if err := errors.Join(j.Sync(), j.Close()); err != nil {
		return j.Name(), err
	}
	if j.Name() == j.asked || !whole {
		return j.Name(), nil
	}
	return j.asked, file.Rename(j.Name(), j.asked)
}
