package main

import (
	"cmp"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"encoding/pem"
	"errors"
	"io"
	"log/slog"
	"math/big"
	"net"
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"packwright/internal/access"
	"packwright/internal/ca"
	"packwright/internal/exchange"
	"packwright/internal/problem"
)

// fieldServer is a server with all doors open, on loopback.
type fieldServer struct {
	*server
	f    *field
	here net.Listener
	stop func() error // ends it and gives what serve gave
}

// startField opens the doors that the choices say, --lan where they say nothing,
// on free ports of this machine.
func startField(t *testing.T, choices ...fieldChoices) *fieldServer {
	t.Helper()
	o := fieldChoices{Lan: true, Name: "pit"}
	if len(choices) > 0 {
		o = choices[0]
	}
	o.Keys = cmp.Or(o.Keys, filepath.Join(t.TempDir(), "keys"))
	if o.BehindProxy == "" {
		o.HTTPS, o.Welcome = cmp.Or(o.HTTPS, "127.0.0.1:0"), cmp.Or(o.Welcome, "127.0.0.1:0")
	}
	s, _ := openTest(t)
	f, err := openField(o, "unused", "", time.Now, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	here, err := listenLoopback("127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	doors, err := f.entrances(s)
	if err != nil {
		t.Fatal(err)
	}
	go func() {
		ended <- s.serve(ctx, append(doors, entrance{door: doorHere, listener: here, handler: s.handler(doorHere)})...)
	}()
	fs := &fieldServer{server: s, f: f, here: here}
	stopped := false
	fs.stop = func() error {
		if stopped {
			return nil
		}
		stopped = true
		cancel()
		return errors.Join(<-ended, f.keys.Release())
	}
	t.Cleanup(func() {
		if err := fs.stop(); err != nil {
			t.Error(err)
		}
	})
	return fs
}

// client is a phone at an address of this machine that trusts the authority and
// reaches every name here. Each has connections of its own.
func (s *fieldServer) client(t *testing.T, from string) *http.Client {
	t.Helper()
	roots := x509.NewCertPool()
	if s.f.authority != nil && !roots.AppendCertsFromPEM(s.f.authority.RootPEM()) {
		t.Fatal("no root")
	}
	dialer := net.Dialer{LocalAddr: &net.TCPAddr{IP: net.ParseIP(from)}}
	transport := &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots}, ForceAttemptHTTP2: true,
		DialContext: func(ctx context.Context, network, address string) (net.Conn, error) {
			_, port, _ := net.SplitHostPort(address)
			return dialer.DialContext(ctx, network, net.JoinHostPort("127.0.0.1", port))
		}}
	t.Cleanup(transport.CloseIdleConnections)
	return &http.Client{Transport: transport, Timeout: 30 * time.Second,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

func (s *fieldServer) get(t *testing.T, url string) *http.Response {
	t.Helper()
	resp, err := s.client(t, "127.0.0.1").Get(url)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { resp.Body.Close() })
	return resp
}

// Every door shows what it should and no more.
func TestDoors(t *testing.T) {
	s := startField(t)
	here, plain := "http://"+s.here.Addr().String(), "http://"+s.f.plain.Addr().String()
	if !strings.HasPrefix(s.f.origin, "https://pit.local:") {
		t.Fatalf("origin %s", s.f.origin)
	}
	for url, want := range map[string]int{
		here + "/api/v1/entries":          http.StatusOK,
		here + "/api/v1/devices":          http.StatusOK,
		s.f.origin + "/api/v1/health":     http.StatusOK,
		s.f.origin + "/api/v1/entries":    http.StatusUnauthorized,
		s.f.origin + "/api/v1/devices":    http.StatusUnauthorized,
		s.f.origin + "/ca.crt":            http.StatusOK, // for servers that join
		s.f.origin + "/ca.mobileconfig":   http.StatusNotFound,
		plain + "/":                       http.StatusOK,
		plain + "/ca.crt":                 http.StatusOK,
		plain + "/api/v1/health":          http.StatusForbidden,
		plain + "/api/v1/entries":         http.StatusForbidden,
		plain + "/API/v1/entries":         http.StatusForbidden,
		plain + "//api/v1/journal.jsonl":  http.StatusNotFound, // of the app, which has no such files
		plain + "/x/../api/v1/labels.pdf": http.StatusNotFound,
	} {
		if got := s.get(t, url).StatusCode; got != want && !(got == http.StatusServiceUnavailable && !s.app.built()) {
			t.Errorf("%s: status %d, want %d", url, got, want)
		}
	}
	if root, err := io.ReadAll(s.get(t, s.f.origin+"/ca.crt").Body); err != nil || exchange.Fingerprint(root) != s.f.authority.Fingerprint() {
		t.Errorf("the encrypted door gives another certificate: %v", err)
	}
	var health healthAnswer
	_, port, _ := net.SplitHostPort(s.f.plain.Addr().String())
	if err := json.NewDecoder(s.get(t, s.f.origin+"/api/v1/health").Body).Decode(&health); err != nil || health.Welcome != "http://pit.local:"+port {
		t.Errorf("a stranger hears that the welcome page is %q, %v", health.Welcome, err)
	}
	resp := s.get(t, s.f.origin+"/api/v1/trusted")
	if resp.StatusCode != http.StatusNoContent || resp.ProtoMajor != 2 || resp.TLS.Version < tls.VersionTLS12 {
		t.Errorf("%s %s", resp.Proto, resp.Status)
	}
	old := s.client(t, "127.0.0.1")
	old.Transport.(*http.Transport).TLSClientConfig.MaxVersion = tls.VersionTLS11
	if _, err := old.Get(s.f.origin); err == nil {
		t.Error("TLS 1.1 was taken")
	}
	for suite, want := range map[uint16]bool{tls.TLS_ECDHE_ECDSA_WITH_AES_128_CBC_SHA: false, tls.TLS_ECDHE_ECDSA_WITH_AES_128_GCM_SHA256: true} {
		one := s.client(t, "127.0.0.1")
		c := one.Transport.(*http.Transport).TLSClientConfig
		c.MaxVersion, c.CipherSuites = tls.VersionTLS12, []uint16{suite}
		if _, err := one.Get(s.f.origin); (err == nil) != want {
			t.Errorf("%s: %v", tls.CipherSuiteName(suite), err)
		}
	}
}

// All doors close together, with a live stream open at one of them.
func TestShutdownOfDoors(t *testing.T) {
	s := startField(t)
	resp := s.get(t, "http://"+s.here.Addr().String()+"/api/v1/live")
	if resp.StatusCode != http.StatusOK {
		t.Fatal(resp.Status)
	}
	start := time.Now()
	if err := s.stop(); err != nil {
		t.Error(err)
	}
	if took := time.Since(start); took > patience/2 {
		t.Errorf("it took %v", took)
	}
	for _, l := range []net.Listener{s.here, s.f.secure, s.f.plain} {
		if conn, err := net.Dial("tcp", l.Addr().String()); err == nil {
			conn.Close()
			t.Errorf("%s is still open", l.Addr())
		}
	}
}

// A door that fails closes the others: half a server helps nobody.
func TestDoorFails(t *testing.T) {
	s, _ := openTest(t)
	var doors []entrance
	for range 2 {
		l, err := listenLoopback("127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		doors = append(doors, entrance{door: doorHere, listener: l, handler: s.handler(doorHere)})
	}
	doors[1].listener.Close()
	if err := s.serve(t.Context(), doors...); err == nil {
		t.Error("nobody heard of it")
	}
	if _, err := net.Dial("tcp", doors[0].listener.Addr().String()); err == nil {
		t.Error("the other door is still open")
	}
}

// writeCertificate puts a certificate of its own making for a name into files.
func writeCertificate(t *testing.T, dir, name string, serial int64) fieldChoices {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{SerialNumber: big.NewInt(serial), DNSNames: []string{"*.example", name},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour)}
	cert, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	o := fieldChoices{Cert: filepath.Join(dir, "cert.pem"), Key: filepath.Join(dir, "key.pem")}
	for path, block := range map[string]*pem.Block{o.Cert: {Type: "CERTIFICATE", Bytes: cert}, o.Key: {Type: "PRIVATE KEY", Bytes: secret}} {
		if err := os.WriteFile(path, pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return o
}

// A certificate from files is used, and its successor without a restart.
func TestCertificateFiles(t *testing.T) {
	dir := t.TempDir()
	s := startField(t, writeCertificate(t, dir, "packs.our-school.example", 1))
	if !strings.HasPrefix(s.f.origin, "https://packs.our-school.example:") {
		t.Errorf("origin %s", s.f.origin)
	}
	serial := func() int64 {
		conn, err := tls.Dial("tcp", s.f.secure.Addr().String(), &tls.Config{InsecureSkipVerify: true})
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
		return conn.ConnectionState().PeerCertificates[0].SerialNumber.Int64()
	}
	if serial() != 1 {
		t.Error("another certificate")
	}
	writeCertificate(t, dir, "packs.our-school.example", 2)
	if serial() != 2 {
		t.Error("the new certificate is not used")
	}
	resp := s.get(t, "http://"+s.f.plain.Addr().String()+"/p/7K3QX9?x=1")
	if got := resp.Header.Get("Location"); resp.StatusCode != http.StatusFound || got != s.f.origin+"/p/7K3QX9?x=1" {
		t.Errorf("plain HTTP: %s to %q", resp.Status, got)
	}
	for _, path := range []string{"/api/v1/entries", "/API/v1/entries", "/%61pi/v1/me"} { // a token would go on in clear
		resp := s.get(t, "http://"+s.f.plain.Addr().String()+path)
		if resp.StatusCode != http.StatusForbidden || resp.Header.Get("Location") != "" || !strings.Contains(resp.Header.Get("Content-Security-Policy"), "default-src 'none'") {
			t.Errorf("%s in plain HTTP: %s", path, resp.Status)
		}
	}
}

func TestWays(t *testing.T) {
	for _, c := range []struct {
		o     fieldChoices
		want  way
		field string // of the problem
	}{
		{fieldChoices{}, wayNone, ""},
		{fieldChoices{Lan: true, Name: "pit", Also: []string{"pit.our-school.example"}}, wayOwn, ""},
		{fieldChoices{Cert: "c", Key: "k"}, wayFiles, ""},
		{fieldChoices{Lan: true, Cert: "c", Key: "k"}, wayFiles, ""},
		{fieldChoices{Domain: "packs.our-school.example"}, wayDomain, ""},
		{fieldChoices{BehindProxy: "127.0.0.1:8090", Public: "https://packs.our-school.example"}, wayProxy, ""},
		{fieldChoices{Cert: "c"}, 0, "cert"},
		{fieldChoices{Key: "k"}, 0, "cert"},
		{fieldChoices{BehindProxy: "127.0.0.1:8090"}, 0, "public"},
		{fieldChoices{Public: "https://packs.our-school.example"}, 0, "public"},
		{fieldChoices{Cert: "c", Key: "k", Domain: "d"}, 0, "domain"},
		{fieldChoices{Lan: true, BehindProxy: "127.0.0.1:8090", Public: "https://packs.our-school.example"}, 0, "behind-proxy"},
		{fieldChoices{ACME: "https://ca.example/dir"}, 0, "acme"},
		{fieldChoices{Name: "pit"}, 0, "lan"},
		{fieldChoices{Welcome: ":80"}, 0, "lan"},
	} {
		got, err := c.o.way()
		p, _ := problem.As(err)
		if got != c.want || (p == nil) != (c.field == "") || p != nil && (p.Field != c.field || p.Hint == "") {
			t.Errorf("%+v: %v, %v", c.o, got, err)
		}
	}
}

// Over HTTP/2, as browsers come, the answer to an app that is too old has none of
// the headers that HTTP/2 forbids (RFC 9113, 8.2.2).
func TestTooOldOverHTTP2(t *testing.T) {
	s := startField(t)
	_, token := joined(t, s.server, access.Crew)
	req, err := http.NewRequest("GET", s.f.origin+"/api/v1/entries", nil)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Authorization", "Bearer "+token)
	for told, want := range map[string]int{"0": http.StatusUpgradeRequired, "1": http.StatusOK} {
		req.Header.Set("Packwright-API", told)
		resp, err := s.client(t, "127.0.0.1").Do(req)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		if resp.StatusCode != want || resp.ProtoMajor != 2 || resp.Header.Get("Upgrade") != "" {
			t.Errorf("API %s: %s %s, %v", told, resp.Proto, resp.Status, resp.Header)
		}
	}
}

// A server does not take itself for another one.
func TestLeadsHere(t *testing.T) {
	s := startField(t, fieldChoices{Lan: true, Name: "pit", Also: []string{"pit.our-school.example"}})
	_, https, _ := net.SplitHostPort(s.f.secure.Addr().String())
	_, http, _ := net.SplitHostPort(s.here.Addr().String())
	addresses := map[string]bool{
		"https://pit.local:" + https: true, "https://PIT.local:" + https: true, "https://pit.our-school.example:" + https: true,
		"https://127.0.0.1:" + https: true, "https://localhost:" + https: true, "http://127.0.0.1:" + http: true, "http://localhost:" + http: true,
		"https://pit.local": false, "https://other.local:" + https: false, "https://192.0.2.1:" + https: false,
		"http://127.0.0.1:1": false, "http://[::1]:" + http: false, "http://127.0.0.1:" + https: false, "": false, "::": false,
	}
	own, err := ca.Addresses()
	if err != nil {
		t.Fatal(err)
	}
	for _, addr := range own {
		addresses["https://"+netip.AddrPortFrom(addr, 1).String()] = false
		addresses["https://"+net.JoinHostPort(addr.String(), https)] = true
	}
	for address, want := range addresses {
		if got := s.f.leadsHere(address, s.here); got != want {
			t.Errorf("%q: %v", address, got)
		}
	}
	proxied := startField(t, fieldChoices{BehindProxy: "127.0.0.1:0", Public: "https://packs.our-school.example"})
	for address, want := range map[string]bool{"https://packs.our-school.example": true, "https://127.0.0.1": false} {
		if got := proxied.f.leadsHere(address, proxied.here); got != want {
			t.Errorf("behind a proxy, %q: %v", address, got)
		}
	}
}

func TestLocalName(t *testing.T) {
	keys := t.TempDir()
	for typed, want := range map[string]string{"pit": "pit.local", "Pit.local": "pit.local", "pit.local.": "pit.local"} {
		if got, err := localName(typed, keys); got != want || err != nil {
			t.Errorf("%q: %q, %v", typed, got, err)
		}
	}
	got, err := localName("", keys)
	if label, isLocal := strings.CutSuffix(got, ".local"); err != nil || !isLocal || label == "" || strings.ContainsAny(label, "._ ") {
		t.Errorf("the machine's own name became %q, %v", got, err)
	}
}

// What is in use or cannot be is said before anything is made.
func TestOpenFieldRefuses(t *testing.T) {
	busy, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer busy.Close()
	keys := filepath.Join(t.TempDir(), "keys")
	for field, o := range map[string]fieldChoices{
		"":        {Lan: true, HTTPS: busy.Addr().String(), Welcome: "127.0.0.1:0"},
		"welcome": {Lan: true, HTTPS: "127.0.0.1:0", Welcome: "8088"},
		"https":   {Lan: true, HTTPS: "nowhere", Welcome: "127.0.0.1:0"},
		"public":  {BehindProxy: "127.0.0.1:0", Public: "http://packs.our-school.example"},
	} {
		o.Keys = keys
		_, err := openField(o, "unused", "", time.Now, slog.New(slog.DiscardHandler))
		if p, ok := problem.As(err); !ok || p.Field != field || p.Hint == "" || field == "" && p.Kind != problem.InUse {
			t.Errorf("%q: %v", field, err)
		}
	}
	if _, err := os.Stat(keys); err == nil {
		t.Error("the keys folder was made")
	}
}
