package main

import (
	"bytes"
	"cmp"
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"mime"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/spf13/cobra"

	"dialwright/scenarios/columns"
	"dialwright/scenarios/file"
	"dialwright/scenarios/workbench"
)

func newServe(s streams) *cobra.Command {
	var port int
	var quietly bool
	var dir string
	c := &cobra.Command{
		Use:   "serve",
		Short: "Open the workbench: a page for your own knob, in your browser",
		Long: `Serve shows a page in the browser of this machine: turn your own knob, dial real
tasks blind under two settings, shape what is set, and keep what you found. The page
works out what the other commands do, with this program; nothing goes to another
machine, and no other machine, user or page gets in: the link that is printed has a
key, made anew at each start.

What you keep on the page goes into --dir as new files; nothing there is replaced or
read. On Windows a double-click on the program does this, and on macOS an app that
starts it without a terminal. Ctrl-C ends it.`,
		Example: `  dialwright serve
  dialwright serve --no-open --port 8080 --dir my-knob`,
		Args: cobra.NoArgs,
	}
	f := c.Flags()
	f.IntVar(&port, "port", usualPort, "port on this machine; 0 takes any that is free. What the browser remembers of your knob belongs to the port")
	f.BoolVar(&quietly, "no-open", false, "print the link and do not open a browser")
	f.StringVar(&dir, "dir", "", "folder for what you keep (default dialwright in your home folder)")
	c.RunE = func(c *cobra.Command, _ []string) error {
		if port < 0 || port > 65535 {
			return fmt.Errorf("--port: %d; 0 to 65535 would do", port)
		}
		if dir == "" {
			home, err := os.UserHomeDir()
			if err != nil {
				return failure{fmt.Errorf("%w; --dir with a folder for what you keep would do", err)}
			}
			dir = filepath.Join(home, "dialwright")
		} else if i, err := os.Stat(dir); err == nil && !i.IsDir() {
			return fmt.Errorf("--dir: %s is a file; a folder would do", columns.Line(dir))
		} else if err := os.MkdirAll(dir, 0o777); err != nil {
			return failure{fmt.Errorf("--dir: %w; a folder that can be made would do", err)}
		}
		b := newBench(c.Context(), dir)
		listeners, err := loopback(port)
		if err != nil && port == usualPort && !c.Flags().Changed("port") {
			fmt.Fprintf(printed(s.err), "port %d is taken, so this is another one; what the browser remembers of your knob stays with %d\n", port, port)
			listeners, err = loopback(0)
		}
		if err != nil {
			return failure{fmt.Errorf("--port: %w", err)}
		}
		link := b.at(listeners[0].Addr().(*net.TCPAddr).Port)
		fmt.Fprintf(printed(s.out), "The workbench: %s\nCtrl-C ends it. What you keep goes into %s.\n", link, columns.Line(dir))
		if !quietly {
			if done, err := open(link); err != nil {
				fmt.Fprintf(printed(s.err), "no browser could be opened (%v); open the link yourself\n", err)
			} else {
				defer done()
			}
		}
		return b.serve(c.Context(), listeners)
	}
	return c
}

// usualPort is where the workbench is found; ours, not assigned to anybody by IANA. It
// stays the same, since a browser keeps what it remembers by port.
const usualPort = 27427

// Bounds of the server; ours.
const (
	mostStudies  = 128       // that run or wait
	mostReceived = 256 << 20 // bytes of requests at a time
	longestStudy = 15 * time.Minute
	longestBody  = time.Minute      // that a request may take to arrive
	longestLine  = 10 * time.Second // that a line of an answer may wait for its reader
	graceful     = 300 * time.Millisecond
	mostKept     = 10_000 // files
)

// bench is the workbench as a server.
type bench struct {
	token    string
	page     map[string][]byte // by name
	dir      string
	ends     context.Context
	hosts    []string // names that the server has
	cookie   string
	running  chan struct{} // a place for each study that may run
	asked    atomic.Int64  // studies that run or wait
	received atomic.Int64  // bytes of requests
	keeping  sync.Mutex
}

// newBench returns a workbench that keeps files in a folder and ends with a context.
func newBench(ends context.Context, dir string) *bench {
	return &bench{token: rand.Text(), page: workbench.Page(), dir: dir, ends: ends, running: make(chan struct{}, max(2, runtime.NumCPU()))}
}

// loopback listens on a port of this machine, for this machine only.
func loopback(port int) ([]net.Listener, error) {
	four, err := net.Listen("tcp4", net.JoinHostPort("127.0.0.1", strconv.Itoa(port)))
	if err != nil {
		return nil, err
	}
	port = four.Addr().(*net.TCPAddr).Port
	six, err := net.Listen("tcp6", net.JoinHostPort("::1", strconv.Itoa(port)))
	if err != nil { // no IPv6 here, or the port is taken there
		return []net.Listener{four}, nil
	}
	return []net.Listener{four, six}, nil
}

// at tells the workbench its port, and returns the link to it.
func (b *bench) at(port int) (link string) {
	for _, host := range []string{"127.0.0.1", "::1", "localhost"} {
		b.hosts = append(b.hosts, net.JoinHostPort(host, strconv.Itoa(port)))
	}
	b.cookie = "dialwright-" + strconv.Itoa(port) // browsers send cookies to every port of a host
	return "http://" + b.hosts[0] + "/open/" + b.token
}

// serve answers until the context ends, and a little longer.
func (b *bench) serve(ctx context.Context, listeners []net.Listener) error {
	server := &http.Server{
		Handler: b.handler(), BaseContext: func(net.Listener) context.Context { return ctx },
		ReadHeaderTimeout: longestLine, ReadTimeout: longestBody, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 16 << 10,
	}
	failed := make(chan error, len(listeners))
	for _, l := range listeners {
		go func() { failed <- server.Serve(l) }()
	}
	var err error
	select {
	case <-ctx.Done():
	case err = <-failed:
	}
	last, stop := context.WithTimeout(context.Background(), graceful)
	defer stop()
	if server.Shutdown(last) != nil {
		server.Close()
	}
	if err != nil && !errors.Is(err, http.ErrServerClosed) {
		return failure{err}
	}
	return nil
}

// handler is the workbench behind its door.
func (b *bench) handler() http.Handler {
	inside := http.NewServeMux()
	inside.HandleFunc("GET /{$}", b.show)
	inside.HandleFunc("GET /{name}", b.show)
	inside.HandleFunc("GET /engine.json", func(w http.ResponseWriter, _ *http.Request) {
		writeReply(w, map[string]any{"via": "http", "version": workbench.Version()})
	})
	inside.HandleFunc("POST /ask", b.ask)
	inside.HandleFunc("POST /keep", b.keep)
	inside.HandleFunc("GET /kept", b.kept)
	door := http.NewServeMux()
	door.HandleFunc("GET /open/{token}", b.open)
	door.Handle("/", b.known(inside))
	var cross http.CrossOriginProtection
	return b.own(cross.Handler(door))
}

// policy is what the page may load: its own files, and nothing inline.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// own lets through what is meant for this server by its own page: a name of another
// host that points here (DNS rebinding) is not, nor is a request of another origin.
func (b *bench) own(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		for name, value := range map[string]string{
			"Content-Security-Policy": policy, "Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Embedder-Policy": "require-corp",
			"Cross-Origin-Resource-Policy": "same-origin", "X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer", "Cache-Control": "no-store",
		} {
			h.Set(name, value)
		}
		if !slices.Contains(b.hosts, r.Host) {
			http.Error(w, "this is not the host that you asked for", http.StatusMisdirectedRequest)
			return
		}
		if origin := r.Header.Get("Origin"); origin != "" && origin != "http://"+r.Host {
			http.Error(w, "this is for its own page", http.StatusForbidden)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// open takes the key of the link, and gives the browser a cookie for it. The page is
// gone to from here, and not redirected to: a browser sends a strict cookie only where
// this site leads, and whoever opened the link is another.
func (b *bench) open(w http.ResponseWriter, r *http.Request) {
	if !b.is(r.PathValue("token")) {
		http.Error(w, "this link is not, or no longer, good; dialwright serve prints the one that is", http.StatusForbidden)
		return
	}
	http.SetCookie(w, &http.Cookie{Name: b.cookie, Value: b.token, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode})
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	io.WriteString(w, `<!doctype html><meta charset="utf-8"><meta http-equiv="refresh" content="0; url=/"><title>dialwright</title><p><a href="/">The workbench</a>`)
}

func (b *bench) is(token string) bool {
	return subtle.ConstantTimeCompare([]byte(token), []byte(b.token)) == 1
}

// known lets through whoever has the cookie.
func (b *bench) known(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if c, err := r.Cookie(b.cookie); err != nil || !b.is(c.Value) {
			http.Error(w, "open the link that dialwright serve printed", http.StatusForbidden)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// show serves a file of the page.
func (b *bench) show(w http.ResponseWriter, r *http.Request) {
	name := cmp.Or(r.PathValue("name"), "index.html")
	text, ok := b.page[name]
	if !ok {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", contentType(name))
	http.ServeContent(w, r, name, time.Time{}, bytes.NewReader(text))
}

// contentType says what a file of the page is. What a system's registry says of
// endings may be anything.
func contentType(name string) string {
	switch filepath.Ext(name) {
	case ".js":
		return "text/javascript; charset=utf-8"
	case ".css":
		return "text/css; charset=utf-8"
	case ".html":
		return "text/html; charset=utf-8"
	case ".svg":
		return "image/svg+xml"
	}
	return cmp.Or(mime.TypeByExtension(filepath.Ext(name)), "application/octet-stream")
}

// body reads the JSON of a request. Its length is known beforehand, so that what all
// requests take together is bounded; release gives that back.
func (b *bench) body(w http.ResponseWriter, r *http.Request) (text []byte, release func(), ok bool) {
	kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type"))
	switch n := r.ContentLength; {
	case kind != "application/json":
		http.Error(w, "application/json would do", http.StatusUnsupportedMediaType)
	case n < 0:
		http.Error(w, "the length would do", http.StatusLengthRequired)
	case n > workbench.MostBytes:
		http.Error(w, fmt.Sprintf("%d bytes; %d or fewer would do", n, workbench.MostBytes), http.StatusRequestEntityTooLarge)
	case b.received.Add(n) > mostReceived:
		b.received.Add(-n)
		http.Error(w, "too much at a time; try again in a moment", http.StatusServiceUnavailable)
	default:
		text, err := io.ReadAll(http.MaxBytesReader(w, r.Body, n))
		release = sync.OnceFunc(func() { b.received.Add(-n) })
		if err != nil {
			release()
			http.Error(w, "the request broke off", http.StatusBadRequest)
			return nil, nil, false
		}
		return text, release, true
	}
	return nil, nil, false
}

// ask answers a request line by line. Whoever goes away cancels it.
func (b *bench) ask(w http.ResponseWriter, r *http.Request) {
	defer b.asked.Add(-1)
	if b.asked.Add(1) > mostStudies {
		http.Error(w, "too many studies at a time; try again in a moment", http.StatusServiceUnavailable)
		return
	}
	request, release, ok := b.body(w, r)
	if !ok {
		return
	}
	defer release()
	select {
	case b.running <- struct{}{}:
		defer func() { <-b.running }()
	case <-r.Context().Done():
		return
	}
	ctx, stop := context.WithTimeout(r.Context(), longestStudy)
	defer stop()
	w.Header().Set("Content-Type", "application/x-ndjson")
	to := http.NewResponseController(w)
	tell := func(line []byte) {
		_ = to.SetWriteDeadline(time.Now().Add(longestLine))
		if _, err := w.Write(append(line, '\n')); err != nil || to.Flush() != nil {
			stop()
		}
	}
	workbench.Tell(ctx, request, tell)
	if errors.Is(ctx.Err(), context.DeadlineExceeded) {
		tell([]byte(fmt.Sprintf(`{"faults":["the study took longer than %s and was ended; fewer trials would do"]}`, longestStudy)))
	}
}

// keep writes a file under the folder, by a name that nothing there has.
func (b *bench) keep(w http.ResponseWriter, r *http.Request) {
	text, release, ok := b.body(w, r)
	if !ok {
		return
	}
	defer release()
	var asked struct{ Name, Text string }
	if err := json.Unmarshal(text, &asked); err != nil {
		http.Error(w, "a name and a text would do", http.StatusBadRequest)
		return
	}
	b.keeping.Lock()
	defer b.keeping.Unlock()
	path, err := b.place(asked.Name)
	if err == nil {
		err = file.WriteOutput(r.Context(), path, false, func(w io.Writer) error {
			_, err := io.WriteString(w, asked.Text)
			return err
		})
	}
	if err != nil {
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
		return
	}
	writeReply(w, map[string]string{"path": path})
}

// keptEndings are the kinds of files that are kept.
var keptEndings = []string{".yaml", ".json", ".jsonl", ".csv", ".h", ".js", ".md", ".html", ".svg"}

var notOurs = regexp.MustCompile(`[^a-z0-9]+`)

// place returns the path for a file to keep, and makes the folder. Of the name that
// somebody wrote letters, digits and the ending stay; what Windows takes for a device
// gets a number.
func (b *bench) place(name string) (string, error) {
	ending := strings.ToLower(filepath.Ext(name))
	if !slices.Contains(keptEndings, ending) {
		return "", fmt.Errorf("the name ends in none of %s", strings.Join(keptEndings, ", "))
	}
	stem := strings.Trim(notOurs.ReplaceAllString(strings.ToLower(name[:len(name)-len(ending)]), "-"), "-")
	stem = cmp.Or(strings.TrimRight(stem[:min(len(stem), 40)], "-"), "kept")
	if err := os.MkdirAll(b.dir, 0o777); err != nil {
		return "", err
	}
	for n := 1; n < mostKept; n++ {
		path := filepath.Join(b.dir, "dialwright-"+stem+ending)
		if n > 1 {
			path = filepath.Join(b.dir, fmt.Sprintf("dialwright-%s-%d%s", stem, n, ending))
		}
		if _, err := os.Lstat(path); errors.Is(err, fs.ErrNotExist) {
			return path, nil
		}
	}
	return "", fmt.Errorf("%d files of this name are there; another folder would do", mostKept)
}

// kept lists what was kept.
func (b *bench) kept(w http.ResponseWriter, _ *http.Request) {
	names := []string{}
	entries, err := os.ReadDir(b.dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
		return
	}
	for _, e := range entries {
		if e.Type().IsRegular() && strings.HasPrefix(e.Name(), "dialwright-") && slices.Contains(keptEndings, filepath.Ext(e.Name())) {
			names = append(names, e.Name())
		}
	}
	writeReply(w, map[string]any{"names": names})
}

func writeReply(w http.ResponseWriter, reply any) {
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(reply) // whoever asked may be gone
}
