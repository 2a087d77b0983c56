package main

import "runtime/debug"

// version returns the module's version, or the revision that it was built from.
func version() string {
	b, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	if v := b.Main.Version; v != "" && v != "(devel)" {
		return v
	}
	return "devel"
}
