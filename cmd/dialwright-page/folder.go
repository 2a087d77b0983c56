//go:build !js

package main

import (
	"log"
	"os"
	"path/filepath"

	"dialwright/scenarios/workbench"
)

func main() {
	if len(os.Args) != 2 {
		log.Fatal("the folder for the page was not named; the script build beside this does what is needed")
	}
	for name, text := range workbench.Page() {
		if err := os.WriteFile(filepath.Join(os.Args[1], name), text, 0o666); err != nil {
			log.Fatal(err)
		}
	}
}
