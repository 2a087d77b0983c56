package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"

	"github.com/inconshreveable/mousetrap"
)

// open opens a link in the browser of whoever sits here. Elsewhere than on Windows
// everybody may read with which arguments a process was started, so the browser gets a
// file that only its owner can read, and the link is in there; done takes it away.
func open(link string) (done func(), err error) {
	done = func() {}
	if runtime.GOOS == "windows" {
		return done, exec.Command("rundll32", "url.dll,FileProtocolHandler", link).Start()
	}
	dir, err := os.MkdirTemp("", "dialwright-") // that only its owner can read
	if err != nil {
		return nil, err
	}
	done = func() { os.RemoveAll(dir) }
	name := filepath.Join(dir, "workbench.html")
	page := fmt.Sprintf("<!doctype html><meta charset=\"utf-8\"><meta http-equiv=\"refresh\" content=\"0; url=%s\"><title>dialwright</title>\n", link)
	if err := os.WriteFile(name, []byte(page), 0o600); err != nil {
		done()
		return nil, err
	}
	opener := "xdg-open"
	if runtime.GOOS == "darwin" {
		opener = "open"
	}
	c := exec.Command(opener, name)
	if err := c.Start(); err != nil {
		done()
		return nil, err
	}
	go c.Wait()
	return done, nil
}

// clicked says whether the program was started by a double-click and nobody reads what
// it prints: on Windows the desktop made its console, on macOS launchd started it
// without a terminal. Elsewhere a program without a terminal may be anybody's script.
func clicked(args []string) bool {
	if len(args) > 0 {
		return false
	}
	switch runtime.GOOS {
	case "windows":
		return mousetrap.StartedByExplorer()
	case "darwin":
		return os.Getppid() == 1 && !isTerminal(os.Stdin) && !isTerminal(os.Stdout)
	}
	return false
}
