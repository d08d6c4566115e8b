package ca

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/pem"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"packwright/internal/keydir"
	"packwright/internal/problem"
)

// What phones trust stays the same from start to start.
func TestOpenTwice(t *testing.T) {
	dir := keys(t)
	first := made(t, dir, options("pit.example.org", "10.1.2.3"))
	o := options("pit.example.org", "10.9.9.9", "www.pit.local") // what the root permits anyway
	o.Now = func() time.Time { return noon().AddDate(9, 0, 0) }
	second := made(t, dir, o)
	if first.Fingerprint() != second.Fingerprint() || string(first.AppleProfile()) != string(second.AppleProfile()) {
		t.Error("the second start made a new root")
	}
	if got, want := first.Expires(), noon().AddDate(10, 0, 0); !got.Equal(want) {
		t.Errorf("the root expires at %v, want %v", got, want)
	}
	block, rest := pem.Decode(first.RootPEM())
	if string(block.Bytes) != string(first.RootDER()) || len(rest) > 0 {
		t.Error("PEM and DER differ")
	}
	sum := sha256.Sum256(first.RootDER())
	if got := first.Fingerprint(); len(got) != 95 || got != strings.ToUpper(got) || strings.ReplaceAll(got, ":", "") != strings.ToUpper(hex.EncodeToString(sum[:])) {
		t.Errorf("fingerprint %s", got)
	}
	if third := made(t, keys(t), options()); third.Fingerprint() == first.Fingerprint() {
		t.Error("two machines share a root")
	}
}

// The folder and its files are the user's alone, also where a crash left a file
// that is not; the root's key is in none of them.
func TestFolderIsClosed(t *testing.T) {
	dir := keys(t)
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	left := write(t, dir, authorityName+".new", []byte("half"))
	if err := os.Chmod(left, 0o644); err != nil {
		t.Fatal(err)
	}
	a := made(t, dir, options())
	if err := NewKeeper(a, nil).Refresh(); err != nil {
		t.Fatal(err)
	}
	files, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range files {
		names = append(names, f.Name())
		info, err := f.Info()
		if err != nil || keydir.Exposed(info) {
			t.Errorf("%s: mode %v, %v", f.Name(), info.Mode(), err)
		}
		key, _, err := decode(read(t, filepath.Join(dir, f.Name())))
		if err != nil || key.PublicKey.Equal(a.root.PublicKey) {
			t.Errorf("%s: %v, or the root's key", f.Name(), err)
		}
	}
	if want := []string{authorityName, leafName}; !slices.Equal(names, want) {
		t.Errorf("the folder holds %v, want %v", names, want)
	}
}

// A host or a name that phones would not believe is said at the start, with
// the way out.
func TestOutsideTheRoot(t *testing.T) {
	dir := keys(t)
	a := made(t, dir, options("pit.example.org"))
	for _, test := range []struct {
		o    Options
		hint string
	}{
		{Options{Host: "den.local", Now: noon}, "--name pit,"},
		{options("den.example.org"), "leave out --also den.example.org"},
		{options("example.org"), "leave out --also example.org"},
		{options("xpit.example.org"), "leave out --also xpit.example.org"},
	} {
		_, err := Open(dir, test.o)
		if kind := kindOf(t, err); kind != problem.Conflict {
			t.Errorf("%v: %v", test.o.Also, err)
		}
		p, _ := problem.As(err)
		for _, want := range []string{test.hint, "delete authority.pem and leaf.pem in " + dir, "every phone must then trust this machine anew"} {
			if !strings.Contains(p.Hint, want) {
				t.Errorf("hint %q lacks %q", p.Hint, want)
			}
		}
	}
	if host, err := HostIn(dir); host != "pit.local" || err != nil {
		t.Errorf("made for %q, %v", host, err)
	}
	if host, err := HostIn(keys(t)); host != "" || err != nil {
		t.Errorf("no authority: %q, %v", host, err)
	}
	// What the hint says works.
	for _, name := range []string{authorityName, leafName} {
		if err := os.Remove(filepath.Join(dir, name)); err != nil && name == authorityName {
			t.Fatal(err)
		}
	}
	if b := made(t, dir, Options{Host: "den.local", Now: noon}); b.Fingerprint() == a.Fingerprint() || b.Host() != "den.local" {
		t.Error("the old root is still there")
	}
}

// A root is used up to its last second, and one that has expired is not.
func TestExpiredRoot(t *testing.T) {
	dir := keys(t)
	made(t, dir, options())
	o := options()
	o.Now = func() time.Time { return noon().AddDate(10, 0, 0) }
	k := NewKeeper(made(t, dir, o), nil)
	if err := k.Refresh(); err != nil || !k.Expires().Equal(k.a.Expires()) {
		t.Errorf("on the last day: until %v, %v", k.Expires(), err)
	}
	o.Now = func() time.Time { return noon().AddDate(10, 0, 0).Add(time.Second) }
	if _, err := Open(dir, o); kindOf(t, err) != problem.Unsupported {
		t.Error(err)
	}
	k.a.o.Now = o.Now
	if err := k.Refresh(); kindOf(t, err) != problem.Unsupported {
		t.Errorf("in a running server: %v", err)
	}
}

// Nothing is made with a clock that is behind: boxes without a battery for it
// start in the past.
func TestClockBehind(t *testing.T) {
	dir := keys(t)
	o := options()
	o.Built = noon().Add(time.Second)
	if _, err := Open(dir, o); kindOf(t, err) != problem.Invalid || !strings.Contains(err.Error(), "2026-11-25") {
		t.Error(err)
	}
	if _, err := os.Stat(filepath.Join(dir, authorityName)); !os.IsNotExist(err) {
		t.Errorf("an authority was made: %v", err)
	}
	o.Built = noon()
	a := made(t, dir, o)
	a.o.Now = func() time.Time { return noon().Add(-time.Second) }
	if err := NewKeeper(a, nil).Refresh(); kindOf(t, err) != problem.Invalid {
		t.Error(err)
	}
	// The authority was made with a clock a year ahead, now it is right.
	a.o.Built, a.o.Now = time.Time{}, func() time.Time { return noon().AddDate(-1, 0, 0) }
	if err := NewKeeper(a, nil).Refresh(); kindOf(t, err) != problem.Invalid || !strings.Contains(err.Error(), "made later") {
		t.Error(err)
	}
	// A correction by less than a day is no reason to refuse.
	a.o.Now = func() time.Time { return noon().Add(-23 * time.Hour) }
	if err := NewKeeper(a, nil).Refresh(); err != nil {
		t.Error(err)
	}
}
