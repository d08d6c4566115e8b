package main

import (
	"context"
	"crypto/sha256"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

func (s *fieldServer) welcomePage(t *testing.T, host, userAgent string) (http.Header, string) {
	t.Helper()
	req, err := http.NewRequest("GET", "http://"+s.f.plain.Addr().String()+"/", nil)
	if err != nil {
		t.Fatal(err)
	}
	req.Host = host
	req.Header.Set("User-Agent", userAgent)
	resp, err := s.client(t, "127.0.0.1").Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	page, err := io.ReadAll(resp.Body)
	if err != nil || resp.StatusCode != http.StatusOK {
		t.Fatal(resp.Status, err)
	}
	return resp.Header, string(page)
}

func TestWelcomePage(t *testing.T) {
	s := startField(t, fieldChoices{Lan: true, Name: "pit", Also: []string{"pit.our-school.example"}})
	headers, page := s.welcomePage(t, "pit.local:8088", "")
	policy := headers.Get("Content-Security-Policy")
	check := "https://pit.local:" + portOf(t, s.f.plain)
	if want := "connect-src " + s.f.origin + " " + check + ";"; !strings.Contains(policy, want) || strings.Contains(policy, "unsafe") {
		t.Errorf("policy %q", policy)
	}
	if strings.Contains(page, "<style") || strings.Contains(page, "style=") || strings.Contains(page, "<script>") || strings.Contains(page, "onclick") {
		t.Error("code or style within the page, which the policy stops")
	}
	for _, want := range []string{"<strong>pit.local</strong>", "<strong>pit.our-school.example</strong>", s.f.origin + "/join", `href="/scan"`,
		`href="/ca.mobileconfig"`, `href="/ca.crt"`, "nothing on the internet", "Ask an adult", "school's IT", "remove it afterwards",
		"3 to 5 minutes", "This page came unencrypted"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	for _, line := range fingerprintLines(s.f.authority.Fingerprint()) {
		if !strings.Contains(page, "<span>"+line+"</span>") {
			t.Errorf("the fingerprint lacks %s", line)
		}
	}

	// By number, that is checked too, and named for those who do not find the name.
	// Nothing that is no number gets into the policy.
	port, checkPort := portOf(t, s.f.secure), portOf(t, s.f.plain)
	for host, number := range map[string]string{
		"192.168.1.10:8088": "https://192.168.1.10:", "192.168.1.10": "https://192.168.1.10:",
		"[fd00::1]:8088": "https://[fd00::1]:", "evil.example:8088": "",
	} {
		origins, checks := s.f.origin, check
		if number != "" {
			origins, checks = origins+" "+number+port, checks+" "+number+checkPort
		}
		headers, page := s.welcomePage(t, host, "")
		if policy := headers.Get("Content-Security-Policy"); !strings.Contains(policy, "connect-src "+origins+" "+checks+";") {
			t.Errorf("%s: policy %q", host, policy)
		}
		if !strings.Contains(page, `data-origins="`+origins+`" data-checks="`+checks+`"`) || strings.Contains(page, "evil") {
			t.Errorf("%s: the page checks other addresses than its policy allows", host)
		}
		if number != "" && !strings.Contains(page, `or <a href="`+number+port+`/join">`) {
			t.Errorf("%s: the page does not name the number to open", host)
		}
	}
}

func portOf(t *testing.T, l net.Listener) string {
	t.Helper()
	_, port, err := net.SplitHostPort(l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	return port
}

// Before the steps end there is little to read: nobody compares a fingerprint after
// a wall of words.
func TestWelcomeIsShort(t *testing.T) {
	s := startField(t)
	tags := regexp.MustCompile("<[^>]*>")
	for _, agent := range []string{"iPhone", "Android", "CrOS", "Windows", "Macintosh", ""} {
		_, page := s.welcomePage(t, "pit.local", agent)
		_, page, _ = strings.Cut(page, "<header>")
		before, _, _ := strings.Cut(page, "</ol>") // of the first system, which is the reader's own
		words := len(strings.Fields(tags.ReplaceAllString(before, " ")))
		if words >= 200 || words < 80 {
			t.Errorf("%q: %d words up to the last step", agent, words)
		}
	}
}

// A zone is whatever the sender writes, and so nothing for a policy.
func TestWelcomeByNumber(t *testing.T) {
	for host, want := range map[string]string{"[fe80::1%x;y]:8088": "", "10.0.0.1": "https://10.0.0.1:8443", "[fd00::1]": "https://[fd00::1]:8443", "": "", "10.0.0.1;x": ""} {
		got := ""
		if addr, ok := numberOf(host); ok {
			got = at(addr.String(), "8443")
		}
		if got != want {
			t.Errorf("%q: %q", host, got)
		}
	}
}

// The reader's own system is first and the only one open.
func TestWelcomeSystems(t *testing.T) {
	for agent, want := range map[string]string{
		"Mozilla/5.0 (iPhone; CPU iPhone OS 26_0 like Mac OS X) AppleWebKit/605.1.15 Version/26.0 Mobile Safari": "ios",
		"Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 Chrome/156.0 Mobile Safari/537.36":                "android",
		"Mozilla/5.0 (X11; CrOS x86_64 14541.0.0) AppleWebKit/537.36 Chrome/156.0 Safari/537.36":                 "chromeos",
		"Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 Chrome/156.0 Safari/537.36":                "windows",
		"Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15_7) AppleWebKit/605.1.15 Version/26.0 Safari/605.1.15":      "macos",
		"Mozilla/5.0 (X11; Linux x86_64; rv:145.0) Gecko/20100101 Firefox/145.0":                                 "other",
		"": "other",
	} {
		seen := map[string]bool{}
		for i, system := range systemsFor(agent) {
			seen[system.ID] = true
			if system.Open != (i == 0) || i == 0 && system.ID != want {
				t.Errorf("%q: number %d is %s, open %v, want %s", agent, i, system.ID, system.Open, want)
			}
			if len(system.Steps) < 3 || system.Remove == "" || system.Download == "" {
				t.Errorf("%s lacks something", system.ID)
			}
			if steps := strings.Join(system.Steps, " "); !strings.Contains(steps, "laptop's screen") || !strings.Contains(steps, "all of it") {
				t.Errorf("%s: nobody compares the fingerprint", system.ID)
			}
		}
		if len(seen) != 6 {
			t.Errorf("%q: %d systems", agent, len(seen))
		}
	}
}

// The files, and what systems ask to see whether a network leads anywhere.
func TestWelcomeFiles(t *testing.T) {
	s := startField(t)
	plain := "http://" + s.f.plain.Addr().String()
	for path, want := range map[string]struct{ kind, body string }{
		"/ca.crt":              {"application/x-x509-ca-cert", string(s.f.authority.RootDER())},
		"/ca.mobileconfig":     {"application/x-apple-aspen-config", string(s.f.authority.AppleProfile())},
		"/connecttest.txt":     {"text/plain", "Microsoft Connect Test"},
		"/hotspot-detect.html": {"text/html", "<HTML><HEAD><TITLE>Success</TITLE></HEAD><BODY>Success</BODY></HTML>"},
		"/generate_204":        {"", ""},
		"/welcome/page.css":    {"text/css; charset=utf-8", string(mustRead("page.css"))},
		"/welcome/page.js":     {"text/javascript; charset=utf-8", string(mustRead("page.js"))},
	} {
		resp := s.get(t, plain+path)
		body, err := io.ReadAll(resp.Body)
		status := http.StatusOK
		if path == "/generate_204" {
			status = http.StatusNoContent
		}
		if err != nil || resp.StatusCode != status || string(body) != want.body || resp.Header.Get("Content-Type") != want.kind {
			t.Errorf("%s: %s, %q, %d bytes", path, resp.Status, resp.Header.Get("Content-Type"), len(body))
		}
		if resp, err := http.Post(plain+path, "text/plain", nil); err != nil || resp.StatusCode != http.StatusMethodNotAllowed {
			t.Errorf("%s takes POST", path)
		}
	}
	// The steps promise that the file's own hash is the fingerprint, and that OpenSSL
	// shows it in the very digits that the terminal does.
	sum := sha256.Sum256(s.f.authority.RootDER())
	if got := strings.ReplaceAll(fmt.Sprintf("% X", sum[:]), " ", ":"); got != s.f.authority.Fingerprint() {
		t.Errorf("the file's hash is %s", got)
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "ca.crt"), s.f.authority.RootDER(), 0o600); err != nil {
		t.Fatal(err)
	}
	words := strings.Fields(opensslFingerprint)
	if _, err := exec.LookPath(words[0]); err != nil {
		t.Skip(err)
	}
	shown := exec.Command(words[0], words[1:]...)
	shown.Dir = dir
	if out, err := shown.Output(); err != nil || !strings.HasSuffix(string(out), "="+s.f.authority.Fingerprint()+"\n") {
		t.Errorf("OpenSSL shows %s, %v", out, err)
	}
}

// TestWelcomeInBrowser opens the page in a real browser: its check stays open where
// the certificate is not trusted, and turns green where it is taken. That one is
// really installed, or only clicked through, is for the journeys of the app.
func TestWelcomeInBrowser(t *testing.T) {
	chromium, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal(err)
		}
		t.Skip(err)
	}
	s := startField(t)
	port := portOf(t, s.f.plain)
	open := func(flags ...string) string {
		ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
		defer cancel()
		args := append([]string{"--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update",
			"--no-first-run", "--user-data-dir=" + t.TempDir(), "--host-resolver-rules=MAP pit.local 127.0.0.1", "--virtual-time-budget=4000", "--dump-dom"}, flags...)
		page, err := exec.CommandContext(ctx, chromium, append(args, "http://pit.local:"+port+"/")...).Output()
		if err != nil {
			t.Fatal(err)
		}
		return string(page)
	}
	if page := open(); !strings.Contains(page, `data-state="no"`) || !strings.Contains(page, `hidden="" id="go"`) {
		t.Errorf("without trust:\n%s", page)
	}
	if page := open("--ignore-certificate-errors"); !strings.Contains(page, `data-state="yes"`) || strings.Contains(page, `hidden=""`) || strings.Contains(page, `id="rest" open`) ||
		!strings.Contains(page, `id="open" href="`+s.f.origin+`/join"`) {
		t.Errorf("with trust:\n%s", page)
	}
}
