package main

import (
	"io"
	"net/http"
	"strings"
	"testing"
)

// The rules of a reverse proxy: nothing but a request that came encrypted to the
// public name gets in, and who asked is what the proxy saw.
func TestBehindProxy(t *testing.T) {
	s := startField(t, fieldChoices{BehindProxy: "127.0.0.1:0", Public: "https://packs.our-school.example:443/"})
	if s.f.origin != "https://packs.our-school.example" {
		t.Errorf("origin %s", s.f.origin)
	}
	const ok, host, https, client = http.StatusOK, "packs.our-school.example", "https", "203.0.113.7"
	for _, c := range []struct {
		host, proto, from string
		want              int
	}{
		{host, https, client, ok},
		{"Packs.Our-School.example", https, client, ok},
		{host, https, "spoofed, " + client, ok},
		{host, https, "2001:db8::1", ok},
		{host, "http", client, http.StatusForbidden},
		{host, "", client, http.StatusForbidden},
		{host, "https, http", client, http.StatusForbidden},
		{"127.0.0.1", https, client, http.StatusForbidden},
		{host + ":8090", https, client, http.StatusForbidden},
		{"evil.example", https, client, http.StatusForbidden},
		{host, https, "", http.StatusForbidden},
		{host, https, client + ", not an address", http.StatusForbidden},
	} {
		resp, body := s.viaProxy(t, "/api/v1/health", c.host, c.proto, c.from)
		if resp.StatusCode != c.want || c.want != ok && !strings.Contains(body, `"kind":"not_allowed"`) {
			t.Errorf("%+v: %s %s", c, resp.Status, body)
		}
	}
	// Tries to join are counted for the address that the proxy saw, not for the
	// proxy and not for what the client wrote before it.
	refused := 0
	for i := range 12 {
		from := strings.Repeat("192.0.2.1, ", i) + client
		if resp, _ := s.viaProxy(t, "/api/v1/join", host, https, from); resp.StatusCode == http.StatusTooManyRequests {
			refused++
		}
	}
	if resp, _ := s.viaProxy(t, "/api/v1/join", host, https, "203.0.113.8"); refused == 0 || resp.StatusCode == http.StatusTooManyRequests {
		t.Errorf("%d tries refused; a neighbour got %s", refused, resp.Status)
	}
	// What is believed at the proxy's door is not believed elsewhere.
	req, _ := http.NewRequest("GET", "http://"+s.here.Addr().String()+"/api/v1/health", nil)
	req.Host, req.Header = host, http.Header{"X-Forwarded-Proto": {https}, "X-Forwarded-For": {client}}
	if resp, err := http.DefaultClient.Do(req); err != nil || resp.StatusCode != http.StatusForbidden {
		t.Errorf("this machine's door: %v, %v", resp, err)
	}
}

func (s *fieldServer) viaProxy(t *testing.T, path, host, proto, from string) (*http.Response, string) {
	t.Helper()
	method, sent := "GET", io.Reader(nil)
	if strings.HasSuffix(path, "/join") {
		method, sent = "POST", strings.NewReader(`{"code":"AAAA-AAAA","name":"x"}`)
	}
	req, err := http.NewRequest(method, "http://"+s.f.secure.Addr().String()+path, sent)
	if err != nil {
		t.Fatal(err)
	}
	req.Host = host
	req.Header.Set("Content-Type", "application/json")
	if proto != "" {
		req.Header.Set("X-Forwarded-Proto", proto)
	}
	if from != "" {
		req.Header.Set("X-Forwarded-For", from)
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp, string(body)
}

func TestReadPublic(t *testing.T) {
	for _, typed := range []string{"", "packs.our-school.example", "http://packs.our-school.example", "https://", "https://a.example/app", "https://me@a.example", "https://a.example?x"} {
		if u, err := readPublic(typed); err == nil {
			t.Errorf("%q became %s", typed, u)
		}
	}
}
