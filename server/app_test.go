package main

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"testing/fstest"
)

func testApp(t *testing.T) *app {
	t.Helper()
	a, err := newApp(fstest.MapFS{
		".gitkeep":             {},
		"index.html":           {Data: []byte("<!doctype html>")},
		"sw.js":                {Data: []byte("worker")},
		"manifest.webmanifest": {Data: []byte("{}")},
		"assets/core-1f.wasm":  {Data: []byte("raw wasm")}, "assets/core-1f.wasm.br": {Data: []byte("br")}, "assets/core-1f.wasm.gz": {Data: []byte("gz!")},
		"assets/app-2e.js": {Data: []byte("raw js")}, "assets/app-2e.js.gz": {Data: []byte("gz")},
	})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func TestApp(t *testing.T) {
	const (
		always  = "public, max-age=31536000, immutable"
		checked = "no-cache"
	)
	a := testApp(t)
	for _, c := range []struct {
		path, accept                     string
		status                           int
		body, kind, encoding, vary, keep string
	}{
		{"/", "br", 200, "<!doctype html>", "text/html; charset=utf-8", "", "", checked},
		{"/index.html", "", 200, "<!doctype html>", "text/html; charset=utf-8", "", "", checked},
		{"/p/7K3QX9", "", 200, "<!doctype html>", "text/html; charset=utf-8", "", "", checked},
		{"/P/7k3qx9", "", 200, "<!doctype html>", "text/html; charset=utf-8", "", "", checked},
		{"/setup/limits", "", 200, "<!doctype html>", "text/html; charset=utf-8", "", "", checked},
		{"/sw.js", "", 200, "worker", "text/javascript; charset=utf-8", "", "", checked},
		{"/manifest.webmanifest", "", 200, "{}", "application/manifest+json", "", "", checked},
		{"/assets/core-1f.wasm", "gzip, deflate, br", 200, "br", "application/wasm", "br", "Accept-Encoding", always},
		{"/assets/core-1f.wasm", "gzip", 200, "gz!", "application/wasm", "gzip", "Accept-Encoding", always},
		{"/assets/core-1f.wasm", "br;q=0, gzip;q=0.5", 200, "gz!", "application/wasm", "gzip", "Accept-Encoding", always},
		{"/assets/core-1f.wasm", "", 200, "raw wasm", "application/wasm", "", "Accept-Encoding", always},
		{"/assets/app-2e.js", "br, gzip", 200, "gz", "text/javascript; charset=utf-8", "gzip", "Accept-Encoding", always},
		{"/assets/app-gone.js", "br", 404, "", "text/plain; charset=utf-8", "", "", ""},
		{"/assets/core-1f.wasm.br", "", 404, "", "text/plain; charset=utf-8", "", "", ""},
		{"/.gitkeep", "", 404, "", "text/plain; charset=utf-8", "", "", ""},
		{"/../index.html", "", 404, "", "text/plain; charset=utf-8", "", "", ""},
	} {
		r := httptest.NewRequest("GET", "http://localhost"+c.path, nil)
		r.Header.Set("Accept-Encoding", c.accept)
		w := httptest.NewRecorder()
		a.ServeHTTP(w, r)
		h := w.Header()
		if w.Code != c.status || h.Get("Content-Type") != c.kind || h.Get("Content-Encoding") != c.encoding ||
			h.Get("Vary") != c.vary || h.Get("Cache-Control") != c.keep {
			t.Errorf("GET %s (%s): %d %v", c.path, c.accept, w.Code, h)
		}
		if c.status != 200 {
			continue
		}
		if w.Body.String() != c.body || h.Get("Content-Length") != fmt.Sprint(len(c.body)) {
			t.Errorf("GET %s (%s): body %q, length %s", c.path, c.accept, w.Body, h.Get("Content-Length"))
		}
		r.Header.Set("If-None-Match", h.Get("ETag"))
		w = httptest.NewRecorder()
		a.ServeHTTP(w, r)
		if w.Code != http.StatusNotModified || w.Body.Len() != 0 {
			t.Errorf("GET %s again with its ETag: %d", c.path, w.Code)
		}
	}
}

// Each variant is other bytes, so each has an ETag of its own.
func TestAppETags(t *testing.T) {
	seen := map[string]bool{}
	for _, v := range testApp(t).files["assets/core-1f.wasm"].variants {
		if seen[v.etag] || !strings.HasPrefix(v.etag, `"`) {
			t.Errorf("ETag %s of %s", v.etag, v.name)
		}
		seen[v.etag] = true
	}
}

func TestAppNotBuilt(t *testing.T) {
	a, err := newApp(fstest.MapFS{".gitkeep": {}})
	if err != nil {
		t.Fatal(err)
	}
	w := httptest.NewRecorder()
	a.ServeHTTP(w, httptest.NewRequest("GET", "http://localhost/", nil))
	if w.Code != http.StatusServiceUnavailable || !strings.Contains(w.Body.String(), "make build") {
		t.Errorf("%d %s", w.Code, w.Body)
	}
}
