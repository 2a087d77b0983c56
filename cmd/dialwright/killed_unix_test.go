//go:build unix

package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net/url"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// linked starts the workbench on a port, 0 for any, and returns its link.
func linked(t *testing.T, dir, port string) (*started, *url.URL) {
	t.Helper()
	r, w := io.Pipe()
	s := start(t, dir, nil, w, io.Discard, "serve", "--no-open", "--port", port, "--dir", dir)
	lines := bufio.NewReader(r)
	line, err := lines.ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	go func() { _, _ = io.Copy(io.Discard, lines) }()
	link, err := url.Parse(strings.TrimSpace(strings.TrimPrefix(line, "The workbench: ")))
	if err != nil {
		t.Fatal(err)
	}
	return s, link
}

// tab is a page in a browser.
type tab struct {
	*testing.T
	ctx context.Context
}

// says waits until the page shows a sentence.
func (b *tab) says(what string) {
	b.Helper()
	for {
		text, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`document.body?.innerText ?? ""`))
		if err == nil && strings.Contains(text, what) {
			return
		}
		if end, limited := b.Deadline(); limited && time.Until(end) < 10*time.Second || b.ctx.Err() != nil {
			b.Fatalf("the page never says %q, but (%v)\n%s", what, err, text)
		}
		time.Sleep(30 * time.Millisecond)
	}
}

// does runs a script.
func (b *tab) does(script string) {
	b.Helper()
	if _, err := chromedp.Run(b.ctx, chromedp.Evaluate[any](`(() => {`+script+`; return null})()`)); err != nil {
		b.Fatal(err)
	}
}

func (b *tab) opens(link *url.URL) {
	b.Helper()
	if err := chromedp.Do(b.ctx, chromedp.Navigate("about:blank"), chromedp.Navigate(link.String())); err != nil {
		b.Fatal(err)
	}
	b.says("How many of your clicks are lost?")
	b.does(`location.hash = "#dial"`)
}

// keys presses keys, with the focus where the page has put it.
func (b *tab) keys(keys string) {
	b.Helper()
	if err := chromedp.Do(b.ctx, chromedp.KeyEvent(keys)); err != nil {
		b.Fatal(err)
	}
}

const press = `[...document.querySelectorAll("button")].find((b) => b.textContent.startsWith(%q)).click()`

// The server is killed while a number is dialed: the dialing goes on, nothing that was
// dialed is lost, the page says what happened where it needs the server, and goes on when
// there is one again. So it is after a crash of the page.
func TestADialingOutlivesServerAndPage(t *testing.T) {
	if testing.Short() {
		t.Skip("opens a browser")
	}
	chromium, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("no Chromium is installed here")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium), chromedp.WSURLReadTimeout(patient))
	if os.Getuid() == 0 {
		options = append(options, chromedp.NoSandbox)
	}
	all, stop := chromedp.NewExecAllocator(t.Context(), options...)
	defer stop()
	ctx, shut := chromedp.NewContext(all)
	defer shut()
	b := &tab{t, ctx}
	dir := t.TempDir()
	server, link := linked(t, dir, "0")

	b.opens(link)
	b.says("pairs can show")
	b.does(`for (const s of document.querySelectorAll("select")) {
		if ([...s.options].some((o) => o.value === "drag")) { s.value = "drag"; s.dispatchEvent(new Event("change")); }
	}`)
	b.does(fmt.Sprintf(press, "Begin"))
	b.says("For practice, 1 of")
	b.keys("\r")
	b.says("Enter when it is right")
	b.keys("\x1b")
	b.says("Given up")
	b.keys("\r")
	b.says("Enter when it is right")
	if err := server.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	<-server.done
	b.keys("\x1b") // the dialing ends without the server
	b.says("For practice, 3 of")
	b.does(fmt.Sprintf(press, "Stop for now"))
	b.says("The server does not answer")
	b.says("is kept in this browser")

	_, again := linked(t, dir, link.Port())
	b.says("The server does not know this page: open the link") // another key
	b.opens(again)
	b.says("Go on with dialing 3 of")
	b.says("2 dialings of the last time are kept")
	b.does(fmt.Sprintf(press, "Go on with dialing"))
	b.says("For practice, 3 of")
	b.keys("\r")
	b.says("Enter when it is right")
	b.keys("\x1b")
	b.says("For practice, 4 of")

	crash, end := context.WithTimeout(ctx, 2*time.Second) // a page that has crashed answers no more
	defer end()
	_, _ = chromedp.Call(crash, page.Crash, cdp.Empty{})
	other, shutOther := chromedp.NewContext(ctx)
	defer shutOther()
	b = &tab{t, other}
	b.opens(again)
	b.says("Go on with dialing 4 of")
	b.says("3 dialings of the last time are kept")
}
