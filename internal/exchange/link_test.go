package exchange

import (
	"context"
	"crypto/x509"
	"io"
	"log"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"packwright/internal/problem"
)

func serveRedirect(t *testing.T, h http.Handler) Link {
	t.Helper()
	web := httptest.NewServer(h)
	t.Cleanup(web.Close)
	return Link{URL: web.URL}
}

// serveTLS has a certificate of its own, which is an authority's as well.
func serveTLS(t *testing.T, h http.Handler) *httptest.Server {
	t.Helper()
	web := httptest.NewUnstartedServer(h)
	web.Config.ErrorLog = log.New(io.Discard, "", 0) // handshakes fail on purpose
	web.StartTLS()
	t.Cleanup(web.Close)
	return web
}

func TestParseURL(t *testing.T) {
	for _, c := range []struct{ text, origin, code string }{
		{"https://pit.local:8443", "https://pit.local:8443", ""},
		{"https://PIT.local:8443/", "https://pit.local:8443", ""},
		{"https://pit.local:8443/join#ABCD-EFGH", "https://pit.local:8443", "ABCD-EFGH"},
		{"https://packs.example.org", "https://packs.example.org", ""},
		{"http://127.0.0.1:8080", "http://127.0.0.1:8080", ""},
		{"http://[::1]:8080", "http://[::1]:8080", ""},
		{"http://localhost:8080", "http://localhost:8080", ""},
		{"http://pit.local:8088", "", ""}, {"http://localhost.example.org", "", ""}, {"pit.local:8443", "", ""}, {"", "", ""},
		{"https://", "", ""}, {"ftp://pit.local", "", ""}, {"https://user:pw@pit.local", "", ""}, {"https://pit.local/p/7K3QX9", "", ""},
		{"https://pit.local?token=x", "", ""}, {"https://pit local", "", ""},
	} {
		origin, code, err := ParseURL(c.text)
		if origin != c.origin || code != c.code || (err == nil) != (c.origin != "") {
			t.Errorf("%q gives %q, %q, %v", c.text, origin, code, err)
		}
		if err != nil && kindOf(err) != problem.Invalid {
			t.Errorf("%q: %v is not invalid", c.text, err)
		}
	}
}

func TestLinkFile(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "keys")
	if _, err := ReadLink(dir); kindOf(err) != problem.NotFound {
		t.Errorf("no file: %v", err)
	}
	link := Link{URL: "https://pit.local:8443", Token: "t", Role: "lead", RootPEM: "r"}
	if err := link.Save(dir); err != nil {
		t.Fatal(err)
	}
	if got, err := ReadLink(dir); err != nil || got != link {
		t.Errorf("%+v, %v", got, err)
	}
	path := filepath.Join(dir, linkName)
	for name, want := range map[string]os.FileMode{dir: 0o700, path: 0o600} {
		if info, err := os.Stat(name); runtime.GOOS != "windows" && (err != nil || info.Mode().Perm() != want) {
			t.Errorf("%s: %v, %v", name, info.Mode(), err)
		}
	}
	for _, text := range []string{"", "{", `{"token":"t"}`} {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := ReadLink(dir); kindOf(err) != problem.Damaged {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// Whoever answers is believed only with a certificate of the pinned authority.
func TestPinned(t *testing.T) {
	up := newMemory("U", 1)
	web := serveTLS(t, up)
	down := newMemory("D", 2)
	link := Link{URL: web.URL}
	err := start(t, down, link, t.TempDir(), Options{}).Round(t.Context())
	if err == nil || !strings.Contains(err.Error(), "does not have the certificate") || len(up.asked) > 0 {
		t.Errorf("without a pin: %v", err)
	}
	root := web.Certificate()
	link.RootPEM = string(pemOf(root))
	round(t, start(t, down, link, t.TempDir(), Options{}))
	same(t, up, down)
	if _, err := New(down, Link{URL: web.URL, RootPEM: "nonsense"}, t.TempDir(), Options{}); kindOf(err) != problem.Damaged {
		t.Errorf("damaged pin: %v", err)
	}
}

// Join sends the code only to the server that the fingerprint belongs to.
func TestJoin(t *testing.T) {
	var web *httptest.Server
	joins := 0
	web = serveTLS(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch r.URL.Path {
		case "/ca.crt":
			w.Write(web.Certificate().Raw)
		case "/api/v1/join":
			joins++
			body, _ := io.ReadAll(r.Body)
			if !strings.Contains(string(body), `"ABCD-EFGH"`) {
				w.WriteHeader(401)
				io.WriteString(w, `{"problem":{"kind":"not_joined","text":"the code is not right","hint":"ask for a new one"}}`)
				return
			}
			io.WriteString(w, `{"device":{"id":"x1","name":"workshop","role":"crew"},"token":"secret"}`)
		}
	}))
	good := Fingerprint(web.Certificate().Raw)
	a := Asking{URL: web.URL, Code: "ABCD-EFGH", Name: "workshop"}

	_, err := Join(t.Context(), a)
	if p, _ := problem.As(err); kindOf(err) != problem.NotAllowed || !strings.Contains(p.Hint, "pair by pair") || joins > 0 {
		t.Errorf("unknown authority: %v", err)
	} else if strings.Contains(p.Text+p.Hint, good) || !strings.Contains(p.Text, "\n  "+good[:23]+"\n  "+good[24:47]+"\n") {
		t.Errorf("the fingerprint is there to paste, not to compare: %s", p.Text)
	}
	a.Fingerprint = "00:" + good[3:]
	if _, err := Join(t.Context(), a); kindOf(err) != problem.Conflict || joins > 0 {
		t.Errorf("another fingerprint: %v", err)
	}
	a.Fingerprint = strings.ToLower(strings.ReplaceAll(good[:47], ":", " ")) + "\n  " + good[48:]
	link, err := Join(t.Context(), a)
	if err != nil || link.Token != "secret" || link.Role != "crew" || link.DeviceID != "x1" || link.RootPEM == "" || link.URL != web.URL {
		t.Errorf("%+v, %v", link, err)
	}
	a.URL, a.Code = web.URL+"/join#ABCD-EFGH", ""
	if _, err := Join(t.Context(), a); err != nil {
		t.Errorf("with the code in the address: %v", err)
	}
	a.Code = "WRNG-CODE"
	if _, err := Join(t.Context(), a); err == nil || !strings.Contains(err.Error(), "the code is not right") {
		t.Errorf("wrong code: %v", err)
	}
	a.URL, a.Code = web.URL, ""
	if _, err := Join(t.Context(), a); kindOf(err) != problem.Invalid {
		t.Errorf("no code: %v", err)
	}
	a.Code, a.Fingerprint, a.Root = "ABCD-EFGH", "", pemOf(web.Certificate())
	if _, err := Join(t.Context(), a); err != nil {
		t.Errorf("with the certificate from a file: %v", err)
	}
	a.Fingerprint = "00"
	if _, err := Join(t.Context(), a); kindOf(err) != problem.Conflict {
		t.Errorf("a file with another fingerprint: %v", err)
	}
	a.Root = []byte("nonsense")
	if _, err := Join(t.Context(), a); kindOf(err) != problem.Invalid {
		t.Errorf("nonsense for a certificate: %v", err)
	}
	up := serveMemory(t, newMemory("U"))
	if link, err := Join(t.Context(), Asking{URL: up.URL}); err != nil || link.Token != "" || link.Role != "lead" {
		t.Errorf("on this machine: %+v, %v", link, err)
	}
}

// A server that turns out to hold the journal that is here is left again.
func TestJoinItself(t *testing.T) {
	m := newMemory("U")
	left := false
	m.instead = func(r *http.Request) (int, string) {
		switch r.URL.Path {
		case "/api/v1/join":
			return 200, `{"device":{"id":"x1","name":"workshop","role":"crew"},"token":"secret"}`
		case "/api/v1/health":
			return 200, `{"ok":true,"api":1,"min_client":1,"epoch":"U"}`
		case "/api/v1/leave":
			left = r.Header.Get("Authorization") == "Bearer secret"
			return 200, `{}`
		}
		return 0, ""
	}
	url := serveMemory(t, m).URL
	for _, code := range []string{"", "ABCD-EFGH"} {
		for epoch, want := range map[string]problem.Kind{"U": problem.Conflict, "D": "", "": ""} {
			left = false
			_, err := Join(t.Context(), Asking{URL: url, Code: code, Name: "workshop", Epoch: epoch})
			if kindOf(err) != want || left != (code != "" && epoch == "U") {
				t.Errorf("code %q, epoch %q here: left %v, %v", code, epoch, left, err)
			}
		}
	}
}

// The dialer that is given finds the other server, also to get its certificate.
// The name is one that the test's certificate is for.
func TestDial(t *testing.T) {
	up := newMemory("U", 1)
	var web *httptest.Server
	web = serveTLS(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch r.URL.Path {
		case "/ca.crt":
			w.Write(web.Certificate().Raw)
		case "/api/v1/join":
			io.WriteString(w, `{"device":{"id":"x1","name":"workshop","role":"lead"},"token":"secret"}`)
		default:
			up.ServeHTTP(w, r)
		}
	}))
	dialled := map[string]int{}
	dial := func(ctx context.Context, network, address string) (net.Conn, error) {
		dialled[address]++
		return (&net.Dialer{}).DialContext(ctx, network, web.Listener.Addr().String())
	}
	link, err := Join(t.Context(), Asking{URL: "https://example.com:8443", Code: "ABCD-EFGH", Fingerprint: Fingerprint(web.Certificate().Raw), Dial: dial})
	if err != nil || link.RootPEM == "" {
		t.Fatalf("%+v, %v", link, err)
	}
	down := newMemory("D", 2)
	round(t, start(t, down, link, t.TempDir(), Options{Dial: dial}))
	same(t, up, down)
	if len(dialled) != 1 || dialled["example.com:8443"] < 3 {
		t.Errorf("dialled %v", dialled)
	}
}

// What is shown names the cause and what to try.
func TestUnreachable(t *testing.T) {
	for _, c := range []struct {
		url        string
		err        error
		text, hint string
	}{
		{"https://pit.local", &net.DNSError{Err: "no such host", Name: "pit.local"}, "look up the name pit.local", "by its address"},
		{"https://packs.example.org", &net.DNSError{Err: "no such host"}, "look up the name", "online"},
		{"https://pit.local", x509.CertificateInvalidError{Reason: x509.Expired}, "out of date", "clocks"},
		{"https://pit.local", x509.HostnameError{Certificate: &x509.Certificate{}, Host: "pit.local"}, "not for the name", "names"},
		{"https://pit.local", x509.UnknownAuthorityError{}, "certificate of the server that was joined", "join it again"},
		{"https://pit.local", os.ErrDeadlineExceeded, "in time", ""},
		{"https://pit.local", io.ErrUnexpectedEOF, "broke off", ""},
		{"https://pit.local", errCut, "cannot be reached: cut", "one network"},
	} {
		req := httptest.NewRequest("GET", c.url, nil)
		err := unreachable(req, &url.Error{Op: "Get", URL: c.url, Err: c.err})
		p, ok := problem.As(err)
		if !ok || !strings.Contains(p.Text, c.text) || !strings.Contains(p.Hint, c.hint) || strings.Contains(p.Text, "Get ") {
			t.Errorf("%v: %v", c.err, p)
		}
	}
}
