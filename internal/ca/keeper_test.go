package ca

import (
	"bytes"
	"context"
	"crypto/tls"
	"log/slog"
	"net/netip"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"packwright/internal/keydir"
	"packwright/internal/problem"
)

// bench is a keeper whose clock and addresses a test may set.
type bench struct {
	*Keeper
	now   time.Time
	names []string
	addrs []netip.Addr
	log   bytes.Buffer
}

// keeper gives the bench of a folder.
func keeper(t *testing.T, dir string) *bench {
	t.Helper()
	b := &bench{now: noon(), addrs: addrs("192.168.1.10")}
	o := options()
	o.Built, o.Now, o.Log = noon().AddDate(0, -1, 0), func() time.Time { return b.now }, slog.New(slog.NewTextHandler(&b.log, nil))
	b.Keeper = NewKeeper(made(t, dir, o), func() ([]string, []netip.Addr) { return b.names, b.addrs })
	return b
}

// refresh gives the certificate after Refresh.
func (b *bench) refresh(t *testing.T) *tls.Certificate {
	t.Helper()
	if err := b.Refresh(); err != nil {
		t.Fatal(err)
	}
	c, err := b.GetCertificate(nil)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// A certificate is made again when less than thirty days are left, and a start
// in between changes nothing.
func TestRenewal(t *testing.T) {
	dir := keys(t)
	b := keeper(t, dir)
	if !b.Expires().IsZero() {
		t.Error("a certificate before the first refresh")
	}
	first := b.refresh(t)
	for _, days := range []int{0, 1, 59, 60} {
		b.now = noon().AddDate(0, 0, days)
		again := keeper(t, dir)
		again.now = b.now
		if b.refresh(t) != first || !again.refresh(t).Leaf.Equal(first.Leaf) {
			t.Errorf("a new certificate after %d days", days)
		}
	}
	b.now = b.now.Add(time.Second)
	second := b.refresh(t)
	if want := b.now.AddDate(0, 0, 90); second == first || !b.Expires().Equal(want) {
		t.Errorf("ends %v, want %v", b.Expires(), want)
	}
	if bytes.Equal(first.Leaf.RawSubjectPublicKeyInfo, second.Leaf.RawSubjectPublicKeyInfo) {
		t.Error("the key is not renewed")
	}
}

// Near the root's end certificates end with it and are not made again and again.
func TestLastCertificate(t *testing.T) {
	b := keeper(t, keys(t))
	b.now = noon().AddDate(10, 0, -20)
	last := b.refresh(t)
	if !b.Expires().Equal(b.a.Expires()) {
		t.Errorf("ends %v, the root on %v", b.Expires(), b.a.Expires())
	}
	b.now = noon().AddDate(10, 0, -1)
	if b.refresh(t) != last {
		t.Error("made again")
	}
}

// A new address is in the certificate at once; one that went away stays, so
// that a flickering network does not make certificates without end.
func TestAddressChange(t *testing.T) {
	b := keeper(t, keys(t))
	first := b.refresh(t)
	for _, set := range [][]netip.Addr{nil, addrs("192.168.1.10"), addrs("8.8.8.8", "192.168.1.10", "2001:db8::1"), addrs("::ffff:192.168.1.10")} {
		if b.addrs = set; b.refresh(t) != first {
			t.Errorf("a new certificate for %v", set)
		}
	}
	b.addrs, b.names = addrs("172.20.10.2"), []string{"www.pit.local"}
	second := b.refresh(t)
	for name, want := range map[string]bool{"172.20.10.2": true, "www.pit.local": true, "pit.local": true, "192.168.1.10": false} {
		if _, err := handshake(t, b.GetCertificate, b.a.root, name, noon(), tls.VersionTLS13); (err == nil) != want {
			t.Errorf("%s: %v", name, err)
		}
	}
	if !strings.Contains(b.log.String(), "172.20.10.2") || second == first {
		t.Errorf("the log does not say why: %s", &b.log)
	}
}

// What cannot be renewed stays in use while it is valid; the log says so once.
func TestRenewalFails(t *testing.T) {
	dir := keys(t)
	b := keeper(t, dir)
	first := b.refresh(t)
	b.names = []string{"den.local"}
	for range 3 {
		if b.refresh(t) != first {
			t.Error("a certificate for a name that the root does not permit")
		}
	}
	if n := strings.Count(b.log.String(), "level=WARN"); n != 1 || !strings.Contains(b.log.String(), "den.local") {
		t.Errorf("said %d times: %s", n, &b.log)
	}
	b.now = b.Expires()
	if err := b.Refresh(); kindOf(t, err) != problem.Conflict {
		t.Errorf("expired: %v", err)
	}
	if _, err := b.GetCertificate(nil); err != nil {
		t.Errorf("an old certificate is better than none: %v", err)
	}
	b.names = nil
	b.refresh(t)
	// A clock that starts in the past: what was made before serves.
	again := keeper(t, dir)
	again.now = time.Unix(0, 0)
	if again.refresh(t).Leaf.NotAfter != b.Expires() || !strings.Contains(again.log.String(), "1970-01-01") {
		t.Errorf("a clock in the past: %s", &again.log)
	}
}

// A certificate that cannot be used is replaced, not mourned.
func TestSpoiledLeaf(t *testing.T) {
	other := keys(t)
	keeper(t, other).refresh(t)
	for name, spoil := range map[string]func(t *testing.T, path string){
		"missing": func(t *testing.T, path string) { remove(t, path) },
		"foreign": func(t *testing.T, path string) {
			write(t, filepath.Dir(path), leafName, read(t, filepath.Join(other, leafName)))
		},
		"cut":   func(t *testing.T, path string) { cut(t, filepath.Dir(path), path, 0.7) },
		"empty": func(t *testing.T, path string) { cut(t, filepath.Dir(path), path, 0) },
		"open":  func(t *testing.T, path string) { chmod(t, path, 0o644) },
		"key of another": func(t *testing.T, path string) {
			keyEnd := []byte("-----END PRIVATE KEY-----\n")
			key, _, _ := bytes.Cut(read(t, filepath.Join(other, leafName)), keyEnd)
			_, rest, _ := bytes.Cut(read(t, path), keyEnd)
			write(t, filepath.Dir(path), leafName, slices.Concat(key, keyEnd, rest))
		},
		"clock ahead": func(*testing.T, string) {},
	} {
		t.Run(name, func(t *testing.T) {
			dir := keys(t)
			b := keeper(t, dir)
			if name == "clock ahead" {
				b.now = noon().AddDate(1, 0, 0)
			}
			first := b.refresh(t)
			path := filepath.Join(dir, leafName)
			spoil(t, path)
			again := keeper(t, dir)
			second := again.refresh(t)
			if second.Leaf.Equal(first.Leaf) || !again.Expires().Equal(noon().AddDate(0, 0, 90)) {
				t.Error("the old one is still used")
			}
			if info, err := os.Stat(path); err != nil || keydir.Exposed(info) {
				t.Errorf("%v, %v", info, err)
			}
			if third := keeper(t, dir); !third.refresh(t).Leaf.Equal(second.Leaf) {
				t.Error("the new one was not saved")
			}
		})
	}
}

// Without room to save it, a certificate serves all the same.
func TestLeafNotSaved(t *testing.T) {
	dir := keys(t)
	b := keeper(t, dir)
	write(t, mkdir(t, filepath.Join(dir, leafName+".new")), "mine", nil)
	b.refresh(t)
	if _, err := handshake(t, b.GetCertificate, b.a.root, "pit.local", noon(), tls.VersionTLS13); err != nil {
		t.Error(err)
	}
	if !strings.Contains(b.log.String(), "not saved") {
		t.Errorf("log: %s", &b.log)
	}
}

// Run renews through ten weeks and follows the addresses, then ends.
func TestRun(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var mu sync.Mutex
		at := addrs("192.168.1.10")
		a := made(t, keys(t), Options{Host: "pit.local"})
		k := NewKeeper(a, func() ([]string, []netip.Addr) {
			mu.Lock()
			defer mu.Unlock()
			return nil, at
		})
		ctx, cancel := context.WithCancel(t.Context())
		ended := make(chan struct{})
		go func() { k.Run(ctx); close(ended) }()
		seen := map[string]bool{}
		for range 70 {
			time.Sleep(24 * time.Hour)
			c, err := k.GetCertificate(nil)
			if err != nil {
				t.Fatal(err)
			}
			if left := time.Until(c.Leaf.NotAfter); left < 29*24*time.Hour {
				t.Fatalf("%v left", left)
			}
			seen[c.Leaf.SerialNumber.String()] = true
		}
		if len(seen) != 2 {
			t.Errorf("%d certificates in 70 days, want 2", len(seen))
		}
		mu.Lock()
		at = addrs("10.1.1.1")
		mu.Unlock()
		time.Sleep(lookEvery + time.Second)
		if c, _ := k.GetCertificate(nil); !c.Leaf.IPAddresses[0].Equal(at[0].AsSlice()) {
			t.Errorf("still for %v", c.Leaf.IPAddresses)
		}
		cancel()
		<-ended
	})
}

// Handshakes go on while certificates are made.
func TestKeeperAtOnce(t *testing.T) {
	a := made(t, keys(t), options())
	var mu sync.Mutex
	at := addrs("10.0.0.0")
	k := NewKeeper(a, func() ([]string, []netip.Addr) {
		mu.Lock()
		defer mu.Unlock()
		at = []netip.Addr{at[0].Next()}
		return nil, at
	})
	if err := k.Refresh(); err != nil {
		t.Fatal(err)
	}
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			for range 10 {
				if err := k.Refresh(); err != nil {
					t.Error(err)
				}
			}
		})
		all.Go(func() {
			for range 10 {
				if _, err := handshake(t, k.GetCertificate, a.root, "pit.local", noon(), tls.VersionTLS13); err != nil {
					t.Error(err)
				}
				k.Expires()
			}
		})
	}
	all.Wait()
	if last := NewKeeper(a, nil); !last.Expires().Equal(k.Expires()) || !last.now.Load().Leaf.Equal(k.now.Load().Leaf) {
		t.Error("the file holds another certificate than the one that is served")
	}
}
