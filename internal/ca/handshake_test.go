package ca

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"net"
	"net/netip"
	"testing"
	"time"
)

type getCertificate = func(*tls.ClientHelloInfo) (*tls.Certificate, error)

// handshake has a client that trusts one root meet a server, and gives the
// certificate that the client was shown.
func handshake(t testing.TB, get getCertificate, root *x509.Certificate, name string, now time.Time, version uint16) (*x509.Certificate, error) {
	t.Helper()
	here, there := net.Pipe()
	defer here.Close()
	defer there.Close()
	go func() {
		server := tls.Server(there, &tls.Config{GetCertificate: get, SessionTicketsDisabled: true})
		_ = server.Handshake() // the client says what is wrong
	}()
	roots := x509.NewCertPool()
	roots.AddCert(root)
	client := tls.Client(here, &tls.Config{RootCAs: roots, ServerName: name, MaxVersion: version, Time: func() time.Time { return now }})
	if err := client.Handshake(); err != nil {
		return nil, err
	}
	return client.ConnectionState().PeerCertificates[0], nil
}

// A phone that trusts the root comes in by each name and address of the
// machine, from a day before until the certificate ends, and by no other.
func TestHandshake(t *testing.T) {
	a := made(t, keys(t), options("pit.example.org"))
	k := NewKeeper(a, func() ([]string, []netip.Addr) {
		return nil, addrs("192.168.1.10", "fd00::2", "8.8.8.8", "fe80::1%eth0")
	})
	if _, err := handshake(t, k.GetCertificate, a.root, "pit.local", noon(), tls.VersionTLS13); err == nil {
		t.Error("a handshake without a certificate")
	}
	if err := k.Refresh(); err != nil {
		t.Fatal(err)
	}
	for _, version := range []uint16{tls.VersionTLS12, tls.VersionTLS13} {
		for _, name := range []string{"pit.local", "pit.example.org", "192.168.1.10", "fd00::2", "fe80::1"} {
			for _, now := range []time.Time{noon(), noon().Add(-24 * time.Hour), noon().AddDate(0, 0, 90)} {
				if _, err := handshake(t, k.GetCertificate, a.root, name, now, version); err != nil {
					t.Errorf("%s at %v: %v", name, now, err)
				}
			}
		}
	}
	for _, name := range []string{"den.local", "www.pit.local", "example.org", "8.8.8.8", "192.168.1.11"} {
		var wrong x509.HostnameError
		if _, err := handshake(t, k.GetCertificate, a.root, name, noon(), tls.VersionTLS13); !errors.As(err, &wrong) {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, now := range []time.Time{noon().Add(-24*time.Hour - time.Second), noon().AddDate(0, 0, 90).Add(time.Second)} {
		var invalid x509.CertificateInvalidError
		if _, err := handshake(t, k.GetCertificate, a.root, "pit.local", now, tls.VersionTLS13); !errors.As(err, &invalid) || invalid.Reason != x509.Expired {
			t.Errorf("at %v: %v", now, err)
		}
	}
	other := made(t, keys(t), options("pit.example.org"))
	var unknown x509.UnknownAuthorityError
	if _, err := handshake(t, k.GetCertificate, other.root, "pit.local", noon(), tls.VersionTLS13); !errors.As(err, &unknown) {
		t.Errorf("by another root of the same name: %v", err)
	}
}

// A thief with the folder cannot pass for other machines.
func TestThief(t *testing.T) {
	a := made(t, keys(t), options())
	for _, name := range []string{"bank.example", "8.8.8.8", "2001:db8::1", "den.local"} {
		names, at, _ := san(name)
		leaf, key := forged(t, a, names, at)
		get := func(*tls.ClientHelloInfo) (*tls.Certificate, error) { return a.chain(leaf, key), nil }
		var invalid x509.CertificateInvalidError
		if _, err := handshake(t, get, a.root, name, noon(), tls.VersionTLS13); !errors.As(err, &invalid) || invalid.Reason != x509.CANotAuthorizedForThisName {
			t.Errorf("%s: %v", name, err)
		}
	}
}
