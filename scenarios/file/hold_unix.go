//go:build unix

package file

import (
	"io/fs"
	"os"
	"syscall"

	"golang.org/x/sys/unix"
)

// hold locks a new file until its process ends, and says whether it still has its
// name. Where the file system knows no locks it is not held.
func hold(f *os.File) bool {
	_ = unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB)
	_, err := os.Lstat(f.Name())
	return err == nil
}

// abandoned says whether nobody holds a file any more.
func abandoned(name string) bool {
	f, err := os.OpenFile(name, os.O_RDONLY, 0)
	if err != nil {
		return false
	}
	defer f.Close()
	return unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB) == nil
}

// keepOwner gives a file the owner of another one, as far as the system lets.
func keepOwner(f *os.File, old fs.FileInfo) error {
	is, ok := old.Sys().(*syscall.Stat_t)
	if !ok {
		return nil
	}
	if f.Chown(int(is.Uid), int(is.Gid)) != nil {
		_ = f.Chown(-1, int(is.Gid)) // only the group: more is root's to do
	}
	return nil
}

// finish gives a file its name and closes it. It is held until it has the name, so
// that nobody sweeps it away.
func finish(f *os.File, path string) error {
	err := os.Rename(f.Name(), path)
	if e := f.Close(); err == nil {
		err = e
	}
	return err
}

// syncFolder makes a new name in a folder last, where the folder may be read and
// its file system can.
func syncFolder(dir string) {
	if d, err := os.Open(dir); err == nil {
		_ = d.Sync()
		d.Close()
	}
}
