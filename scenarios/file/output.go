package file

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// writeFailure is an error while writing: a full disk, a folder that may not be
// written to.
type writeFailure struct{ error }

func (w writeFailure) Unwrap() error { return w.error }

// IsWriteFailure says whether writing failed, in contrast to a file that may not
// be replaced.
func IsWriteFailure(err error) bool {
	var w writeFailure
	return errors.As(err, &w)
}

// CheckOutput says before any work is done whether a file may be written: an
// existing one only when it is forced.
func CheckOutput(path string, force bool) error {
	i, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return plainError(path, err)
	case i.IsDir():
		return fmt.Errorf("%s: this is a directory; a file would do", path)
	case i.Mode().IsRegular() && !force:
		return fmt.Errorf("%s: the file exists; --force replaces it", path)
	}
	return nil
}

// WriteOutput writes a whole file or nothing: what write gives goes to a new file
// that takes the name at the end. What is no regular file (a device, a pipe) is
// written to directly.
func WriteOutput(path string, force bool, write func(io.Writer) error) error {
	if err := CheckOutput(path, force); err != nil {
		return err
	}
	var whole bytes.Buffer
	if err := write(&whole); err != nil {
		return err
	}
	if i, err := os.Stat(path); err == nil && !i.Mode().IsRegular() {
		f, err := os.OpenFile(path, os.O_WRONLY, 0)
		if err != nil {
			return writeFailure{plainError(path, err)}
		}
		_, err = f.Write(whole.Bytes())
		if err := errors.Join(err, f.Close()); err != nil {
			return writeFailure{fmt.Errorf("%s: %w", path, err)}
		}
		return nil
	}
	if err := replace(path, whole.Bytes()); err != nil {
		return writeFailure{fmt.Errorf("%s: %w", path, err)}
	}
	return nil
}

// replace writes a new file beside path and gives it the name and, where there is
// a file already, its permissions. A link stays a link. (The library for this,
// renameio, does not build for Windows.)
func replace(path string, whole []byte) error {
	if to, err := filepath.EvalSymlinks(path); err == nil {
		path = to
	}
	mode := fs.FileMode(0o666) // less what the system's mask takes away
	old, err := os.Stat(path)
	if err == nil {
		mode = old.Mode().Perm()
	}
	f, err := create(filepath.Dir(path), mode)
	if err != nil {
		return plainly(err)
	}
	defer os.Remove(f.Name()) // gone already if all went well
	_, err = f.Write(whole)
	err = errors.Join(err, f.Sync())
	if old != nil {
		err = errors.Join(err, f.Chmod(mode))
	}
	if err := errors.Join(err, f.Close()); err != nil {
		return plainly(err)
	}
	return plainly(os.Rename(f.Name(), path))
}

// create makes a new file of a name that nobody has. os.CreateTemp would make one
// that only its owner may read.
func create(dir string, mode fs.FileMode) (f *os.File, err error) {
	for n := range 1000 {
		name := filepath.Join(dir, fmt.Sprintf(".dialwright-%d-%d", os.Getpid(), n))
		if f, err = os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode); !errors.Is(err, fs.ErrExist) {
			return f, err
		}
	}
	return nil, err
}

// plainly drops the temporary file's name from an error.
func plainly(err error) error {
	var p *fs.PathError
	var l *os.LinkError
	switch {
	case errors.As(err, &p):
		return p.Err
	case errors.As(err, &l):
		return l.Err
	}
	return err
}
