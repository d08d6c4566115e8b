package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/rand"
	"crypto/tls"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/signal"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"packwright/internal/ca"
)

// intruder is somebody on the same network who may do nothing here. What it does
// is bounded in count and time, and goes to the one address it is given.
type intruder struct {
	name, addr, https, plain string   // of the server
	tokens                   []string // that were good once
	secrets                  []string // texts that only the team's data and keys hold
	client                   *http.Client
	until, latest            time.Time // of the flood, and of everything

	mu    sync.Mutex
	tally tally
}

// tally is the outcome of one kind of attack.
type tally struct {
	Attack  string         `json:"attack"`
	Tries   int            `json:"tries"`
	Answers map[string]int `json:"answers"` // by status, or what stood for one
	Inside  []string       `json:"inside"`  // what got through
	TookMS  int64          `json:"took_ms"`
}

// intruderMain is the command intruder. It prints one tally for each attack, as
// JSON in a line, and ends with status 1 if anything got through. With -trap it
// waits for victims instead, until it is interrupted.
func intruderMain() {
	var i intruder
	flag.StringVar(&i.name, "name", "pit.local", "name of the server")
	flag.StringVar(&i.addr, "addr", "", "its address")
	flag.StringVar(&i.https, "https", "8443", "its port for HTTPS")
	flag.StringVar(&i.plain, "plain", "8088", "its port for the welcome page")
	tokens := flag.String("tokens", "", "old tokens, with commas between")
	secrets := flag.String("secrets", "", "texts that must not be seen, with commas between")
	long := flag.Duration("for", 15*time.Second, "time to attack, at most a minute")
	crowd := flag.Int("crowd", 0, "only guess codes, from so many addresses that this machine has beside its first")
	trap := flag.Bool("trap", false, "pose as the server, and serve a page that attacks it from a visitor's browser")
	flag.Parse()
	if *trap {
		if err := setTrap(i.name, i.https); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	if addr := net.ParseIP(i.addr); addr == nil || !addr.IsPrivate() {
		fmt.Fprintln(os.Stderr, "the address must be a private one")
		os.Exit(2)
	}
	i.tokens = strings.Split(*tokens, ",")
	i.secrets = append(strings.Split(*secrets, ","), "PRIVATE KEY", "root:x:0:0", `"token_sha256"`)
	i.secrets = slices.DeleteFunc(i.secrets, func(s string) bool { return s == "" })
	i.until = time.Now().Add(min(*long, time.Minute))
	i.latest = i.until.Add(30 * time.Second)
	if *crowd > 0 {
		if err := i.guessTogether(min(*crowd, 100), os.Stdout); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	if !i.attack(os.Stdout) {
		os.Exit(1)
	}
}

// attack guesses codes, and then does everything else while thousands of connections
// are held open that say nothing or too little.
func (i *intruder) attack(w io.Writer) (nothing bool) {
	i.client = i.newClient(nil)
	holding, letGo := context.WithDeadline(context.Background(), i.until)
	defer letGo()
	var held sync.WaitGroup
	var slow atomic.Int64
	nothing = true
	report := json.NewEncoder(w)
	for n, a := range []struct {
		name string
		try  func()
	}{
		{"guessed codes", i.guess},
		{"old tokens", i.replay},
		{"malformed bodies", i.malform},
		{"tricks with paths", i.paths},
		{"tricks with names", i.names},
		{"in clear", i.inClear},
		{"other sites' pages", i.otherSites},
		{"bodies too large", i.oversize},
		{"a flood of requests", i.flood},
	} {
		i.tally = tally{Attack: a.name, Answers: map[string]int{}, Inside: []string{}}
		begin := time.Now()
		a.try()
		if n == 0 {
			held.Go(func() { i.hold(holding, &slow) })
		}
		i.tally.TookMS = time.Since(begin).Milliseconds()
		nothing = nothing && len(i.tally.Inside) == 0
		_ = report.Encode(i.tally) // to stdout
	}
	held.Wait()
	_ = report.Encode(tally{Attack: "slow connections", Tries: min(int(slow.Load()), maxHeld), Answers: map[string]int{}, Inside: []string{}})
	return nothing
}

// newClient asks the server's address for every name, from one of this machine's own
// addresses or any. It does not care whom it talks to.
func (i *intruder) newClient(from net.Addr) *http.Client {
	dialer := &net.Dialer{Timeout: 10 * time.Second, LocalAddr: from}
	return &http.Client{
		Timeout:       20 * time.Second,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		Transport: &http.Transport{
			DialContext: func(ctx context.Context, _, to string) (net.Conn, error) {
				_, port, err := net.SplitHostPort(to)
				if err != nil {
					return nil, err
				}
				return dialer.DialContext(ctx, "tcp", net.JoinHostPort(i.addr, port))
			},
			TLSClientConfig:   &tls.Config{InsecureSkipVerify: true, ServerName: i.name},
			ForceAttemptHTTP2: true,
		},
	}
}

// maxHeld connections are opened in all, and heldAtOnce are kept if they last.
const (
	maxHeld    = 6000
	heldAtOnce = 2000
)

// hold opens connections that send nothing, half a header, or a body a byte a
// second, as fast as 16 hands can, until ctx ends.
func (i *intruder) hold(ctx context.Context, opened *atomic.Int64) {
	begin := map[int]string{
		1: "GET /api/v1/health HTTP/1.1\r\nHost: " + i.name + "\r\nX-Slow: ",
		2: "POST /api/v1/join HTTP/1.1\r\nHost: " + i.name + "\r\nContent-Type: application/json\r\nContent-Length: 5000\r\n\r\n{",
	}
	room := make(chan struct{}, heldAtOnce)
	var hands, held sync.WaitGroup
	for hand := range 16 {
		hands.Go(func() {
			for n := hand; ctx.Err() == nil && opened.Add(1) <= maxHeld; n++ {
				port := [...]string{i.https, i.plain}[n/3%2]
				conn, err := (&net.Dialer{Timeout: time.Second}).DialContext(ctx, "tcp", net.JoinHostPort(i.addr, port))
				if err != nil {
					continue
				}
				room <- struct{}{}
				held.Go(func() {
					defer func() { <-room }()
					if port == i.https && n%3 > 0 {
						conn = tls.Client(conn, &tls.Config{InsecureSkipVerify: true, ServerName: i.name})
					}
					defer conn.Close()
					stop := context.AfterFunc(ctx, func() { conn.Close() })
					defer stop()
					_, err := io.WriteString(conn, begin[n%3])
					for err == nil && n%3 > 0 && ctx.Err() == nil {
						select {
						case <-ctx.Done():
						case <-time.After(time.Second):
							_, err = io.WriteString(conn, " ")
						}
					}
					if err == nil {
						_, _ = io.Copy(io.Discard, conn) // until it is closed
					}
				})
			}
		})
	}
	hands.Wait()
	held.Wait()
}

// see notes an answer: what shows a secret, or is a success where none may be, got through.
func (i *intruder) see(what string, status int, body []byte, mayPass bool) {
	i.mu.Lock()
	defer i.mu.Unlock()
	i.tally.Tries++
	i.tally.Answers[fmt.Sprint(status)]++
	if status < 300 && !mayPass {
		i.tally.Inside = append(i.tally.Inside, fmt.Sprintf("%s: %d %.200s", what, status, body))
	}
	for _, secret := range i.secrets {
		if bytes.Contains(body, []byte(secret)) {
			i.tally.Inside = append(i.tally.Inside, fmt.Sprintf("%s shows %q", what, secret))
		}
	}
}

var errTooLate = errors.New("the time is over")

// cut notes a try that ended without an answer.
func (i *intruder) cut(err error) {
	how := "cut off"
	if errors.Is(err, errTooLate) {
		how = "not tried"
	} else if timeout, ok := errors.AsType[net.Error](err); ok && timeout.Timeout() {
		how = "no answer"
	}
	i.mu.Lock()
	defer i.mu.Unlock()
	i.tally.Tries++
	i.tally.Answers[how]++
}

// ask sends one request through an HTTP client.
func (i *intruder) ask(method, url string, body io.Reader, mayPass bool, header ...string) {
	req, err := http.NewRequest(method, url, body)
	if err == nil && time.Now().After(i.latest) {
		err = errTooLate
	}
	if err != nil {
		i.cut(err)
		return
	}
	if method == http.MethodPost {
		req.Header.Set("Content-Type", "application/json")
	}
	for n := 0; n+1 < len(header); n += 2 {
		req.Header.Set(header[n], header[n+1])
	}
	resp, err := i.client.Do(req)
	if err != nil {
		i.cut(err)
		return
	}
	defer resp.Body.Close()
	content, _ := io.ReadAll(io.LimitReader(resp.Body, 1<<20)) // what came of it is looked at
	what := method + " " + url + " " + strings.Join(header, " ")
	i.see(what, resp.StatusCode, content, mayPass)
	if resp.Header.Get("Access-Control-Allow-Origin") != "" {
		i.mu.Lock()
		defer i.mu.Unlock()
		i.tally.Inside = append(i.tally.Inside, what+" is allowed to pages elsewhere")
	}
}

func (i *intruder) secure() string { return "https://" + i.name + ":" + i.https }

// note is an entry that would be taken from a device.
func (i *intruder) note() []byte {
	return push(note(77_000_000+i.tally.Tries, "by the intruder"))
}

// forAnyone are the routes that strangers may use; they tell nothing.
func forAnyone(path string) bool { return path == "/api/v1/health" || path == "/api/v1/trusted" }

// replay sends tokens that were good once, and some that never were, to every route.
func (i *intruder) replay() {
	tokens := append(slices.Clone(i.tokens), rand.Text(), "", "here", strings.Repeat("A", 43))
	for _, token := range tokens {
		for _, r := range routes() {
			path := strings.ReplaceAll(r.path, ":id", "01M1DZRPK005QPWS8000000001")
			for _, header := range [][]string{{"Cookie", cookieName + "=" + token}, {"Authorization", "Bearer " + token}} {
				var body io.Reader
				if r.method == http.MethodPost {
					body = bytes.NewReader(i.note())
				}
				i.ask(r.method, i.secure()+path, body, forAnyone(path), header...)
			}
		}
	}
}

// guess tries codes, as fast as they are answered.
func (i *intruder) guess() {
	i.guesses(40)
}

func (i *intruder) guesses(n int) {
	for range n {
		code := strings.ReplaceAll(rand.Text()[:8], "U", "0") // of the letters that codes have
		body := `{"code":"` + code + `","name":"phone","device":"d"}`
		i.ask(http.MethodPost, i.secure()+"/api/v1/join", strings.NewReader(body), false)
	}
}

// guessTogether guesses from the addresses of a whole network, each as often as it may.
func (i *intruder) guessTogether(crowd int, w io.Writer) error {
	own, err := net.InterfaceAddrs()
	if err != nil {
		return err
	}
	i.tally = tally{Attack: "codes guessed together", Answers: map[string]int{}, Inside: []string{}}
	for _, addr := range own {
		ip, _, err := net.ParseCIDR(addr.String())
		if err != nil || ip.To4() == nil || ip.IsLoopback() || crowd == 0 {
			continue
		}
		crowd--
		i.client = i.newClient(&net.TCPAddr{IP: ip})
		i.guesses(5)
		i.client.CloseIdleConnections()
	}
	return json.NewEncoder(w).Encode(i.tally)
}

// malform sends what is not quite JSON, or too much of it.
func (i *intruder) malform() {
	deep := strings.Repeat("[", 200_000)
	for _, body := range []string{"", "{", "null", "[]", `"x"`, "\x00", "\xff\xfe{}", `{"code":1}`, `{"code":null,"code":{}}`, `{"code":1e999}`,
		`{"code":"` + strings.Repeat("A", 60_000) + `"}`, deep, `{"entries":` + deep, `{"entries":[{"id":` + strings.Repeat("9", 50_000) + "}]}",
		`{"name":"` + `\ud800` + `","code":"AAAAAAAA"}`, `{} {}`, "{\"__proto__\":{}}", "%7B%7D"} {
		for _, path := range []string{"/api/v1/join", "/api/v1/entries", "/api/v1/devices/change"} {
			i.ask(http.MethodPost, i.secure()+path, strings.NewReader(body), false)
			i.ask(http.MethodPost, i.secure()+path, strings.NewReader(body), false, "Content-Type", "text/plain")
			i.ask(http.MethodPost, i.secure()+path, strings.NewReader(body), false, "Content-Encoding", "gzip")
		}
	}
}

// raw sends bytes as they are and reads one answer.
func (i *intruder) raw(port, text string, mayPass bool) {
	dialer := &net.Dialer{Timeout: 10 * time.Second}
	to := net.JoinHostPort(i.addr, port)
	conn, err := dialer.Dial("tcp", to)
	if err == nil && time.Now().After(i.latest) {
		conn.Close()
		err = errTooLate
	}
	if err == nil && port == i.https {
		conn = tls.Client(conn, &tls.Config{InsecureSkipVerify: true, ServerName: i.name})
	}
	if err != nil {
		i.cut(err)
		return
	}
	defer conn.Close()
	conn.SetDeadline(time.Now().Add(10 * time.Second))
	if _, err := io.WriteString(conn, text); err != nil {
		i.cut(err)
		return
	}
	resp, err := http.ReadResponse(bufio.NewReader(conn), nil)
	if err != nil {
		i.cut(err)
		return
	}
	defer resp.Body.Close()
	content, _ := io.ReadAll(io.LimitReader(resp.Body, 1<<20)) // what came of it is looked at
	line, _, _ := strings.Cut(text, "\r\n")
	kind := resp.Header.Get("Content-Type")
	i.see(line, resp.StatusCode, content, mayPass && !strings.HasPrefix(kind, "application/json"))
}

// paths are ways to say a path that a check and a handler may read differently.
// Files of the app may come, and its page for paths that it may know, but never an
// answer of the API and nothing from beside the app.
func (i *intruder) paths() {
	tricks := []string{"/../api/v1/entries", "/%2e%2e/api/v1/entries", "//api/v1/entries", "/api//v1/entries", "/api/v1/../v1/entries",
		"/API/v1/entries", "/api/V1/entries", "/%61pi/v1/entries", "/api%2fv1%2fentries", "/api/v1/entries%00", "/api/v1/entries%00.js", "/api/v1/entries/",
		"/api/v1/entries;x=1", "/api/v1/entries%20", "/./api/v1/entries", "/assets/../api/v1/entries", `/api\v1\entries`, "/api/v1/journal.jsonl/.",
		"/assets/../../../../../../etc/passwd", "/assets/%2e%2e/%2e%2e/%2e%2e/%2e%2e/etc/passwd", "/..%2f..%2f..%2f..%2fetc%2fpasswd", `/..\..\..\..\etc\passwd`,
		"/%2e%2e%2fdata-keys%2fauthority.pem", "/../data-keys/authority.pem", "/../data-keys/devices.json", "/../data/journal.jsonl", "/ca.crt/../../data-keys/authority.pem",
		"/welcome/../welcome.go", "/welcome/page.html%00", "/index.html%00.wasm", "/%c0%ae%c0%ae/etc/passwd", "/api/v1/live#", "/?/api/v1/entries",
		"http://127.0.0.1:8080/api/v1/entries", "http://localhost/api/v1/devices", "https://" + i.name + "/api/v1/entries", "*", "/\x00", "/api/v1/entries\t"}
	for _, port := range []string{i.https, i.plain} {
		for _, path := range tricks {
			for _, method := range []string{"GET", "HEAD", "POST", "PUT", "OPTIONS", "get"} {
				i.raw(port, method+" "+path+" HTTP/1.1\r\nHost: "+i.name+":"+port+"\r\nContent-Type: application/json\r\nContent-Length: 2\r\nConnection: close\r\n\r\n{}", true)
			}
		}
	}
}

// names pretend that the request is from this machine, or for another one.
func (i *intruder) names() {
	for _, host := range []string{"127.0.0.1:8080", "127.0.0.1:8443", "localhost", "[::1]:8080", "evil.example", "", "pit.local.evil.example", "127.1", "0", "pit.local@evil.example"} {
		for _, more := range []string{"", "X-Forwarded-For: 127.0.0.1\r\nX-Real-IP: 127.0.0.1\r\nForwarded: for=127.0.0.1;host=localhost;proto=https\r\nX-Forwarded-Host: localhost\r\n",
			"X-Original-URL: /api/v1/entries\r\nX-HTTP-Method-Override: GET\r\n", "Host: " + i.name + "\r\n",
			"Transfer-Encoding: chunked\r\nContent-Length: 4\r\n\r\n0\r\n\r\nGET /api/v1/entries HTTP/1.1\r\nHost: localhost\r\n"} {
			for _, path := range []string{"/api/v1/entries", "/api/v1/devices", "/api/v1/journal.jsonl"} {
				i.raw(i.https, "GET "+path+" HTTP/1.1\r\nHost: "+host+"\r\n"+more+"Connection: close\r\n\r\n", false)
			}
		}
	}
}

// inClear asks every route over plain HTTP, and speaks HTTP where TLS is expected.
func (i *intruder) inClear() {
	for _, r := range routes() {
		for _, token := range i.tokens {
			i.ask(r.method, "http://"+i.name+":"+i.plain+r.path, bytes.NewReader(i.note()), false, "Cookie", cookieName+"="+token)
		}
		i.ask(r.method, "http://"+i.name+":"+i.https+r.path, nil, false)
	}
}

// otherSites sends what a page elsewhere could make a browser send.
func (i *intruder) otherSites() {
	for _, r := range routes() {
		if forAnyone(r.path) {
			continue
		}
		for _, origin := range []string{"https://evil.example", "null", "http://" + i.name + ":" + i.plain, "https://" + i.name, "https://" + i.addr + ":" + i.https} {
			i.ask(r.method, i.secure()+r.path, bytes.NewReader(i.note()), false, "Origin", origin, "Sec-Fetch-Site", "cross-site", "Sec-Fetch-Mode", "no-cors")
			i.ask("OPTIONS", i.secure()+r.path, nil, true, "Origin", origin, "Access-Control-Request-Method", r.method)
		}
	}
}

// oversize sends bodies of 8 MiB, with and without saying so before.
func (i *intruder) oversize() {
	for _, path := range []string{"/api/v1/join", "/api/v1/entries", "/api/v1/invitations", "/", "/index.html"} {
		for _, tell := range []bool{true, false} {
			var body io.Reader = bytes.NewReader(make([]byte, 8<<20))
			if !tell {
				body = io.MultiReader(body)
			}
			i.ask(http.MethodPost, i.secure()+path, body, false)
		}
		i.raw(i.https, "POST "+path+" HTTP/1.1\r\nHost: "+i.name+"\r\nContent-Type: application/json\r\nContent-Length: 99999999999\r\nConnection: close\r\n\r\n{", false)
	}
	i.raw(i.https, "GET /api/v1/health HTTP/1.1\r\nHost: "+i.name+"\r\nX: "+strings.Repeat("x", 64<<10)+"\r\n\r\n", false)
}

// flood asks for what costs the server most without a token, 200 times a second at most, for the time that is left.
func (i *intruder) flood() {
	paths := []string{"/api/v1/health", "/api/v1/entries", "/api/v1/labels.pdf", "/api/v1/live", "/index.html"}
	var hands sync.WaitGroup
	for hand := range 8 {
		hands.Go(func() {
			for n := hand; time.Now().Before(i.until); n++ {
				path := paths[n%len(paths)]
				i.ask(http.MethodGet, i.secure()+path, nil, forAnyone(path) || path == "/index.html")
				time.Sleep(40 * time.Millisecond)
			}
		})
	}
	hands.Wait()
}

// trapPage has a visitor's browser ask the server for all that a page may ask for,
// and says in its title what came of it.
const trapPage = `<!doctype html><title>waiting</title><iframe name="hidden"></iframe>
<form target="hidden" method="post" enctype="text/plain"><input type="hidden"></form><script>
const server = %q, body = %q;
const tries = [
  fetch(server + "/api/v1/entries", { credentials: "include" }),
  fetch(server + "/api/v1/me", { credentials: "include" }),
  fetch(server + "/api/v1/entries", { method: "POST", credentials: "include", headers: { "Content-Type": "application/json" }, body }),
  fetch(server + "/api/v1/leave", { method: "POST", credentials: "include", headers: { "Content-Type": "application/json" }, body: "{}" }),
];
const blind = ["entries", "leave", "join"].map((path) =>
  fetch(server + "/api/v1/" + path, { method: "POST", mode: "no-cors", credentials: "include", body: path === "entries" ? body : "{}" }));
const form = document.forms[0], [name, ...rest] = body.split(":");
form.action = server + "/api/v1/entries";
form.elements[0].name = name + ":" + rest.join(":").slice(0, -1) + ',"x":"';
form.elements[0].value = '"}';
form.submit();
const socket = new Promise((done) => { const s = new WebSocket(server.replace("https", "wss") + "/api/v1/live"); s.onopen = () => done(1); s.onerror = () => done(0); });
const script = new Promise((done) => { const s = document.createElement("script"); s.src = server + "/api/v1/journal.jsonl"; s.onload = () => done(1); s.onerror = () => done(0); document.head.append(s); });
Promise.all([Promise.allSettled(tries), Promise.allSettled(blind), socket, script]).then(([read, , socket, script]) => {
  document.title = "read " + (read.filter((r) => r.status === "fulfilled").length + socket + script) + " of " + (tries.length + 2);
});
</script>`

// setTrap serves the page on port 80, and on the server's port a false server, with
// the certificate that packwright makes for whoever claims the name. At its end it
// prints how many requests were made there: a phone that makes one gives its token away.
func setTrap(name, port string) error {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	page, err := net.Listen("tcp", ":80")
	if err != nil {
		return err
	}
	own, err := net.Listen("tcp", ":"+port)
	if err != nil {
		return err
	}
	keys, err := os.MkdirTemp("", "packwright-intruder-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(keys)
	authority, err := ca.Open(keys, ca.Options{Host: name, Now: time.Now, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		return err
	}
	keeper := ca.NewKeeper(authority, nil)
	if err := keeper.Refresh(); err != nil {
		return err
	}
	var fooled, visits atomic.Int64
	go http.Serve(page, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		fmt.Fprintf(w, trapPage, "https://"+name+":"+port, push(note(88_000_000, "by the intruder's page")))
	}))
	go http.Serve(countConnections{own, &visits, secureConfig(keeper.GetCertificate)}, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { fooled.Add(1) }))
	fmt.Println("ready")
	<-ctx.Done()
	fmt.Printf("%d connections, %d requests\n", visits.Load(), fooled.Load())
	return nil
}

// countConnections is a TLS listener that counts who tries.
type countConnections struct {
	net.Listener
	count *atomic.Int64
	tls   *tls.Config
}

func (l countConnections) Accept() (net.Conn, error) {
	conn, err := l.Listener.Accept()
	if err != nil {
		return nil, err
	}
	l.count.Add(1)
	return tls.Server(conn, l.tls), nil
}
