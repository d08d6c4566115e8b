package main

import (
	"context"
	"errors"
	"net"
	"net/netip"
	"testing"
	"time"
)

// A name of the network is looked up by the system first; what it cannot tell the
// networks may. All else is dialled as it is.
func TestFinder(t *testing.T) {
	unknown := &net.DNSError{Err: "no such host", IsNotFound: true}
	silent := errors.New("no multicast here")
	here := netip.MustParseAddr("192.168.1.7")
	for _, c := range []struct {
		address       string
		lookup, ask   error
		found         netip.Addr
		dialled       string // empty: the error of lookup is given
		looked, asked bool
	}{
		{"pit.local:8443", nil, nil, here, "pit.local:8443", true, false},
		{"pit.local:8443", unknown, nil, here, "192.168.1.7:8443", true, true},
		{"PIT.local.:8443", unknown, nil, netip.MustParseAddr("fe80::7%eth0"), "[fe80::7%eth0]:8443", true, true},
		{"pit.local:8443", unknown, nil, netip.Addr{}, "", true, true},
		{"pit.local:8443", unknown, silent, netip.Addr{}, "", true, true},
		{"packs.our-school.example:443", unknown, nil, here, "packs.our-school.example:443", false, false},
		{"192.168.1.9:8443", unknown, nil, here, "192.168.1.9:8443", false, false},
		{"local:8443", unknown, nil, here, "local:8443", false, false},
		{"nonsense", unknown, nil, here, "nonsense", false, false},
	} {
		dialled, looked, asked := "", false, false
		bounded := func(ctx context.Context) {
			if end, ok := ctx.Deadline(); !ok || time.Until(end) > 5*time.Second {
				t.Errorf("%s: without a time limit", c.address)
			}
		}
		f := finder{
			dial: func(_ context.Context, _, address string) (net.Conn, error) {
				dialled = address
				return nil, nil
			},
			lookup: func(ctx context.Context, _, host string) ([]netip.Addr, error) {
				bounded(ctx)
				looked = true
				return nil, c.lookup
			},
			ask: func(ctx context.Context, name string) (netip.Addr, error) {
				bounded(ctx)
				asked = true
				if name != "pit.local" {
					t.Errorf("%s: asked for %q", c.address, name)
				}
				return c.found, c.ask
			},
		}
		_, err := f.DialContext(t.Context(), "tcp", c.address)
		if dialled != c.dialled || looked != c.looked || asked != c.asked || (err == nil) != (c.dialled != "") {
			t.Errorf("%s: dialled %q, looked %v, asked %v, %v", c.address, dialled, looked, asked, err)
		}
		if err != nil && !errors.Is(err, unknown) {
			t.Errorf("%s: %v is not about the name", c.address, err)
		}
	}
}

// TestAskOn finds a responder over loopback by real packets, and nobody where nobody is.
func TestAskOn(t *testing.T) {
	networks := loopbackNetworks(t)
	responder, err := respond(networks, true, "pit.local")
	if err != nil {
		t.Skipf("no multicast DNS here: %v", err)
	}
	defer responder.Close()
	for name, want := range map[string]bool{"pit.local": true, "other.local": false} {
		ctx, cancel := context.WithTimeout(t.Context(), 3*time.Second)
		addr, err := askOn(ctx, networks, true, name)
		cancel()
		if err != nil || addr.IsValid() != want || want && !addr.IsLoopback() {
			t.Errorf("%s: %v, %v", name, addr, err)
		}
	}
}
