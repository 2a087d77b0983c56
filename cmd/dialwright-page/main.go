//go:build js

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
