package main

import (
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"
)

// app serves the built web app: each file as it is or in the smallest
// precompressed form the browser takes, with a strong ETag. Names under assets/
// hold a hash of their content and never change; everything else is checked with
// the server at each use.
type app struct {
	dist  fs.FS
	files map[string]file // by path without the leading slash
}

type file struct {
	mime      string
	immutable bool
	variants  []variant // br and gzip where they exist, then the file itself
}

type variant struct {
	encoding string // empty: none
	name     string // in dist
	etag     string // strong: of these very bytes
	size     int64  // byte
}

// mimeOf is explicit: what the operating system believes of a file name differs
// between machines, and a wrong type stops a module or WebAssembly from loading.
var mimeOf = map[string]string{
	".html":        "text/html; charset=utf-8",
	".js":          "text/javascript; charset=utf-8",
	".css":         "text/css; charset=utf-8",
	".json":        "application/json; charset=utf-8",
	".map":         "application/json; charset=utf-8",
	".jsonl":       "application/jsonl; charset=utf-8",
	".webmanifest": "application/manifest+json",
	".wasm":        "application/wasm",
	".svg":         "image/svg+xml; charset=utf-8",
	".png":         "image/png",
	".ico":         "image/x-icon",
	".woff2":       "font/woff2",
	".txt":         "text/plain; charset=utf-8",
}

const indexPage = "index.html"

// newApp reads every file of the built app and hashes it.
func newApp(dist fs.FS) (*app, error) {
	a := &app{dist: dist, files: map[string]file{}}
	err := fs.WalkDir(dist, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || strings.HasPrefix(d.Name(), ".") || isPrecompressed(dist, name) {
			return err
		}
		f := file{mime: mimeOf[path.Ext(name)], immutable: strings.HasPrefix(name, "assets/")}
		if f.mime == "" {
			f.mime = "application/octet-stream"
		}
		for _, v := range []variant{{encoding: "br", name: name + ".br"}, {encoding: "gzip", name: name + ".gz"}, {name: name}} {
			switch err := v.measure(dist); {
			case err == nil:
				f.variants = append(f.variants, v)
			case v.encoding == "" || !errors.Is(err, fs.ErrNotExist):
				return err
			}
		}
		a.files[name] = f
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("read the built web app: %w", err)
	}
	return a, nil
}

// measure fills in the size and the ETag of a variant.
func (v *variant) measure(dist fs.FS) error {
	f, err := dist.Open(v.name)
	if err != nil {
		return err
	}
	defer f.Close()
	sum := sha256.New()
	if v.size, err = io.Copy(sum, f); err != nil {
		return err
	}
	v.etag = `"` + base64.RawURLEncoding.EncodeToString(sum.Sum(nil)[:12]) + `"`
	return nil
}

// isPrecompressed reports whether name is only the packed copy of another file.
func isPrecompressed(dist fs.FS, name string) bool {
	ext := path.Ext(name)
	if ext != ".br" && ext != ".gz" {
		return false
	}
	_, err := fs.Stat(dist, strings.TrimSuffix(name, ext))
	return err == nil
}

// built reports whether there is an app to serve.
func (a *app) built() bool { _, ok := a.files[indexPage]; return ok }

func (a *app) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		w.Header().Set("Allow", "GET, HEAD")
		http.Error(w, "only GET and HEAD here", http.StatusMethodNotAllowed)
		return
	}
	if !a.built() {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		w.Header().Set("Cache-Control", "no-store")
		w.WriteHeader(http.StatusServiceUnavailable)
		fmt.Fprint(w, notBuiltPage)
		return
	}
	f, ok := a.find(r.URL.Path)
	if !ok {
		http.Error(w, "there is nothing here", http.StatusNotFound)
		return
	}
	a.send(w, r, f)
}

func (a *app) send(w http.ResponseWriter, r *http.Request, f file) {
	v := f.pick(r.Header.Get("Accept-Encoding"))
	content, err := a.dist.Open(v.name)
	if err != nil {
		http.Error(w, "internal error", http.StatusInternalServerError)
		return
	}
	defer content.Close()
	seeker, ok := content.(io.ReadSeeker) // embedded files are
	if !ok {
		http.Error(w, "internal error", http.StatusInternalServerError)
		return
	}
	h := w.Header()
	h.Set("Content-Type", f.mime)
	h.Set("ETag", v.etag)
	h.Set("Cache-Control", "no-cache")
	if f.immutable {
		h.Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	if len(f.variants) > 1 {
		h.Add("Vary", "Accept-Encoding")
	}
	if v.encoding != "" {
		h.Set("Content-Encoding", v.encoding)
		h.Set("Content-Length", strconv.FormatInt(v.size, 10)) // ServeContent leaves it out of an encoded answer
	}
	http.ServeContent(w, r, "", time.Time{}, seeker)
}

// find gives the file for a path. A path whose last part has no dot is one of
// the app's own screens (/p/7K3QX9, in any case), which all start from the index.
func (a *app) find(urlPath string) (file, bool) {
	name := strings.TrimPrefix(urlPath, "/")
	if f, ok := a.files[name]; ok {
		return f, true
	}
	if strings.Contains(path.Base(urlPath), ".") {
		return file{}, false
	}
	f, ok := a.files[indexPage]
	return f, ok
}

// pick gives the first variant that an Accept-Encoding header allows.
func (f file) pick(accept string) variant {
	for _, v := range f.variants {
		if v.encoding == "" || accepts(accept, v.encoding) {
			return v
		}
	}
	return f.variants[len(f.variants)-1]
}

// accepts reports whether an Accept-Encoding header names the encoding with a
// weight above 0 (RFC 9110, section 12.5.3).
func accepts(header, encoding string) bool {
	return slices.ContainsFunc(strings.Split(header, ","), func(item string) bool {
		name, params, _ := strings.Cut(item, ";")
		if !strings.EqualFold(strings.TrimSpace(name), encoding) {
			return false
		}
		weight, given := strings.CutPrefix(strings.ReplaceAll(params, " ", ""), "q=")
		if !given {
			return true
		}
		q, err := strconv.ParseFloat(weight, 64)
		return err == nil && q > 0
	})
}

const notBuiltPage = `<!doctype html>
<html lang="en"><meta charset="utf-8"><title>packwright: app not built</title>
<h1>The web app is not in this program</h1>
<p>It was compiled before the app was built. Run <code>make build</code> and start <code>bin/packwright serve</code> again.
<p>The server itself works: phones that already have the app can synchronise.
`
