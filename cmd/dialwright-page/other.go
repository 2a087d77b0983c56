//go:build !js

package main

import "log"

func main() { log.Fatal("this runs in a browser: the script build beside it makes it") }
