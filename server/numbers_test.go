package main

import (
	"bytes"
	"context"
	"log/slog"
	"net/netip"
	"slices"
	"strings"
	"testing"
	"time"

	"packwright/internal/access"
)

func TestTypedNumbers(t *testing.T) {
	parse := func(texts ...string) (addrs []netip.Addr) {
		for _, text := range texts {
			addrs = append(addrs, netip.MustParseAddr(text))
		}
		return addrs
	}
	for _, c := range []struct{ all, want []netip.Addr }{
		{parse("fd00::2", "192.168.78.1", "10.0.0.1", "192.168.78.1"), parse("192.168.78.1", "10.0.0.1")},
		{parse("fe80::1", "fd00::2"), parse("fd00::2")},
		{parse("fe80::1"), nil},
	} {
		if got := typedNumbers(c.all); !slices.Equal(got, c.want) {
			t.Errorf("%v: %v", c.all, got)
		}
	}
}

// An invitation says which code is which, where a phone begins that does not trust
// this machine yet, and the number for one that does not find the name.
func TestInviteTells(t *testing.T) {
	now := time.Now()
	made := inviteAnswer{Invitation: access.Invitation{Code: "ABCD-EFGH", Role: access.Crew, ExpiresMS: now.Add(10 * time.Minute).UnixMilli()},
		URL: "https://pit.local:8443/join#ABCD-EFGH", Welcome: "http://pit.local:8088",
		Numbers: []numbered{{"http://192.168.78.1:8088", "https://192.168.78.1:8443/join"}}}
	var out bytes.Buffer
	if err := made.tell(&out, now); err != nil {
		t.Fatal(err)
	}
	at := -1
	for _, want := range []string{"does not trust this machine yet begins with the welcome page: open http://pit.local:8088\n", "does not find that name, http://192.168.78.1:8088\n",
		"QR TO JOIN, for a phone that trusts this machine", "\n  ABCD-EFGH\n", "open https://192.168.78.1:8443/join; if that number changes, readings not yet sent stay under it", "within 10 minutes"} {
		found := strings.Index(out.String(), want)
		if found <= at {
			t.Errorf("%q is missing or out of order", want)
		}
		at = found
	}

	// With a certificate that every phone trusts there is nothing to begin with.
	made.Welcome, made.Numbers = "", nil
	out.Reset()
	if err := made.tell(&out, now); err != nil || strings.Contains(out.String(), "welcome") || strings.Contains(out.String(), "find that name") {
		t.Errorf("%v, %s", err, out.String())
	}
}

// The answer to an invitation has the addresses of this machine.
func TestInvitationAddresses(t *testing.T) {
	s := startField(t)
	got := answerOf[inviteAnswer](t, ask{method: "POST", path: "/api/v1/invitations", body: `{"role":"crew"}`}.to(t, s.server), 200)
	if got.Welcome != s.f.welcome() || !slices.Equal(got.Numbers, append([]numbered{}, s.f.numbers()...)) || got.Numbers == nil {
		t.Errorf("%+v", got)
	}
}

// A changed number is told with the addresses to open, once.
func TestTellMoves(t *testing.T) {
	var log bytes.Buffer
	first := []numbered{{"http://192.168.78.1:8088", "https://192.168.78.1:8443/join"}}
	second := []numbered{{"http://10.20.30.1:8088", "https://10.20.30.1:8443/join"}}
	ctx, cancel := context.WithCancel(t.Context())
	looks, ended := make(chan []numbered), make(chan struct{})
	go func() {
		defer close(ended)
		tellMoves(ctx, slog.New(slog.NewTextHandler(&log, nil)), time.Millisecond, func() []numbered {
			select {
			case found := <-looks:
				return found
			case <-ctx.Done():
				return nil
			}
		})
	}()
	for _, found := range [][]numbered{first, first, second, second, nil, nil} {
		looks <- found
	}
	cancel()
	<-ended
	if said := log.String(); strings.Count(said, "\n") != 2 || !strings.Contains(said, "welcome=http://10.20.30.1:8088 app=https://10.20.30.1:8443/join") || !strings.Contains(said, "in no network any more") {
		t.Error(said)
	}
}
