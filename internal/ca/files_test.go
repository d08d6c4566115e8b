package ca

import (
	"bytes"
	"crypto/tls"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"packwright/internal/problem"
)

// pair writes certificate and key as two files and gives their authority.
func pair(t *testing.T, dir, certName, keyName string) *Authority {
	t.Helper()
	a := made(t, keys(t), options())
	leaf, key := forged(t, a, []string{"pit.local"}, nil)
	text, err := encode("", key, leaf, a.issuer)
	if err != nil {
		t.Fatal(err)
	}
	end := []byte("-----END PRIVATE KEY-----\n")
	at := bytes.Index(text, end) + len(end)
	// First the certificate, then the key: at times they do not match.
	write(t, dir, certName, text[at:])
	write(t, dir, keyName, text[:at])
	return a
}

// New files are served at the next handshake. While they are in disorder the
// old pair is, and the log says so once.
func TestFiles(t *testing.T) {
	dir := t.TempDir()
	cert, key := filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	old := pair(t, dir, "cert.pem", "key.pem")
	var log bytes.Buffer
	f, err := NewFiles(cert, key, slog.New(slog.NewTextHandler(&log, nil)))
	if err != nil {
		t.Fatal(err)
	}
	expect := func(a *Authority) {
		t.Helper()
		for range 2 {
			if _, err := handshake(t, f.GetCertificate, a.root, "pit.local", noon(), tls.VersionTLS13); err != nil {
				t.Error(err)
			}
		}
	}
	expect(old)
	if want := noon().AddDate(0, 0, 90); !f.Expires().Equal(want) {
		t.Errorf("ends %v", f.Expires())
	}
	oldKey := read(t, key)
	now := pair(t, dir, "cert.pem", "key.pem")
	expect(now)
	good, goodKey := read(t, cert), read(t, key)
	for n, spoil := range []func(){
		func() { write(t, dir, "key.pem", oldKey) },
		func() { write(t, dir, "cert.pem", nil) },
		func() { write(t, dir, "cert.pem", good[:len(good)/3]) },
		func() { remove(t, cert) },
		func() { remove(t, key) },
	} {
		spoil()
		expect(now)
		if got := strings.Count(log.String(), "level=WARN"); got != n+1 {
			t.Errorf("%d: said %d times: %s", n, got, &log)
		}
	}
	write(t, dir, "cert.pem", good)
	write(t, dir, "key.pem", goodKey)
	expect(now)

	// Links that are turned to another pair, as some tools keep them.
	linked := t.TempDir()
	first := pair(t, mkdir(t, filepath.Join(linked, "1")), "cert.pem", "key.pem")
	second := pair(t, mkdir(t, filepath.Join(linked, "2")), "cert.pem", "key.pem")
	turn := func(to string) {
		remove(t, filepath.Join(linked, "live"))
		if err := os.Symlink(filepath.Join(linked, to), filepath.Join(linked, "live")); err != nil {
			t.Skip(err)
		}
	}
	turn("1")
	if f, err = NewFiles(filepath.Join(linked, "live", "cert.pem"), filepath.Join(linked, "live", "key.pem"), nil); err != nil {
		t.Fatal(err)
	}
	expect(first)
	turn("2")
	expect(second)
}

func TestFilesAtStart(t *testing.T) {
	dir := t.TempDir()
	pair(t, dir, "cert.pem", "key.pem")
	pair(t, dir, "cert2.pem", "key2.pem")
	write(t, dir, "mine.txt", []byte("mine"))
	for _, names := range [][2]string{
		{"cert.pem", "key2.pem"}, {"key.pem", "cert.pem"}, {"cert.pem", "cert.pem"}, {"none.pem", "key.pem"}, {"cert.pem", "none.pem"},
		{"mine.txt", "key.pem"}, {"cert.pem", "mine.txt"}, {".", "key.pem"},
	} {
		_, err := NewFiles(filepath.Join(dir, names[0]), filepath.Join(dir, names[1]), nil)
		if kindOf(t, err) != problem.Invalid || !strings.Contains(err.Error(), names[0]) || !strings.Contains(err.Error(), names[1]) {
			t.Errorf("%v: %v", names, err)
		}
	}
}

func TestFilesAtOnce(t *testing.T) {
	dir := t.TempDir()
	pair(t, dir, "cert.pem", "key.pem")
	f, err := NewFiles(filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem"), nil)
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			for {
				select {
				case <-done:
					return
				case <-time.After(time.Millisecond):
				}
				c, err := f.GetCertificate(nil)
				if err != nil || c.Leaf == nil || f.Expires().IsZero() {
					t.Errorf("%v, %v", c, err)
				}
			}
		})
	}
	var last *Authority
	for range 10 {
		last = pair(t, dir, "cert.pem", "key.pem")
	}
	close(done)
	all.Wait()
	if _, err := handshake(t, f.GetCertificate, last.root, "pit.local", noon(), tls.VersionTLS13); err != nil {
		t.Error(err)
	}
}
