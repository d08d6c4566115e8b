package main

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"
)

// dialCheck opens TLS at the door of the welcome page as somebody who trusts the
// authority, and gives the serial number of the certificate that came.
func (s *fieldServer) dialCheck(t *testing.T, name string) (*tls.Conn, string) {
	t.Helper()
	roots := x509.NewCertPool()
	roots.AppendCertsFromPEM(s.f.authority.RootPEM())
	conn, err := tls.Dial("tcp", s.f.plain.Addr().String(), &tls.Config{RootCAs: roots, ServerName: name})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	return conn, conn.ConnectionState().PeerCertificates[0].SerialNumber.String()
}

// The door of the welcome page shows every connection that begins with TLS another
// certificate of the authority, for the names of the machine. So a warning that was
// clicked away, which browsers remember for one certificate, cannot pass for trust.
func TestCheckInTLS(t *testing.T) {
	s := startField(t)
	used, err := s.f.keeper.GetCertificate(nil)
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{used.Leaf.SerialNumber.String(): true}
	for range 3 {
		_, serial := s.dialCheck(t, "pit.local")
		if seen[serial] {
			t.Error("a certificate was shown twice")
		}
		seen[serial] = true
	}
	if _, err := tls.Dial("tcp", s.f.plain.Addr().String(), &tls.Config{ServerName: "pit.local"}); err == nil {
		t.Error("trusted by whoever installed nothing")
	}

	// It answers the check, and nothing else of any door.
	for _, c := range []struct {
		method, path string
		status       int
		location     string
	}{
		{"GET", trustPath, 204, ""},
		{"POST", trustPath, 405, ""},
		{"GET", "/", 302, s.f.origin + "/"},
		{"GET", "/scan", 302, s.f.origin + "/scan"},
		{"GET", "/api/v1/health", 403, ""},
		{"GET", "/api/v1/entries", 403, ""},
	} {
		conn, _ := s.dialCheck(t, "pit.local")
		client := http.Client{Timeout: 5 * time.Second, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
			Transport: &http.Transport{DialTLSContext: func(context.Context, string, string) (net.Conn, error) { return conn, nil }}}
		req, err := http.NewRequest(c.method, "https://pit.local"+c.path, nil)
		if err != nil {
			t.Fatal(err)
		}
		resp, err := client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		if resp.StatusCode != c.status || resp.Header.Get("Location") != c.location {
			t.Errorf("%s %s: %s to %q", c.method, c.path, resp.Status, resp.Header.Get("Location"))
		}
		if shared := resp.Header.Get("Cross-Origin-Resource-Policy") == "cross-origin"; shared != (c.status == 204) {
			t.Errorf("%s %s: may be loaded by other pages: %v", c.method, c.path, shared)
		}
	}

	// In clear it is the door that it was, also for whoever says nothing for a while.
	if resp := s.get(t, "http://"+s.f.plain.Addr().String()+trustPath); resp.StatusCode == 204 {
		t.Error("the check answers in clear")
	}
	silent, err := net.Dial("tcp", s.f.plain.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer silent.Close()
	if resp := s.get(t, "http://"+s.f.plain.Addr().String()+"/"); resp.StatusCode != 200 {
		t.Errorf("beside a silent connection: %s", resp.Status)
	}
	if _, err := io.WriteString(silent, "GET / HTTP/1.0\r\n\r\n"); err != nil {
		t.Fatal(err)
	}
	if answer, err := io.ReadAll(silent); err != nil || !strings.HasPrefix(string(answer), "HTTP/1.0 200") {
		t.Errorf("%.40q, %v", answer, err)
	}
}
