// Command dialwright models the way from a turned encoder knob to the number on
// the screen, and the person who turns it. README.md says what for.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"time"

	"dialwright/scenarios/file"
)

// longest is how long a program that was interrupted may take to sum up what is
// finished.
const longest = 10 * time.Second

func main() {
	ctx, interrupt := context.WithCancel(context.Background())
	signals := make(chan os.Signal, 1)
	for _, s := range []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP} {
		if !signal.Ignored(s) { // as nohup has it
			signal.Notify(signals, s)
		}
	}
	go func() {
		<-signals
		interrupt()
		select { // patience ends with the second
		case <-signals:
		case <-time.After(longest):
		}
		end(exitInterrupted)
	}()
	end(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// end leaves no half written file behind.
func end(code int) {
	file.Abandon()
	os.Exit(code)
}
