package ca

import (
	"net/netip"
	"slices"
	"strings"
	"testing"

	"packwright/internal/problem"
)

func TestHost(t *testing.T) {
	for text, want := range map[string]string{
		"pit.local":                           "pit.local",
		"Pit-2.Local.":                        "pit-2.local",
		"7.local":                             "7.local",
		strings.Repeat("a", 63) + ".local":    strings.Repeat("a", 63) + ".local",
		strings.Repeat("a", 64) + ".local":    "",
		"":                                    "",
		"pit":                                 "",
		"local":                               "",
		".local":                              "",
		"pit.example.org":                     "",
		"www.pit.local":                       "",
		"pit_2.local":                         "",
		"-pit.local":                          "",
		"pit-.local":                          "",
		"müller.local":                        "",
		"pit.local..":                         "",
		"*.local":                             "",
		"pit.local\n":                         "",
		"192.168.1.10":                        "",
		"<b>.local":                           "",
		"https://pit.local":                   "",
		"pit.local:8443":                      "",
		strings.Repeat("a.", 130) + "b.local": "",
	} {
		got, err := cleanHost(text)
		if got != want || (err == nil) != (want != "") {
			t.Errorf("%q: %q, %v", text, got, err)
		}
		if err != nil && kindOf(t, err) != problem.Invalid {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// Names that belong to one machine and private addresses may be added. What
// many share is taken from the public suffix list.
func TestAlso(t *testing.T) {
	for _, text := range []string{
		"pit.example.org", "PIT.Example.Org.", "pit.lan", "pit.home.arpa", "xn--mller-kva.example",
		"10.0.0.1", "172.16.0.1", "172.31.255.255", "192.168.255.255", "169.254.1.1", "fd00::1", "fe80::1", "fe80::1%eth0", "::ffff:10.0.0.1",
	} {
		names, at, err := cleanAlso([]string{text})
		if err != nil || len(names)+len(at) != 1 {
			t.Errorf("%s: %v %v, %v", text, names, at, err)
		}
	}
	for _, text := range []string{
		"com", "co.uk", "github.io", "pit", "local", "localhost", "example", // shared
		"8.8.8.8", "9.255.255.255", "11.0.0.0", "172.15.255.255", "172.32.0.0", "192.167.255.255", "192.169.0.0", "169.253.255.255", "100.64.0.1",
		"127.0.0.1", "0.0.0.0", "224.0.0.251", "255.255.255.255", "::1", "::", "2001:db8::1", "fbff::1", "fe00::1", "fec0::1", "ff02::fb", "::ffff:8.8.8.8",
		"*.example.org", "https://pit.example.org", "pit.example.org:8443", "pit example.org", "", ".", "999.1.1.1", "10.0.0.0/8", "ü.example.org",
	} {
		if _, _, err := cleanAlso([]string{"pit.example.org", text}); err == nil || kindOf(t, err) != problem.Invalid {
			t.Errorf("%q: %v", text, err)
		}
	}
	names, at, err := cleanAlso([]string{"b.example.org", "10.0.0.1", "a.example.org"})
	if !slices.Equal(names, []string{"b.example.org", "a.example.org"}) || !slices.Equal(at, addrs("10.0.0.1")) || err != nil {
		t.Error(names, at, err)
	}
}

func TestAddresses(t *testing.T) {
	found, err := Addresses()
	if err != nil {
		t.Fatal(err)
	}
	for _, addr := range found {
		if !usable(addr) || addr.IsLoopback() || addr.Zone() != "" {
			t.Errorf("%v", addr)
		}
	}
	if !slices.IsSortedFunc(found, netip.Addr.Compare) {
		t.Errorf("not sorted: %v", found)
	}
	for text, want := range map[string]bool{"192.168.1.2": true, "169.254.7.7": true, "fd12::1": true, "fe80::1": false, "8.8.8.8": false, "2001:db8::1": false} {
		if usable(addrs(text)[0]) != want {
			t.Errorf("%s usable: %v", text, !want)
		}
	}
}
