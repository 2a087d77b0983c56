package file

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"strings"
	"sync"
	"time"

	"dialwright/scenarios/columns"
)

// systemFailure is what the system refused: a file that cannot be read, a full
// disk, a folder that may not be written to.
type systemFailure struct{ error }

func (f systemFailure) Unwrap() error { return f.error }

// IsSystemFailure says whether the system refused to read or write a file, in
// contrast to a file whose content is refused, or that may not be replaced.
func IsSystemFailure(err error) bool {
	var f systemFailure
	var p *fs.PathError
	return errors.As(err, &f) || errors.As(err, &p)
}

// patience is how long something that was begun may go on after an interrupt.
const patience = 300 * time.Millisecond

// Aside does something that the system may keep waiting for ever, such as opening
// a pipe that nobody writes to. When the context ends it waits a moment longer and
// returns the context's error; what was begun is then left to itself.
func Aside(ctx context.Context, do func() error) error {
	done := make(chan func() error, 1)
	go func() {
		defer func() {
			if p := recover(); p != nil {
				text := fmt.Sprintf("%v\n%s", p, debug.Stack())
				done <- func() error { panic(text) } // in the caller, who can say more
			}
		}()
		err := do()
		done <- func() error { return err }
	}()
	select {
	case end := <-done:
		return end()
	case <-ctx.Done():
	}
	select {
	case end := <-done:
		return end()
	case <-time.After(patience):
		return ctx.Err()
	}
}

// CheckOutput says before any work is done whether a file can be written: its
// folder is there and takes new files; what has the name may be written to, and
// where it is a regular file, is replaced only by force.
func CheckOutput(path string, force bool) error {
	shown := columns.Line(path)
	if path == "" {
		return errors.New("the name is empty; the name of a file would do")
	}
	i, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return systemFailure{plainError(path, err)}
	case i.IsDir():
		return systemFailure{fmt.Errorf("%s: this is a directory; a file would do", shown)}
	case i.Mode().IsRegular() && !force:
		return fmt.Errorf("%s: the file exists; --force replaces it", shown)
	case i.Mode()&fs.ModeSocket != 0:
		return systemFailure{fmt.Errorf("%s: this is a socket; a file would do", shown)}
	case !i.Mode().IsRegular():
		return nil
	default:
		f, err := os.OpenFile(path, os.O_WRONLY, 0)
		if err != nil {
			return systemFailure{fmt.Errorf("%s: cannot be written: %w", shown, plainly(err))}
		}
		f.Close()
	}
	to, err := followed(path)
	if err == nil {
		var f *os.File
		if f, err = create(filepath.Dir(to), 0o600); err == nil {
			err = errors.Join(f.Close(), discard(f.Name()))
		}
	}
	if errors.Is(err, fs.ErrNotExist) {
		return systemFailure{fmt.Errorf("%s: there is no folder %s", shown, columns.Line(filepath.Dir(to)))}
	}
	if err != nil {
		return systemFailure{fmt.Errorf("%s: cannot be written: %w", shown, plainly(err))}
	}
	return nil
}

// WriteOutput writes a whole file or nothing: what write gives goes to a new file
// that takes the name at the end. What is no regular file (a device, a pipe) is
// written to directly.
func WriteOutput(ctx context.Context, path string, force bool, write func(io.Writer) error) error {
	if err := CheckOutput(path, force); err != nil {
		return err
	}
	var text bytes.Buffer
	if err := write(&text); err != nil {
		return err
	}
	if i, err := os.Stat(path); err == nil && !i.Mode().IsRegular() {
		return Aside(ctx, func() error { return writeThrough(path, text.Bytes()) })
	}
	if err := replace(path, text.Bytes()); err != nil {
		return systemFailure{fmt.Errorf("%s: %w", columns.Line(path), err)}
	}
	return nil
}

// writeThrough writes to what is no regular file.
func writeThrough(path string, text []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return systemFailure{plainError(path, err)}
	}
	_, err = f.Write(text)
	if err := errors.Join(err, f.Close()); err != nil {
		return systemFailure{fmt.Errorf("%s: %w", columns.Line(path), plainly(err))}
	}
	return nil
}

// replace writes a new file beside path and gives it the name and, where there is
// a file already, its owner and permissions. A link stays a link. (The library for
// this, renameio, does not build for Windows.)
func replace(path string, text []byte) error {
	path, err := followed(path)
	if err != nil {
		return plainly(err)
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
	_, err = f.Write(text)
	if old != nil {
		err = errors.Join(err, keepOwner(f, old), f.Chmod(mode))
	}
	if err = errors.Join(err, f.Sync()); err == nil {
		err = closeInto(f, path)
	} else {
		f.Close()
	}
	if err != nil {
		discard(f.Name())
		return plainly(err)
	}
	return nil
}

// Rename gives a finished file another name, in place of what has it, for good:
// also after a power cut.
func Rename(from, to string) error {
	to, err := followed(to)
	if err != nil {
		return err
	}
	if err := os.Rename(from, to); err != nil {
		return err
	}
	syncFolder(filepath.Dir(to))
	return nil
}

// Same says whether two paths mean one file, there already or not.
func Same(a, b string) bool {
	if x, err := os.Stat(a); err == nil {
		if y, err := os.Stat(b); err == nil {
			return os.SameFile(x, y)
		}
	}
	x, y := whole(a), whole(b)
	if runtime.GOOS == "windows" || runtime.GOOS == "darwin" { // file systems that keep capitals but do not tell them apart
		return strings.EqualFold(x, y)
	}
	return x == y
}

// whole returns a path from the root, without links as far as it is there.
func whole(path string) string {
	path, _ = followed(path)
	if abs, err := filepath.Abs(path); err == nil {
		path = abs
	}
	if dir, err := filepath.EvalSymlinks(filepath.Dir(path)); err == nil {
		path = filepath.Join(dir, filepath.Base(path))
	}
	return path
}

// mostLinks is how many links in a row are followed, as many as Linux follows.
const mostLinks = 40

// followed returns what a path means where it is a link, also one to a file that
// is not there yet.
func followed(path string) (string, error) {
	for range mostLinks {
		i, err := os.Lstat(path)
		if err != nil || i.Mode()&fs.ModeSymlink == 0 {
			return path, nil
		}
		to, err := os.Readlink(path)
		if err != nil {
			return path, err
		}
		if !filepath.IsAbs(to) {
			to = filepath.Join(filepath.Dir(path), to)
		}
		path = to
	}
	return path, errors.New("too many links")
}

// temporary begins the names of files that are being written.
const temporary = ".dialwright-"

// unfinished holds the names of the files that this process is writing, so that
// it leaves none behind when it is ended.
var unfinished = struct {
	sync.Mutex
	names map[string]bool
}{names: map[string]bool{}}

// Abandon takes away what is half written, for a process that is about to end.
// Nothing is written whole after it.
func Abandon() {
	unfinished.Lock() // and never unlocked
	for name := range unfinished.names {
		os.Remove(name)
	}
}

// create makes a new file of a name that nobody has, after taking away what dead
// processes left in the folder. os.CreateTemp would make one that only its owner
// may read. The file is held (see hold) while its process lives.
func create(dir string, mode fs.FileMode) (f *os.File, err error) {
	unfinished.Lock()
	defer unfinished.Unlock()
	sweep(dir)
	for n := range 1000 {
		name := filepath.Join(dir, fmt.Sprintf("%s%d-%d", temporary, os.Getpid(), n))
		f, err = os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		if !hold(f) { // another process swept it away before it was held
			f.Close()
			continue
		}
		unfinished.names[name] = true
		return f, nil
	}
	return nil, err
}

// closeInto ends a file and gives it its name.
func closeInto(f *os.File, path string) error {
	unfinished.Lock()
	defer unfinished.Unlock()
	err := finish(f, path)
	if err == nil {
		delete(unfinished.names, f.Name())
		syncFolder(filepath.Dir(path))
	}
	return err
}

// discard takes a file away that was not finished.
func discard(name string) error {
	unfinished.Lock()
	defer unfinished.Unlock()
	delete(unfinished.names, name)
	return os.Remove(name)
}

// sweep takes away files that processes left which died while they wrote. What
// cannot be swept stays.
func sweep(dir string) {
	names, err := filepath.Glob(filepath.Join(escapedGlob(dir), temporary+"*"))
	if err != nil {
		return
	}
	for _, name := range names {
		if i, err := os.Lstat(name); err == nil && i.Mode().IsRegular() && !unfinished.names[name] && abandoned(name) {
			os.Remove(name)
		}
	}
}

// escapedGlob returns a folder's name as a pattern that fits it alone.
func escapedGlob(dir string) string {
	return strings.NewReplacer(`*`, `[*]`, `?`, `[?]`, `[`, `[[]`).Replace(dir)
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
