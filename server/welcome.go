package main

import (
	"bytes"
	"embed"
	"html/template"
	"net/http"
	"net/netip"
	"net/url"
	"slices"
	"strings"

	"packwright/internal/ca"
)

//go:embed welcome
var welcomeFiles embed.FS

// welcome is the page on plain HTTP that explains how to trust this machine. It
// holds nothing of the team's.
type welcome struct {
	authority *ca.Authority
	origin    *url.URL // of the app
	checkPort string   // where the page's own door speaks TLS
	also      []string
	numbers   func() []netip.Addr // of this machine
	page      *template.Template
}

// rootPath is where the authority's certificate is, in clear and encrypted: a server
// that joins this one looks for it at the address it was given.
const rootPath = "/ca.crt"

// pages gives what the plain door answers beside the app's files, by path.
func (w *welcome) pages() (handlers map[string]http.Handler, err error) {
	if w.page, err = template.ParseFS(welcomeFiles, "welcome/page.html"); err != nil {
		return nil, err
	}
	handlers = map[string]http.Handler{
		"/":                 w,
		"/welcome/page.css": fixed("text/css; charset=utf-8", mustRead("page.css")),
		"/welcome/page.js":  fixed("text/javascript; charset=utf-8", mustRead("page.js")),
		rootPath:            fixed("application/x-x509-ca-cert", w.authority.RootDER()),
		"/ca.mobileconfig":  fixed("application/x-apple-aspen-config", w.authority.AppleProfile()),
		"/generate_204":     readOnly(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusNoContent) }),
		"/connecttest.txt":  fixed("text/plain", []byte("Microsoft Connect Test")),
		"/hotspot-detect.html": fixed("text/html",
			[]byte("<HTML><HEAD><TITLE>Success</TITLE></HEAD><BODY>Success</BODY></HTML>")),
	}
	return handlers, nil
}

// mustRead gives an embedded file.
func mustRead(name string) []byte {
	content, err := welcomeFiles.ReadFile("welcome/" + name)
	if err != nil {
		panic(err) // the folder is embedded above
	}
	return content
}

// fixed answers with the same content always. The certificate's file has the
// fingerprint as its own hash, so that it can be compared before it is opened.
func fixed(kind string, content []byte) http.Handler {
	return readOnly(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", kind)
		w.Header().Set("Cache-Control", "no-cache")
		w.Write(content)
	})
}

// readOnly refuses other methods than GET and HEAD.
func readOnly(next http.HandlerFunc) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method != http.MethodGet && r.Method != http.MethodHead {
			w.Header().Set("Allow", "GET, HEAD")
			http.Error(w, "only GET and HEAD here", http.StatusMethodNotAllowed)
			return
		}
		next(w, r)
	})
}

func (w *welcome) ServeHTTP(rw http.ResponseWriter, r *http.Request) {
	readOnly(w.show).ServeHTTP(rw, r)
}

func (w *welcome) show(rw http.ResponseWriter, r *http.Request) {
	origins := []string{w.origin.String()}
	checks := []string{at(w.origin.Hostname(), w.checkPort)}
	number := ""
	if addr, ok := numberOf(r.Host); ok {
		number = at(addr.String(), w.origin.Port())
		origins, checks = append(origins, number), append(checks, at(addr.String(), w.checkPort))
	} else if own := w.numbers(); len(own) > 0 {
		number = at(own[0].String(), w.origin.Port())
	}
	var page bytes.Buffer
	err := w.page.Execute(&page, map[string]any{
		"Host":        w.authority.Host(),
		"Also":        w.also,
		"Origins":     strings.Join(origins, " "),
		"Checks":      strings.Join(checks, " "),
		"Number":      number,
		"Join":        w.origin.String() + "/join",
		"Origin":      w.origin.String(),
		"Quick":       "/scan",
		"Fingerprint": fingerprintLines(w.authority.Fingerprint()),
		"Systems":     systemsFor(r.UserAgent()),
	})
	if err != nil {
		http.Error(rw, "internal error", http.StatusInternalServerError)
		return
	}
	h := rw.Header()
	h.Set("Content-Type", "text/html; charset=utf-8")
	h.Set("Cache-Control", "no-store")
	h.Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; connect-src "+strings.Join(slices.Concat(origins, checks), " ")+
		"; base-uri 'none'; form-action 'none'; frame-ancestors 'none'")
	rw.Write(page.Bytes())
}

// numberOf is the number a phone came by; false where it came by name. A phone that
// does not find names checks that one too.
func numberOf(host string) (netip.Addr, bool) {
	addr, err := netip.ParseAddr(hostName(host))
	return addr, err == nil && addr.Zone() == "" // a zone is whatever the sender writes
}

// at is the encrypted address at a host and a port, which may be empty.
func at(host, port string) string {
	if strings.Contains(host, ":") {
		host = "[" + host + "]"
	}
	if port != "" {
		host += ":" + port
	}
	return "https://" + host
}

// system is how one kind of device is told to trust a certificate.
type system struct {
	ID, Name string
	marks    []string // any of these in User-Agent
	Download string   // of the certificate
	Profile  bool     // it is a configuration profile, to be opened and not kept
	Steps    []string
	Remove   string
	Open     bool // the reader's own
}

// opensslFingerprint prints a fingerprint as the laptop does, in capitals and pairs.
const opensslFingerprint = "openssl x509 -inform DER -in ca.crt -noout -fingerprint -sha256"

// systemsFor gives all systems, the one that sent the User-Agent first and open.
// Systems rename their settings; the words are those of late 2026, from memory and
// from public instructions, and were not tried on every device.
func systemsFor(userAgent string) []system {
	all := []system{
		{ID: "ios", Name: "iPhone and iPad", marks: []string{"iPhone", "iPad", "iPod"}, Download: "/ca.mobileconfig", Profile: true,
			Steps: []string{
				"In Safari, tap the button above and then Allow.",
				"Settings › Profile Downloaded › More Details › the certificate: its SHA-256 fingerprint must be the one on the laptop's screen, all of it. (“Not Verified” is normal.)",
				"Go back, tap Install and confirm with your passcode.",
				"Settings › General › About › Certificate Trust Settings: switch it on. Without this step nothing works.",
				"Come back here: the top turns green.",
			},
			Remove: "Settings › General › VPN & Device Management › the profile › Remove Profile."},
		{ID: "android", Name: "Android", marks: []string{"Android"}, Download: "/ca.crt",
			Steps: []string{
				"In Chrome, tap the button above and keep the file.",
				"In Settings search for “CA certificate”. Tap Install anyway, confirm with your screen lock, and choose ca.crt.",
				"At once open Trusted credentials › User › the certificate: its SHA-256 fingerprint must be the one on the laptop's screen, all of it. Remove it if it differs.",
				"Come back here: the top turns green. “Network may be monitored” means this certificate.",
			},
			Remove: "Settings, search for “Trusted credentials” › User › the certificate › Remove."},
		{ID: "chromeos", Name: "ChromeOS", marks: []string{"CrOS"}, Download: "/ca.crt",
			Steps: []string{
				"Tap the button above and keep the file. On a device of the school only its IT can do the rest.",
				"In Chrome open Settings › Privacy and security › Security › Manage certificates, and there the certificates you installed or the authorities.",
				"Import ca.crt, for websites only, and open it in the list: its SHA-256 fingerprint must be the one on the laptop's screen, all of it. Delete it if it differs.",
			},
			Remove: "the same list › the certificate › Delete."},
		{ID: "windows", Name: "Windows", marks: []string{"Windows"}, Download: "/ca.crt",
			Steps: []string{
				"Save the file. In PowerShell, in the folder it is in, run (Get-FileHash ca.crt).Hash -replace '..(?!$)','$0:' and go on only if the laptop's screen shows the same, all of it.",
				"Open the file › Install Certificate › Current User › Place all certificates in the following store › Trusted Root Certification Authorities › Finish › Yes.",
				"Use Chrome or Edge, and start it again if the top stays grey.",
			},
			Remove: "run certmgr.msc › Trusted Root Certification Authorities › Certificates › the certificate › Delete."},
		{ID: "macos", Name: "macOS", marks: []string{"Macintosh"}, Download: "/ca.crt",
			Steps: []string{
				"Save the file. In Terminal, in the folder it is in, run " + opensslFingerprint + " and go on only if the laptop's screen shows the same, all of it.",
				"Open the file: Keychain Access adds it to the login keychain.",
				"Double-click the certificate there, open Trust and choose Always Trust; close the window and confirm.",
			},
			Remove: "Keychain Access › login › Certificates › the certificate › Delete."},
		{ID: "other", Name: "Linux and others",
			Download: "/ca.crt",
			Steps: []string{
				"Save the file, run " + opensslFingerprint + " in the folder it is in, and go on only if the laptop's screen shows the same, all of it.",
				"Chrome: Settings › Privacy and security › Security › Manage certificates › import ca.crt as an authority, for websites only.",
				"Firefox: Settings › Privacy & Security › View Certificates › Authorities › Import, for websites only.",
			},
			Remove: "the same list › the certificate › Delete."},
	}
	own := slices.IndexFunc(all, func(s system) bool {
		return slices.ContainsFunc(s.marks, func(mark string) bool { return strings.Contains(userAgent, mark) })
	})
	if own < 0 {
		own = len(all) - 1
	}
	first := all[own]
	first.Open = true
	return append([]system{first}, slices.Delete(all, own, own+1)...)
}
