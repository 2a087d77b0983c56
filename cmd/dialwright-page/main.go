//go:build js

// Command dialwright-page is the engine of the page in a browser, as WebAssembly: it
// gives a worker one function, dialwright(request, tell), that answers a request of
// package workbench by calling tell with line after line. The script build beside it
// makes a folder that any web server can show.
package main

import (
	"context"
	"syscall/js"

	"dialwright/scenarios/workbench"
)

func main() {
	js.Global().Set("dialwright", js.FuncOf(func(_ js.Value, args []js.Value) any {
		request, tell := []byte(args[0].String()), args[1]
		go workbench.Tell(context.Background(), request, func(line []byte) { tell.Invoke(string(line)) })
		return nil
	}))
	select {} // a worker is ended from outside
}
