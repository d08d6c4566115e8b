package ca

import (
	"crypto/ecdsa"
	"crypto/x509"
	"encoding/pem"
	"fmt"
	"net/netip"
	"strconv"
	"strings"
	"testing"
	"time"
)

// check has OpenSSL judge a chain the strict way, at noon.
func check(t *testing.T, root, issuer, leaf *x509.Certificate, args ...string) (string, error) {
	t.Helper()
	dir := t.TempDir()
	file := func(name string, c *x509.Certificate) string {
		return write(t, dir, name, pem.EncodeToMemory(&pem.Block{Type: certificateBlock, Bytes: c.Raw}))
	}
	all := append([]string{"verify", "-x509_strict", "-purpose", "sslserver", "-attime", strconv.FormatInt(noon().Unix(), 10),
		"-CAfile", file("root", root), "-untrusted", file("issuer", issuer)}, args...)
	return openssl(t, append(all, file("leaf", leaf))...)
}

// OpenSSL takes what the authority may vouch for and refuses the rest, although
// it is signed with the right key. RFC 5280, 4.2.1.10 is what both follow.
func TestConstraintsByOpenSSL(t *testing.T) {
	a := made(t, keys(t), options("pit.example.org"))
	free := authorityTemplate("pit.local", nil, noon())
	free.PermittedDNSDomains, free.PermittedIPRanges, free.PermittedDNSDomainsCritical = nil, nil, false
	ours := authorityTemplate("pit.local", []string{"pit.example.org"}, noon())

	// Each layer must hold alone, with a root or an issuer beside it that permits everything.
	freeRoot, freeRootKey := signed(t, free, free, nil)
	issuer, issuerKey := signed(t, ours, freeRoot, freeRootKey)
	root, rootKey := signed(t, ours, ours, nil)
	freeIssuer, freeIssuerKey := signed(t, free, root, rootKey)
	anyIssuer, anyIssuerKey := signed(t, free, freeRoot, freeRootKey)
	chains := map[string]struct {
		root, issuer *x509.Certificate
		key          *ecdsa.PrivateKey
		free         bool
	}{
		"as made":            {a.root, a.issuer, a.key, false},
		"by the issuer only": {freeRoot, issuer, issuerKey, false},
		"by the root only":   {root, freeIssuer, freeIssuerKey, false},
		"no constraints":     {freeRoot, anyIssuer, anyIssuerKey, true}, // shows that nothing else is amiss with what is refused
	}
	inside := []string{"pit.local", "www.pit.local", "pit.example.org", "10.255.0.1", "172.20.10.1", "192.168.1.10", "169.254.7.7", "fd00::2", "fe80::2"}
	outside := []string{"den.local", "local", "pit.local.example.org", "example.org", "evil.example", "8.8.8.8", "172.32.0.1", "127.0.0.1", "100.64.0.1", "2001:db8::1", "::1"}
	for name, chain := range chains {
		t.Run(name, func(t *testing.T) {
			forger := &Authority{host: "pit.local", issuer: chain.issuer, key: chain.key}
			for _, text := range inside {
				names, at, flag := san(text)
				leaf, _ := forged(t, forger, names, at)
				if out, err := check(t, chain.root, chain.issuer, leaf, flag, text); err != nil {
					t.Errorf("%s is refused: %s", text, out)
				}
			}
			for _, text := range outside {
				names, at, flag := san(text)
				leaf, _ := forged(t, forger, names, at)
				out, err := check(t, chain.root, chain.issuer, leaf, flag, text)
				if refused := err != nil && strings.Contains(out, "permitted subtree violation"); refused == chain.free || (err == nil) != chain.free {
					t.Errorf("%s: %s", text, out)
				}
				if chain.free {
					continue
				}
				// One bad name spoils the whole certificate.
				leaf, _ = forged(t, forger, append(names, "pit.local"), at)
				if out, err := check(t, chain.root, chain.issuer, leaf, "-verify_hostname", "pit.local"); err == nil || !strings.Contains(out, "permitted subtree violation") {
					t.Errorf("%s beside a good name: %s", text, out)
				}
			}
		})
	}
	// The issuer signs servers and no further issuers.
	sub, subKey := signed(t, authorityTemplate("pit.local", nil, noon()), a.issuer, a.key)
	leaf, _ := forged(t, &Authority{host: "pit.local", issuer: sub, key: subKey}, []string{"pit.local"}, nil)
	if out, err := check(t, a.root, a.issuer, leaf, "-untrusted", write(t, t.TempDir(), "sub", pem.EncodeToMemory(&pem.Block{Type: certificateBlock, Bytes: sub.Raw}))); err == nil || !strings.Contains(out, "path length") {
		t.Errorf("an issuer below the issuer: %s", out)
	}
	good, _ := forged(t, a, []string{"pit.local"}, nil)
	if out, err := check(t, a.root, a.issuer, good, "-purpose", "smimesign"); err == nil {
		t.Errorf("good for mail: %s", out)
	}
}

// san sorts a text into names and addresses and gives OpenSSL's option for it.
func san(text string) (names []string, at []netip.Addr, flag string) {
	if addr, err := netip.ParseAddr(text); err == nil {
		return nil, []netip.Addr{addr}, "-verify_ip"
	}
	return []string{text}, nil, "-verify_hostname"
}

// What the certificates say, in OpenSSL's words. The rules of systems: subject
// alternative names, server authentication and at most 825 days (Apple,
// "Requirements for trusted certificates in iOS 13 and macOS 10.15"), a
// critical CA:TRUE for what a phone installs.
func TestTextByOpenSSL(t *testing.T) {
	a := made(t, keys(t), options("pit.example.org", "10.1.2.3"))
	k := NewKeeper(a, func() ([]string, []netip.Addr) { return nil, addrs("192.168.1.10", "fd00::2", "8.8.8.8") })
	if err := k.Refresh(); err != nil {
		t.Fatal(err)
	}
	leaf := text(t, k.now.Load().Leaf)
	constraints := "X509v3 Name Constraints: critical Permitted: DNS:pit.local DNS:pit.example.org IP:10.0.0.0/255.0.0.0 IP:172.16.0.0/255.240.0.0 " +
		"IP:192.168.0.0/255.255.0.0 IP:169.254.0.0/255.255.0.0 IP:FC00:0:0:0:0:0:0:0/FE00:0:0:0:0:0:0:0 IP:FE80:0:0:0:0:0:0:0/FFC0:0:0:0:0:0:0:0"
	for got, wants := range map[string][]string{
		leaf: {
			"X509v3 Subject Alternative Name: DNS:pit.local, DNS:pit.example.org, IP Address:10.1.2.3, IP Address:192.168.1.10, IP Address:FD00:0:0:0:0:0:0:2 Signature",
			"X509v3 Extended Key Usage: TLS Web Server Authentication X509v3", "X509v3 Basic Constraints: critical CA:FALSE",
			"X509v3 Key Usage: critical Digital Signature X509v3", "NIST CURVE: P-256", "ecdsa-with-SHA256",
			"Not Before: Nov 24 12:00:00 2026 GMT Not After : Feb 23 12:00:00 2027 GMT", "Subject: O=packwright, CN=pit.local",
		},
		text(t, a.issuer): {
			constraints, "X509v3 Basic Constraints: critical CA:TRUE, pathlen:0", "X509v3 Key Usage: critical Certificate Sign, CRL Sign",
			"X509v3 Extended Key Usage: TLS Web Server Authentication", "NIST CURVE: P-256",
		},
		text(t, a.root): {
			constraints, "X509v3 Basic Constraints: critical CA:TRUE, pathlen:1", "X509v3 Key Usage: critical Certificate Sign, CRL Sign",
			"Not Before: Nov 24 12:00:00 2026 GMT Not After : Nov 25 12:00:00 2036 GMT", "Subject: O=packwright, CN=packwright 2026-11-25 pit.local",
			"NIST CURVE: P-256",
		},
	} {
		for _, want := range wants {
			if !strings.Contains(got, want) {
				t.Errorf("no %q in\n%s", want, got)
			}
		}
	}
	c := k.now.Load().Leaf
	if life := c.NotAfter.Sub(c.NotBefore); life != 91*24*time.Hour {
		t.Errorf("lives %v", life)
	}
	// The fingerprint is what others show.
	file := write(t, t.TempDir(), "root.pem", a.RootPEM())
	out, err := openssl(t, "x509", "-in", file, "-noout", "-fingerprint", "-sha256")
	if want := fmt.Sprintf("sha256 Fingerprint=%s", a.Fingerprint()); err != nil || out != want {
		t.Errorf("%s, want %s", out, want)
	}
}

// text is what OpenSSL reads in a certificate, with single spaces.
func text(t *testing.T, c *x509.Certificate) string {
	t.Helper()
	file := write(t, t.TempDir(), "c.pem", pem.EncodeToMemory(&pem.Block{Type: certificateBlock, Bytes: c.Raw}))
	out, err := openssl(t, "x509", "-in", file, "-noout", "-text")
	if err != nil {
		t.Fatal(out)
	}
	return strings.ReplaceAll(strings.Join(strings.Fields(out), " "), " = ", "=") // versions differ in this
}
