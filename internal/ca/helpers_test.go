package ca

import (
	"crypto/ecdsa"
	"crypto/rand"
	"crypto/x509"
	"errors"
	"net/netip"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"packwright/internal/problem"
)

// noon is when the tests take place.
func noon() time.Time { return time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC) }

// options are those of a machine called pit at noon.
func options(also ...string) Options {
	return Options{Host: "pit.local", Also: also, Now: noon}
}

// made gives the authority of a folder.
func made(t testing.TB, dir string, o Options) *Authority {
	t.Helper()
	a, err := Open(dir, o)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// keys is a folder that does not exist yet.
func keys(t testing.TB) string { return filepath.Join(t.TempDir(), "keys") }

// kindOf is the kind of a problem that says what to do.
func kindOf(t testing.TB, err error) problem.Kind {
	t.Helper()
	p, ok := problem.As(err)
	if !ok {
		t.Fatalf("no problem that a person may read: %v", err)
	}
	if p.Hint == "" {
		t.Errorf("%v: no hint", err)
	}
	return p.Kind
}

func addrs(texts ...string) (all []netip.Addr) {
	for _, text := range texts {
		all = append(all, netip.MustParseAddr(text))
	}
	return all
}

// write puts text into a file and gives its path.
func write(t testing.TB, dir, name string, text []byte) string {
	t.Helper()
	path := filepath.Join(dir, name)
	if err := os.WriteFile(path, text, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func read(t testing.TB, path string) []byte {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// forged signs a server certificate without asking whether the authority may: a
// thief with the issuer's key.
func forged(t testing.TB, a *Authority, names []string, at []netip.Addr) (*x509.Certificate, *ecdsa.PrivateKey) {
	t.Helper()
	leaf, key, err := a.newLeaf(names, at, noon())
	if err != nil {
		t.Fatal(err)
	}
	return leaf, key
}

// openssl runs OpenSSL, which shares no code with crypto/x509.
func openssl(t testing.TB, args ...string) (string, error) {
	t.Helper()
	path, err := exec.LookPath("openssl")
	if err != nil && os.Getenv("CI") != "" {
		t.Fatal("openssl is missing")
	} else if err != nil {
		t.Skip("openssl is missing: nothing was checked by other eyes")
	}
	out, err := exec.Command(path, args...).CombinedOutput()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	return strings.TrimSpace(string(out)), err
}

type template = x509.Certificate

// signed makes a certificate with a key of its own; signed by that key where
// none is given.
func signed(t testing.TB, leaf, parent *template, parentKey *ecdsa.PrivateKey) (*x509.Certificate, *ecdsa.PrivateKey) {
	t.Helper()
	key, err := newKey()
	if err != nil {
		t.Fatal(err)
	}
	if parentKey == nil {
		parentKey = key
	}
	leaf.Subject = subject("test " + rand.Text()) // no two of a chain are called the same
	c, err := sign(leaf, parent, &key.PublicKey, parentKey)
	if err != nil {
		t.Fatal(err)
	}
	return c, key
}

func mkdir(t testing.TB, path string) string {
	t.Helper()
	if err := os.Mkdir(path, 0o700); err != nil {
		t.Fatal(err)
	}
	return path
}
