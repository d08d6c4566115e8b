package main

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"packwright/internal/access"
	"packwright/internal/problem"
)

// Whatever another site's page can make a browser send is refused before any
// handler, at every route and every door, even if the browser sent the cookie along.
// What such a page can send is in the Fetch standard: "CORS-safelisted
// request-header" and "request-header", and in Fetch Metadata (W3C).
func TestOtherSitesCannotAsk(t *testing.T) {
	s, _ := testField(t)
	_, token := joined(t, s, access.Lead)
	described := readAPI(t)
	before := len(s.register.List())
	own := map[door]string{doorHere: "http://127.0.0.1:8080", doorField: fieldOrigin, doorProxy: fieldOrigin}
	for d, origin := range own {
		for _, r := range routes() {
			if r.method == "GET" {
				continue
			}
			for _, c := range []struct {
				name   string
				header []string
				want   int
			}{
				{"form", []string{"Content-Type", "application/x-www-form-urlencoded"}, 415},
				{"upload", []string{"Content-Type", "multipart/form-data; boundary=x"}, 415},
				{"text", []string{"Content-Type", "text/plain"}, 415},
				{"text that looks like JSON", []string{"Content-Type", "text/plain; application/json"}, 415},
				{"no type", []string{"Content-Type", ""}, 415},
				{"cross-site", []string{"Sec-Fetch-Site", "cross-site"}, 403},
				{"same-site, such as another port", []string{"Sec-Fetch-Site", "same-site"}, 403},
				{"navigation with a form", []string{"Sec-Fetch-Site", "cross-site", "Sec-Fetch-Mode", "navigate", "Sec-Fetch-Dest", "document"}, 403},
				{"another origin", []string{"Origin", "https://evil.example"}, 403},
				{"opaque origin", []string{"Origin", "null"}, 403},
				{"another scheme", []string{"Origin", "ftp" + strings.TrimLeft(origin, "htps")}, 403},
				{"another port", []string{"Origin", origin + "1"}, 403},
				{"origin that begins like ours", []string{"Origin", origin + ".evil.example"}, 403},
				{"no origin there is", []string{"Origin", "%%%"}, 403},
			} {
				a := ask{door: d, method: r.method, path: r.path, body: `{"role":"lead","id":"x","revoked":true}`, token: token,
					header: c.header, described: described}
				if w := a.to(t, s); w.Code != c.want {
					t.Errorf("door %s, %s %s, %s: status %d, want %d", d, r.method, r.path, c.name, w.Code, c.want)
				}
			}
			a := ask{door: d, method: r.method, path: r.path, body: `{"code":1}`, token: token, described: described,
				header: []string{"Origin", origin, "Sec-Fetch-Site", "same-origin"}}
			if r.path != "/api/v1/leave" { // it would
				if w := a.to(t, s); w.Code == http.StatusForbidden || w.Code == http.StatusUnsupportedMediaType {
					t.Errorf("door %s, %s %s from our own page: status %d", d, r.method, r.path, w.Code)
				}
			}
		}
	}
	if _, err := s.register.Check(token); err != nil || len(s.register.List()) != before {
		t.Errorf("something was done: %v, %d devices", err, len(s.register.List()))
	}
}

// Another site's page may lead here by a link, and may read nothing.
func TestOtherSitesCannotRead(t *testing.T) {
	s, _ := testField(t)
	_, token := joined(t, s, access.Lead)
	described := readAPI(t)
	close(s.closing)
	for d := range map[door]bool{doorHere: true, doorField: true, doorProxy: true} {
		for _, r := range routes() {
			if r.method != "GET" {
				continue
			}
			get := func(header ...string) *httptest.ResponseRecorder {
				return ask{door: d, method: r.method, path: r.path, token: token, header: header, described: described}.to(t, s)
			}
			open := r.path == "/api/v1/trusted"
			for _, site := range []string{"cross-site", "same-site"} {
				for _, mode := range []string{"no-cors", "cors", "navigate"} { // an image, a fetch, a frame
					w := get("Sec-Fetch-Site", site, "Sec-Fetch-Mode", mode, "Sec-Fetch-Dest", "iframe")
					if refused := w.Code == http.StatusForbidden; refused == open {
						t.Errorf("door %s, %s: %s, %s: status %d", d, r.path, site, mode, w.Code)
					}
				}
				if w := get("Sec-Fetch-Site", site, "Sec-Fetch-Mode", "navigate", "Sec-Fetch-Dest", "document"); w.Code == http.StatusForbidden {
					t.Errorf("door %s, %s: a link: status %d", d, r.path, w.Code)
				}
			}
			w := get("Sec-Fetch-Site", "same-origin", "Sec-Fetch-Mode", "cors", "Sec-Fetch-Dest", "empty")
			want := "same-origin"
			if open {
				want = "cross-origin"
			}
			if w.Code == http.StatusForbidden || w.Header().Get("Cross-Origin-Resource-Policy") != want {
				t.Errorf("door %s, %s from our own page: status %d, policy %q", d, r.path, w.Code, w.Header().Get("Cross-Origin-Resource-Policy"))
			}
		}
	}
	w := ask{door: doorField, method: "GET", path: "/api/v1/trusted", header: []string{"Sec-Fetch-Site", "cross-site"}}.to(t, s)
	if w.Code != http.StatusNoContent || w.Body.Len() != 0 {
		t.Errorf("trusted: status %d, %q", w.Code, w.Body)
	}
	for _, method := range []string{"OPTIONS", "PUT", "DELETE", "PATCH", "TRACE"} {
		w := ask{door: doorField, method: method, path: "/api/v1/entries", token: token,
			header: []string{"Origin", "https://evil.example", "Access-Control-Request-Method", "POST"}}.to(t, s)
		if w.Code == http.StatusOK {
			t.Errorf("%s: status %d", method, w.Code)
		}
	}
}

// Headers that every answer has at each door, the app's files included.
func TestDoorHeaders(t *testing.T) {
	s, _ := testField(t)
	for _, public := range []bool{false, true} {
		s.publicCert = public
		for _, d := range []door{doorHere, doorField, doorProxy, doorPlain} {
			for _, path := range []string{"/", "/api/v1/health", "/api/v1/nothing"} {
				h := ask{door: d, method: "GET", path: path}.to(t, s).Header()
				hsts := ""
				if public && d == doorField {
					hsts = "max-age=31536000"
				}
				if got := h.Get("Strict-Transport-Security"); got != hsts {
					t.Errorf("door %s, public certificate %v: Strict-Transport-Security is %q", d, public, got)
				}
				for name, want := range map[string]string{"X-Content-Type-Options": "nosniff", "X-Frame-Options": "DENY",
					"Referrer-Policy": "no-referrer", "Cross-Origin-Opener-Policy": "same-origin"} {
					if h.Get(name) != want {
						t.Errorf("door %s, %s: %s is %q", d, path, name, h.Get(name))
					}
				}
				policy := h.Get("Content-Security-Policy")
				if !strings.HasPrefix(policy, "default-src 'none';") || !strings.Contains(policy, "frame-ancestors 'none'") ||
					strings.Contains(policy, "unsafe-inline") || strings.Contains(policy, "'unsafe-eval'") {
					t.Errorf("door %s, %s: policy %q", d, path, policy)
				}
			}
		}
	}
}

// What is not encrypted shows the welcome page and the app's files, and says where
// the API is.
func TestDoorPlain(t *testing.T) {
	s, _ := testField(t)
	s.pages = map[door]map[string]http.Handler{doorPlain: {"/": http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.Write([]byte("welcome")) })}}
	for path, want := range map[string]string{"/api/v1/entries": fieldOrigin, "/api/v1/nothing": fieldOrigin, "/API/v1/entries": fieldOrigin,
		"/api": fieldOrigin, "//api/v1/entries": "", "/%61pi/v1/entries": fieldOrigin, "/": "welcome"} {
		w := ask{door: doorPlain, method: "GET", path: path}.to(t, s)
		if !strings.Contains(w.Body.String(), want) || want == fieldOrigin && kindOf(w) != problem.NotAllowed {
			t.Errorf("%s: status %d: %s", path, w.Code, w.Body)
		}
	}
	for d, path := range map[door]string{doorHere: "/", doorField: "/", doorProxy: "/"} {
		if w := (ask{door: d, method: "GET", path: path}).to(t, s); w.Body.String() == "welcome" {
			t.Errorf("door %s shows the welcome page", d)
		}
	}
}
