package ca

import (
	"bytes"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"packwright/internal/problem"
)

// Each thing that can be wrong with the folder is said, and nothing is changed.
func TestSpoiledFolder(t *testing.T) {
	other := keys(t)
	made(t, other, options())
	foreign := read(t, filepath.Join(other, authorityName))
	for name, test := range map[string]struct {
		spoil func(t *testing.T, dir, path string)
		want  problem.Kind
		hint  string
	}{
		"file open to others": {func(t *testing.T, _, path string) { chmod(t, path, 0o640) }, problem.Invalid, "chmod 600 "},
		"folder open":         {func(t *testing.T, dir, _ string) { chmod(t, dir, 0o710) }, problem.Invalid, "chmod 700 "},
		"folder is a file": {func(t *testing.T, dir, _ string) {
			remove(t, dir)
			write(t, filepath.Dir(dir), "keys", nil)
		}, problem.Invalid, "--keys"},
		"empty":     {func(t *testing.T, dir, _ string) { write(t, dir, authorityName, nil) }, problem.Damaged, "put it back"},
		"no PEM":    {func(t *testing.T, dir, _ string) { write(t, dir, authorityName, []byte("mine")) }, problem.Damaged, "put it back"},
		"cut":       {func(t *testing.T, dir, path string) { cut(t, dir, path, 0.9) }, problem.Damaged, "put it back"},
		"cut early": {func(t *testing.T, dir, path string) { cut(t, dir, path, 0.2) }, problem.Damaged, "put it back"},
		"more at the end": {func(t *testing.T, dir, path string) { write(t, dir, authorityName, append(read(t, path), "more"...)) },
			problem.Damaged, "put it back"},
		"a folder": {func(t *testing.T, _, path string) {
			remove(t, path)
			if err := os.Mkdir(path, 0o700); err != nil {
				t.Fatal(err)
			}
		}, problem.Conflict, "move it elsewhere"},
		"missing": {func(t *testing.T, _, path string) { remove(t, path) }, problem.Damaged, "put it back"},
		"key of another": {func(t *testing.T, dir, path string) {
			keyEnd := []byte("-----END PRIVATE KEY-----\n")
			key, _, _ := bytes.Cut(foreign, keyEnd)
			_, rest, _ := bytes.Cut(read(t, path), keyEnd)
			write(t, dir, authorityName, slices.Concat(key, keyEnd, rest))
		}, problem.Conflict, "put the right one back"},
	} {
		t.Run(name, func(t *testing.T) {
			if runtime.GOOS == "windows" && strings.Contains(test.hint, "chmod") {
				t.Skip("no such permissions here")
			}
			dir := keys(t)
			if err := NewKeeper(made(t, dir, options()), nil).Refresh(); err != nil {
				t.Fatal(err)
			}
			test.spoil(t, dir, filepath.Join(dir, authorityName))
			before := tree(t, filepath.Dir(dir))
			_, err := Open(dir, options())
			if kind := kindOf(t, err); kind != test.want {
				t.Errorf("%s: %v", kind, err)
			}
			if p, _ := problem.As(err); !strings.Contains(p.Hint, test.hint) || !strings.Contains(p.Text+p.Hint, dir) {
				t.Errorf("%v; hint %q lacks %q or the folder", err, p.Hint, test.hint)
			}
			if after := tree(t, filepath.Dir(dir)); after != before {
				t.Errorf("the folder was changed:\n%s", after)
			}
		})
	}
}

// An authority that may vouch for anything would be a danger to every phone
// that trusts it, whoever made it.
func TestForeignAuthority(t *testing.T) {
	for name, change := range map[string]func(root, issuer *template){
		"root without constraints":     func(root, _ *template) { root.PermittedDNSDomains, root.PermittedIPRanges = nil, nil },
		"issuer without constraints":   func(_, issuer *template) { issuer.PermittedDNSDomains, issuer.PermittedIPRanges = nil, nil },
		"root for all addresses":       func(root, _ *template) { root.PermittedIPRanges = nil },
		"issuer for too few addresses": func(_, issuer *template) { issuer.PermittedIPRanges = issuer.PermittedIPRanges[1:] },
		"not critical":                 func(root, _ *template) { root.PermittedDNSDomainsCritical = false },
		"for a public name":            func(root, _ *template) { root.PermittedDNSDomains = []string{"example.org"} },
		"issuer is none":               func(_, issuer *template) { issuer.IsCA, issuer.MaxPathLenZero, issuer.KeyUsage = false, false, 0 },
		"":                             func(_, _ *template) {},
	} {
		dir := keys(t)
		if err := os.Mkdir(dir, 0o700); err != nil {
			t.Fatal(err)
		}
		rootTemplate, issuerTemplate := authorityTemplate("pit.local", nil, noon()), authorityTemplate("pit.local", nil, noon())
		change(rootTemplate, issuerTemplate)
		root, rootKey := signed(t, rootTemplate, rootTemplate, nil)
		issuer, key := signed(t, issuerTemplate, root, rootKey)
		text, err := encode("", key, root, issuer)
		if err != nil {
			t.Fatal(err)
		}
		write(t, dir, authorityName, text)
		_, err = Open(dir, options())
		if name == "" && err != nil || name != "" && kindOf(t, err) != problem.Conflict {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Whatever byte of the file is damaged, the authority is the same or refused.
func TestDamagedByte(t *testing.T) {
	dir := keys(t)
	a := made(t, dir, options())
	whole := read(t, filepath.Join(dir, authorityName))
	refused := 0
	for at := 0; at < len(whole); at += 3 {
		text := bytes.Clone(whole)
		text[at] ^= 1
		b := &Authority{dir: dir}
		if err := b.load(text); err != nil {
			kindOf(t, err)
			refused++
		} else if !b.root.Equal(a.root) || !b.issuer.Equal(a.issuer) || !b.key.Equal(a.key) {
			t.Fatalf("byte %d: another authority", at)
		}
	}
	if refused < len(whole)/3*8/10 {
		t.Errorf("only %d of %d damages were seen", refused, len(whole)/3)
	}
}

func chmod(t *testing.T, path string, mode os.FileMode) {
	t.Helper()
	if err := os.Chmod(path, mode); err != nil {
		t.Fatal(err)
	}
}

func remove(t *testing.T, path string) {
	t.Helper()
	if err := os.RemoveAll(path); err != nil {
		t.Fatal(err)
	}
}

// cut leaves a part of a file.
func cut(t *testing.T, dir, path string, part float64) {
	t.Helper()
	text := read(t, path)
	write(t, dir, filepath.Base(path), text[:int(part*float64(len(text)))])
}

// tree writes down a folder: names, modes, contents.
func tree(t *testing.T, dir string) string {
	t.Helper()
	var all strings.Builder
	err := filepath.Walk(dir, func(path string, info os.FileInfo, err error) error {
		if err != nil {
			return err
		}
		all.WriteString(path + " " + info.Mode().String() + "\n")
		if info.Mode().IsRegular() {
			all.Write(read(t, path))
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return all.String()
}
