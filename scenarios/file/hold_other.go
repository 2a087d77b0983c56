//go:build !unix

// On Windows; and under js/wasm, where nothing is written.

package file

import (
	"io/fs"
	"os"
)

// hold says whether a new file still has its name. An open file cannot be removed
// here, so that it needs no lock.
func hold(f *os.File) bool { return true }

// abandoned says that a file may be tried to be removed: it fails for one that is
// open.
func abandoned(name string) bool { return true }

// keepOwner does nothing: a new file gets the rights of its folder here.
func keepOwner(*os.File, fs.FileInfo) error { return nil }

// finish closes a file and gives it its name; an open one keeps its own here.
func finish(f *os.File, path string) error {
	if err := f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

// syncFolder does nothing: folders cannot be flushed here.
func syncFolder(string) {}
