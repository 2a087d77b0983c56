// Command dialwright models the way from a turned encoder knob to the number on
// the screen, and the person who turns it. README.md says what for.
//
// # Screens
//
// A study prints its answer on one screen of 80 columns, or of the terminal it is
// printed on, from 60; --detail has all tables and sentences. Where LC_ALL, LC_CTYPE or
// LANG, the first that is set, does not say UTF-8, tables, sentences, errors and help
// are ASCII. What programs read is not changed: CSV, YAML, C and HTML are UTF-8. There
// is no colour. The shell completes names: dialwright completion bash (or zsh, fish,
// powershell).
//
// # JSON
//
// Every result also comes as --format json. It begins with the command, the version, the
// format, the seed, whether it is partial, and the SHA-256 of every file used. Names end
// in their unit, shares are 0 to 1, a quantile among timeouts is null. dialwright check
// --schema compare (overshoot, explain, tune, fit, follow, evidence, report) prints the
// JSON Schema. The format, now 1, rises when a field goes away or changes its meaning,
// its unit or its kind. New fields may come at any time, and the words of sentences may
// change; so do the numbers when the model learns something.
//
// # What it leaves behind
//
// A file is written whole or not at all, and never over one that is read. Ctrl-C ends a
// command: what was finished is printed, or stands beside the file it was meant for
// (report-partial.html), marked; a second Ctrl-C ends it at once. A recording grows on
// the disk while it is made, so that little is lost whatever happens; one that broke off
// is known as such, and fits. What is kept on the workbench's page (serve) goes into new
// files of one folder. Exit codes:
//
//	0    done; serve was told to end
//	1    failed, or the system refused to read or write a file
//	2    wrong usage, or a file whose content cannot be used; nothing was written
//	3    done, but something checked does not hold
//	70   the program itself is at fault; please report what it says
//	130  interrupted
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
	args := os.Args[1:]
	if clicked(args) {
		args = []string{"serve"}
	}
	end(run(ctx, args, os.Stdin, os.Stdout, os.Stderr))
}

// end leaves no half written file behind.
func end(code int) {
	file.Abandon()
	os.Exit(code)
}
