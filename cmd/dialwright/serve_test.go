package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"dialwright/scenarios/workbench"
)

// served is a workbench that answers on a port of this machine.
type served struct {
	*bench
	address string // of IPv4
	end     context.CancelFunc
	ended   chan error
}

func serving(t *testing.T) *served {
	t.Helper()
	ctx, end := context.WithCancel(context.Background())
	b := newBench(ctx, filepath.Join(t.TempDir(), "kept"))
	listeners, err := loopback(0)
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range listeners {
		if !l.Addr().(*net.TCPAddr).IP.IsLoopback() {
			t.Errorf("%v is reached from other machines", l.Addr())
		}
	}
	b.at(listeners[0].Addr().(*net.TCPAddr).Port)
	s := &served{b, b.hosts[0], end, make(chan error, 1)}
	go func() { s.ended <- b.serve(ctx, listeners) }()
	t.Cleanup(func() {
		end()
		if err := <-s.ended; err != nil {
			t.Errorf("the server ends with %v", err)
		}
		s.ended <- nil
	})
	return s
}

// request is one of the page's own.
func (s *served) request(ctx context.Context, method, path, body string) *http.Request {
	r, err := http.NewRequestWithContext(ctx, method, "http://"+s.address+path, strings.NewReader(body))
	if err != nil {
		panic(err)
	}
	r.AddCookie(&http.Cookie{Name: s.cookie, Value: s.token})
	r.Header.Set("Origin", "http://"+s.address)
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	if method == "POST" {
		r.Header.Set("Content-Type", "application/json")
	}
	return r
}

// Nobody gets anything but the page itself: table of attacks with what each got.
func TestNobodyElseGetsIn(t *testing.T) {
	s := serving(t)
	const ask, keep = `{"study":"list"}`, `{"name":"mine.yaml","text":"kind: rig"}`
	header := func(name, value string) func(*http.Request) {
		return func(r *http.Request) { r.Header.Set(name, value) }
	}
	for _, x := range []struct {
		what, method, path, body string
		change                   func(*http.Request)
		status                   int
	}{
		{"the page itself", "GET", "/", "", nil, 200},
		{"a module of the page", "GET", "/engine.js", "", nil, 200},
		{"its question", "POST", "/ask", ask, nil, 200},
		{"a file to keep", "POST", "/keep", keep, nil, 200},
		{"no token", "GET", "/", "", header("Cookie", ""), 403},
		{"no token, a question", "POST", "/ask", ask, header("Cookie", ""), 403},
		{"no token, the folder", "GET", "/kept", "", header("Cookie", ""), 403},
		{"another token", "POST", "/ask", ask, header("Cookie", s.cookie+"="+strings.Repeat("A", len(s.token))), 403},
		{"the beginning of the token", "POST", "/ask", ask, header("Cookie", s.cookie+"="+s.token[:8]), 403},
		{"a link with another token", "GET", "/open/AAAA", "", header("Cookie", ""), 403},
		{"a link without a token", "GET", "/open/", "", header("Cookie", ""), 403},
		{"another origin", "POST", "/ask", ask, header("Origin", "http://evil.example"), 403},
		{"another origin reads", "GET", "/kept", "", header("Origin", "http://evil.example"), 403},
		{"another port of this machine", "POST", "/ask", ask, header("Origin", "http://127.0.0.1:1"), 403},
		{"an origin that hides", "POST", "/ask", ask, header("Origin", "null"), 403},
		{"another site without an origin", "POST", "/ask", ask, func(r *http.Request) { r.Header.Del("Origin"); r.Header.Set("Sec-Fetch-Site", "cross-site") }, 403},
		{"another port without an origin", "POST", "/keep", keep, func(r *http.Request) { r.Header.Del("Origin"); r.Header.Set("Sec-Fetch-Site", "same-site") }, 403},
		{"DNS rebinding", "GET", "/", "", func(r *http.Request) { r.Host = "evil.example:80"; r.Header.Set("Origin", "http://evil.example") }, 421},
		{"DNS rebinding, the same port", "POST", "/ask", ask, func(r *http.Request) {
			r.Host = strings.Replace(s.address, "127.0.0.1", "evil.example", 1)
			r.Header.Set("Origin", "http://"+r.Host)
		}, 421},
		{"a host without its port", "GET", "/", "", func(r *http.Request) { r.Host = "127.0.0.1"; r.Header.Del("Origin") }, 421},
		{"a form post", "POST", "/keep", "name=a.yaml&text=b", header("Content-Type", "application/x-www-form-urlencoded"), 415},
		{"a form post that looks like JSON", "POST", "/keep", keep, header("Content-Type", "text/plain"), 415},
		{"a body too large", "POST", "/ask", "", func(r *http.Request) {
			r.ContentLength, r.Body = workbench.MostBytes+1, io.NopCloser(zeros{})
			r.Header.Set("Expect", "100-continue")
		}, 413},
		{"a body without an end", "POST", "/ask", "", func(r *http.Request) {
			r.ContentLength, r.Body = -1, io.NopCloser(zeros{})
			r.Header.Set("Expect", "100-continue")
		}, 411},
		{"a listing", "GET", "/page/", "", nil, 404},
		{"a listing of the folder above", "GET", "/..", "", nil, 404},
		{"a file of the system", "GET", "/..%2f..%2f..%2fetc%2fpasswd", "", nil, 404},
		{"a file of the system, windows", "GET", `/..%5c..%5cwindows%5cwin.ini`, "", nil, 404},
		{"what was kept", "GET", "/kept/dialwright-mine.yaml", "", nil, 404},
		{"another method", "PUT", "/keep", keep, nil, 405},
		{"a preflight", "OPTIONS", "/ask", "", func(r *http.Request) {
			r.Header.Set("Origin", "http://evil.example")
			r.Header.Set("Access-Control-Request-Method", "POST")
		}, 403},
	} {
		t.Run(x.what, func(t *testing.T) {
			r := s.request(t.Context(), x.method, x.path, x.body)
			if x.change != nil {
				x.change(r)
			}
			client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true, ExpectContinueTimeout: time.Minute}, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
			got, err := client.Do(r)
			if err != nil {
				t.Fatal(err)
			}
			defer got.Body.Close()
			body, _ := io.ReadAll(got.Body)
			if got.StatusCode != x.status && !(x.status == 404 && got.StatusCode/100 == 3) {
				t.Errorf("gets %d, want %d: %.200s", got.StatusCode, x.status, body)
			}
			if x.status != 200 && (bytes.Contains(body, []byte("<script")) || bytes.Contains(body, []byte(s.token)) || bytes.Contains(body, []byte("answer"))) {
				t.Errorf("is told %.300s", body)
			}
			if p := got.Header.Get("Content-Security-Policy"); p != policy || strings.Contains(p, "unsafe") || got.Header.Get("Access-Control-Allow-Origin") != "" {
				t.Errorf("headers %v", got.Header)
			}
		})
	}
	if names, _ := filepath.Glob(filepath.Join(filepath.Dir(s.dir), "*", "*")); len(names) != 1 || filepath.Base(names[0]) != "dialwright-mine.yaml" {
		t.Errorf("kept: %q", names)
	}
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

// The link gives a cookie that scripts cannot read and other sites do not send.
func TestTheLinkGivesACookie(t *testing.T) {
	s := serving(t)
	got, err := http.Get("http://" + s.address + "/open/" + s.token)
	if err != nil {
		t.Fatal(err)
	}
	got.Body.Close()
	cookies := got.Cookies()
	if got.StatusCode != 200 || len(cookies) != 1 || !cookies[0].HttpOnly || cookies[0].SameSite != http.SameSiteStrictMode || cookies[0].Value != s.token {
		t.Errorf("%d, %v", got.StatusCode, cookies)
	}
}

// What is kept has a name of ours, in the folder, and replaces nothing.
func TestKeptFilesHaveNamesOfOurs(t *testing.T) {
	s := serving(t)
	for _, x := range []struct{ asked, kept string }{
		{"my rig.yaml", "dialwright-my-rig.yaml"}, {"my rig.yaml", "dialwright-my-rig-2.yaml"},
		{"../../../etc/passwd.yaml", "dialwright-etc-passwd.yaml"}, {`..\..\x.csv`, "dialwright-x.csv"}, {"/etc/x.json", "dialwright-etc-x.json"},
		{"CON.h", "dialwright-con.h"}, {".yaml", "dialwright-kept.yaml"}, {"\x00\n.md", "dialwright-kept.md"}, {"ÄÖ.svg", "dialwright-kept.svg"},
		{strings.Repeat("x", 5000) + ".js", "dialwright-" + strings.Repeat("x", 40) + ".js"},
		{"a.exe", ""}, {"a", ""}, {"", ""}, {"a.yaml/", ""}, {"a.yaml:stream", ""}, {"a.sh", ""},
	} {
		body, _ := json.Marshal(map[string]string{"name": x.asked, "text": "a: 1\n"})
		got, err := http.DefaultClient.Do(s.request(t.Context(), "POST", "/keep", string(body)))
		if err != nil {
			t.Fatal(err)
		}
		var reply struct{ Path string }
		_ = json.NewDecoder(got.Body).Decode(&reply)
		got.Body.Close()
		if x.kept == "" {
			if got.StatusCode != http.StatusUnprocessableEntity {
				t.Errorf("%q is kept as %s", x.asked, reply.Path)
			}
		} else if reply.Path != filepath.Join(s.dir, x.kept) {
			t.Errorf("%q is kept as %q", x.asked, reply.Path)
		}
	}
	// A link to elsewhere is not written through.
	elsewhere := filepath.Join(t.TempDir(), "elsewhere.yaml")
	if os.Symlink(elsewhere, filepath.Join(s.dir, "dialwright-linked.yaml")) == nil {
		if path, err := s.place("linked.yaml"); err != nil || filepath.Base(path) != "dialwright-linked-2.yaml" {
			t.Errorf("a link: %s, %v", path, err)
		}
	}
}

// Requests that are cancelled whenever, a client that vanishes and one that does not
// read leave no goroutine, no place taken and no file.
func TestCancelledRequestsLeaveNothing(t *testing.T) {
	s := serving(t)
	if got, err := http.DefaultClient.Do(s.request(t.Context(), "GET", "/kept", "")); err == nil { // by now all of it runs
		got.Body.Close()
	}
	http.DefaultClient.CloseIdleConnections()
	time.Sleep(50 * time.Millisecond)
	before := runtime.NumGoroutine()
	temporary := func() []string { names, _ := filepath.Glob(filepath.Join(os.TempDir(), "dialwright*")); return names }
	files := temporary()
	random := rand.New(rand.NewPCG(20, 0))
	client := &http.Client{Transport: &http.Transport{}}
	studies := []string{"compare", "explain", "tune", "overshoot", "report"}
	for n := range 20 {
		ctx, cancel := context.WithCancel(t.Context())
		time.AfterFunc(time.Duration(random.IntN(150))*time.Millisecond, cancel)
		got, err := client.Do(s.request(ctx, "POST", "/ask", fmt.Sprintf(`{"study":%q,"flags":{"trials":20000}}`, studies[n%len(studies)])))
		if err == nil {
			text, _ := io.ReadAll(got.Body)
			got.Body.Close()
			if bytes.Contains(text, []byte("partial")) {
				t.Errorf("a cancelled study answers %.200s", text)
			}
		}
		cancel()
	}
	for _, vanish := range []func(*net.TCPConn){
		func(c *net.TCPConn) { c.SetLinger(0) }, // a reset
		func(c *net.TCPConn) { c.CloseWrite() },
	} {
		c, err := net.Dial("tcp", s.address)
		if err != nil {
			t.Fatal(err)
		}
		const body = `{"study":"compare","flags":{"trials":20000}}`
		fmt.Fprintf(c, "POST /ask HTTP/1.1\r\nHost: %s\r\nCookie: %s=%s\r\nContent-Type: application/json\r\nContent-Length: %d\r\n\r\n%s", s.address, s.cookie, s.token, len(body), body)
		vanish(c.(*net.TCPConn))
		c.Close()
	}
	client.CloseIdleConnections()
	deadline := time.Now().Add(time.Minute)
	for (runtime.NumGoroutine() > before || s.asked.Load() > 0 || len(s.running) > 0 || s.received.Load() > 0) && time.Now().Before(deadline) {
		time.Sleep(20 * time.Millisecond)
	}
	if n := runtime.NumGoroutine(); n > before || s.asked.Load() > 0 || len(s.running) > 0 || s.received.Load() > 0 {
		stacks := make([]byte, 1<<20)
		t.Errorf("%d goroutines, %d before; %d asked, %d running, %d bytes\n%s", n, before, s.asked.Load(), len(s.running), s.received.Load(), stacks[:runtime.Stack(stacks, true)])
	}
	if now := temporary(); !slices.Equal(now, files) {
		t.Errorf("files are left: %q, before %q", now, files)
	}
}

// Everybody of a hundred gets the same answer, and a client that sends or reads slowly
// keeps nobody waiting.
func TestAHundredClients(t *testing.T) {
	if testing.Short() {
		t.Skip("computes much")
	}
	s := serving(t)
	slow, err := net.Dial("tcp", s.address)
	if err != nil {
		t.Fatal(err)
	}
	defer slow.Close()
	fmt.Fprintf(slow, "POST /ask HTTP/1.1\r\nHost: %s\r\nCookie: %s=%s\r\nContent-Type: application/json\r\nContent-Length: 1000\r\n\r\n{", s.address, s.cookie, s.token)
	answers := make([]string, 100)
	var all sync.WaitGroup
	for i := range answers {
		all.Go(func() {
			got, err := http.DefaultClient.Do(s.request(t.Context(), "POST", "/ask", `{"study":"compare","args":["plain","power"],"flags":{"trials":20,"task":"heading"}}`))
			if err != nil {
				t.Error(err)
				return
			}
			defer got.Body.Close()
			for lines := json.NewDecoder(got.Body); ; {
				var l struct {
					Answer *workbench.Answer
					Faults []string
				}
				if err := lines.Decode(&l); err != nil || l.Faults != nil {
					t.Error(err, l.Faults)
					return
				}
				if l.Answer != nil {
					answers[i] = l.Answer.JSON
					return
				}
			}
		})
	}
	all.Wait()
	for i, a := range answers {
		if a == "" || a != answers[0] {
			t.Fatalf("client %d gets %.100q, the first %.100q", i, a, answers[0])
		}
	}
}

// A server ends at once, whatever it does.
func TestTheServerEnds(t *testing.T) {
	s := serving(t)
	go http.DefaultClient.Do(s.request(t.Context(), "POST", "/ask", `{"study":"tune","flags":{"trials":20000}}`))
	for s.asked.Load() == 0 {
		time.Sleep(time.Millisecond)
	}
	s.end()
	select {
	case err := <-s.ended:
		if err != nil {
			t.Error(err)
		}
		s.ended <- nil
	case <-time.After(time.Minute):
		t.Fatal("it does not end")
	}
	if _, err := http.Get("http://" + s.address + "/"); err == nil {
		t.Error("it still answers")
	}
}

// A page gets the very bytes that the command prints.
func TestAPageGetsTheBytesOfTheCommand(t *testing.T) {
	desktop(t)
	for _, x := range asks {
		if testing.Short() && (x.Study == "tune" || x.Study == "report") {
			continue
		}
		t.Run(fmt.Sprint(x.Study, x.Args, x.line), func(t *testing.T) {
			r := &workbench.Request{Study: x.Study, Args: x.Args, Flags: map[string]json.RawMessage{}, Files: files(t)}
			delete(r.Files, "folder")
			args := append([]string{x.Study}, x.Args...)
			for i := 0; i < len(x.line); i += 2 {
				value, _ := json.Marshal(x.line[i+1])
				if n := x.line[i+1]; strings.Trim(n, "0123456789") == "" {
					value = []byte(n)
				}
				r.Flags[x.line[i]] = value
				args = append(args, "--"+x.line[i], x.line[i+1])
			}
			a, err := workbench.Ask(t.Context(), r, nil)
			if err != nil {
				t.Fatal(err)
			}
			if x.text {
				_, out, _ := ran(t, args...)
				if a.Text != out {
					t.Errorf("the page gets\n%.300s\nthe command prints\n%.300s", a.Text, out)
				}
				return
			}
			_, out, errs := ran(t, append(args, "--format", "json")...)
			if a.JSON != out || out == "" {
				t.Errorf("the page gets\n%.300s\nthe command prints\n%.300s%s", a.JSON, out, errs)
			}
			if drawn := map[string]int{"explain": 1, "tune": 1, "follow": 1}[x.Study]; len(a.Figures) != drawn && x.Study != "report" {
				t.Errorf("the page gets %d figures, want %d", len(a.Figures), drawn)
			}
			if x.Study == "report" {
				if _, out, _ := ran(t, append(args, "--format", "html")...); a.Text != out || len(a.Figures) < 5 {
					t.Errorf("the page gets another report, with %d figures", len(a.Figures))
				}
			}
		})
	}
}

// asks are requests of every study: flags and their values in turn.
var asks = []struct {
	Study string
	Args  []string
	line  []string
	text  bool
}{
	{"compare", []string{"plain", "profile.yaml"}, []string{"trials", "30", "task", "heading", "seed", "3"}, false},
	{"compare", nil, []string{"trials", "20", "panel", "panel.yaml"}, false},
	{"explain", nil, []string{"trials", "20", "task", "heading", "what-if", "firmware.pulse=40ms"}, false},
	{"overshoot", []string{"heading"}, []string{"trials", "30", "rig", "rig.yaml"}, false},
	{"tune", nil, []string{"trials", "20", "task", "heading", "rig", "rig.yaml"}, false},
	{"fit", []string{"knob.csv"}, []string{"turned", "7"}, false},
	{"fit", nil, []string{"dialed", "dialings.jsonl", "operator", "expert", "seed", "3"}, false},
	{"fit", nil, []string{"count", "turned 24 in 12s shown 24"}, false},
	{"follow", nil, []string{"turn", "12 in 500ms", "rig", "rig.yaml"}, false},
	{"follow", nil, []string{"task", "heading", "trial", "3"}, false},
	{"report", nil, []string{"trials", "20", "task", "heading"}, false},
	{"check", []string{"rig.yaml", "faulty.yaml"}, nil, false},
	{"list", []string{"rigs"}, nil, false},
	{"show", []string{"left-pulse"}, nil, true},
	{"export", []string{"power"}, []string{"as", "c"}, true},
	{"export", []string{"profile.yaml"}, []string{"as", "json"}, true},
	{"export", []string{"power"}, []string{"as", "card", "trials", "20", "task", "heading"}, true},
}
