// Command release builds dialwright for every system that it is made for, and puts
// each program into an archive with what the licences ask for and a bill of
// materials (CycloneDX). The same commit gives the same bytes in whatever folder.
//
//	go run -C .ci/tools ./release SOURCE TARGET
package main

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"debug/buildinfo"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

// targets are the systems and processors.
var targets = []string{"linux/amd64", "linux/arm64", "darwin/amd64", "darwin/arm64", "windows/amd64", "windows/arm64"}

// made is the time that every file in an archive has: any time will do that is the
// same for all, and old enough for no file to come from the future.
var made = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// member is a file in an archive.
type member struct {
	name    string
	mode    int64
	content []byte
}

func main() {
	if len(os.Args) != 3 {
		fmt.Fprintln(os.Stderr, "usage: release SOURCE TARGET")
		os.Exit(2)
	}
	if err := release(os.Args[1], os.Args[2]); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func release(source, to string) error {
	if err := os.MkdirAll(to, 0o777); err != nil {
		return err
	}
	var sums strings.Builder
	for _, target := range targets {
		name, whole, err := archive(source, target)
		if err != nil {
			return fmt.Errorf("%s: %w", target, err)
		}
		if err := os.WriteFile(filepath.Join(to, name), whole, 0o666); err != nil {
			return err
		}
		fmt.Fprintf(&sums, "%x  %s\n", sha256.Sum256(whole), name)
		fmt.Println(name, len(whole))
	}
	return os.WriteFile(filepath.Join(to, "SHA256SUMS"), []byte(sums.String()), 0o666)
}

// archive returns the archive for a target.
func archive(source, target string) (name string, whole []byte, err error) {
	goos, goarch, _ := strings.Cut(target, "/")
	program := "dialwright"
	if goos == "windows" {
		program += ".exe"
	}
	built, err := build(source, goos, goarch, program)
	if err != nil {
		return "", nil, err
	}
	bill, err := billOf(built)
	if err != nil {
		return "", nil, err
	}
	base := "dialwright-" + goos + "-" + goarch
	members := []member{{base + "/" + program, 0o755, built}, {base + "/bom.json", 0o644, bill}}
	for _, file := range []string{"LICENSE", "README.md", "cmd/dialwright/notices.txt"} {
		text, err := os.ReadFile(filepath.Join(source, file))
		if err != nil {
			return "", nil, err
		}
		members = append(members, member{base + "/" + filepath.Base(file), 0o644, text})
	}
	if goos == "windows" {
		whole, err = zipped(members)
		return base + ".zip", whole, err
	}
	whole, err = tarred(members)
	return base + ".tar.gz", whole, err
}

// build returns the program for a system. Nothing of the folder and the machine
// goes into it, nor does HTTP/2, which no browser speaks without TLS (0.36 MB).
func build(source, goos, goarch, program string) ([]byte, error) {
	dir, err := os.MkdirTemp("", "release")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	out := filepath.Join(dir, program)
	c := exec.Command("go", "build", "-trimpath", "-buildvcs=true", "-tags=nethttpomithttp2", "-ldflags=-s -w -buildid=", "-o", out, "./cmd/dialwright")
	c.Dir, c.Stderr = source, os.Stderr
	c.Env = append(os.Environ(), "GOOS="+goos, "GOARCH="+goarch, "CGO_ENABLED=0", "GOFLAGS=", "GOAMD64=v1", "GOWORK=off")
	if err := c.Run(); err != nil {
		return nil, err
	}
	return os.ReadFile(out)
}

// component is one of the modules in a bill of materials.
type component struct {
	Type    string `json:"type"`
	Name    string `json:"name"`
	Version string `json:"version,omitempty"`
	PURL    string `json:"purl,omitempty"`
	Hashes  []hash `json:"hashes,omitempty"`
}

type hash struct {
	Alg     string `json:"alg"`
	Content string `json:"content"`
}

// billOf lists what a program was built from, as the program itself says, as
// CycloneDX 1.6 (ECMA-424).
func billOf(program []byte) ([]byte, error) {
	is, err := buildinfo.Read(bytes.NewReader(program))
	if err != nil {
		return nil, err
	}
	parts := []component{{Type: "library", Name: "std", Version: strings.TrimPrefix(is.GoVersion, "go"), PURL: "pkg:golang/std@" + strings.TrimPrefix(is.GoVersion, "go")}}
	for _, m := range is.Deps {
		if m.Replace != nil {
			return nil, errors.New(m.Path + " is replaced; a release is built from what go.mod names")
		}
		parts = append(parts, component{Type: "library", Name: m.Path, Version: m.Version, PURL: "pkg:golang/" + m.Path + "@" + m.Version})
	}
	text, err := json.MarshalIndent(map[string]any{
		"bomFormat": "CycloneDX", "specVersion": "1.6", "version": 1,
		"metadata": map[string]any{"component": component{Type: "application", Name: is.Main.Path, Version: is.Main.Version,
			Hashes: []hash{{"SHA-256", fmt.Sprintf("%x", sha256.Sum256(program))}}}},
		"components": parts,
	}, "", "  ")
	return append(text, '\n'), err
}

func tarred(members []member) ([]byte, error) {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	t := tar.NewWriter(z)
	for _, m := range members {
		if err := t.WriteHeader(&tar.Header{Name: m.name, Mode: m.mode, Size: int64(len(m.content)), ModTime: made, Format: tar.FormatUSTAR}); err != nil {
			return nil, err
		}
		if _, err := t.Write(m.content); err != nil {
			return nil, err
		}
	}
	err := errors.Join(t.Close(), z.Close())
	return b.Bytes(), err
}

func zipped(members []member) ([]byte, error) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, m := range members {
		h := &zip.FileHeader{Name: m.name, Method: zip.Deflate, Modified: made}
		h.SetMode(os.FileMode(m.mode))
		w, err := z.CreateHeader(h)
		if err != nil {
			return nil, err
		}
		if _, err := w.Write(m.content); err != nil {
			return nil, err
		}
	}
	err := z.Close()
	return b.Bytes(), err
}
