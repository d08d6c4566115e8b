package access

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"packwright/internal/problem"
	"packwright/internal/tinydisk"
)

// A list that cannot be read stops the server and stays as it is.
func TestDamagedFile(t *testing.T) {
	dir := t.TempDir()
	r, _ := openTest(t, dir)
	join(t, r, Lead, "one")
	join(t, r, Crew, "two")
	path := filepath.Join(dir, fileName)
	good, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	refused := func(text []byte, kind problem.Kind, say string) {
		t.Helper()
		if err := os.WriteFile(path, text, 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := Open(dir, Options{})
		wantKind(t, err, kind, say)
		if after, _ := os.ReadFile(path); !bytes.Equal(after, text) {
			t.Errorf("the damaged file was changed to %q", after)
		}
	}
	for n := range len(good) - 1 { // the last byte is only the end of the line
		refused(good[:n], problem.Damaged, path)
	}
	change := func(old, with string) []byte {
		t.Helper()
		if !bytes.Contains(good, []byte(old)) {
			t.Fatalf("the file has no %q", old)
		}
		return bytes.Replace(good, []byte(old), []byte(with), 1)
	}
	refused(change(`"lead"`, `"boss"`), problem.Damaged, "boss")
	refused(change(`"name"`, `"nome"`), problem.Damaged, "nome")
	refused(change(`"one"`, `""`), problem.Damaged, "empty")
	refused(change(`"token_sha256": "`, `"token_sha256": "0`), problem.Damaged, "length")
	refused(change(`"v": 1`, `"v": 0`), problem.Damaged, "version 0")
	refused(change(`"v": 1`, `"v": 2`), problem.Unsupported, "version 2")
	refused(append(bytes.Clone(good), "{}"...), problem.Damaged, "follows")
	refused(bytes.Replace(good, []byte(r.devices[0].ID), []byte(r.devices[1].ID), 1), problem.Damaged, "twice")
	hash := func(m member) []byte { text, _ := m.Token.MarshalText(); return text }
	refused(bytes.Replace(good, hash(r.devices[0]), hash(r.devices[1]), 1), problem.Damaged, "twice")
	refused(bytes.Replace(good, hash(r.devices[0]), []byte(strings.Repeat("0", 64)), 1), problem.Damaged, "no token")

	if err := os.WriteFile(path, good, 0o600); err != nil {
		t.Fatal(err)
	}
	if again, err := Open(dir, Options{}); err != nil || len(again.List()) != 2 {
		t.Errorf("the good file: %v", err)
	}
}

// Open writes nothing: a server for one machine leaves no list behind.
func TestOpenWritesNothing(t *testing.T) {
	dir := t.TempDir()
	r, _ := openTest(t, dir)
	invite(t, r, Crew)
	r.Seen("nobody", 1)
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	if files, _ := os.ReadDir(dir); len(files) != 0 {
		t.Errorf("%v", files)
	}
}

func TestFolderThatIsAFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "keys")
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(path, Options{}); err == nil {
		t.Error("opened a file as a folder")
	}
}

// When the list cannot be written nothing has happened: nobody is in, the code is
// still good, nobody is off the list.
func TestUnwritable(t *testing.T) {
	t.Run("full disk", func(t *testing.T) {
		dir := tinydisk.Mount(t, 1)
		filler := filepath.Join(dir, "filler")
		testUnwritable(t, dir, problem.NoSpace, filler, func() { tinydisk.Fill(t, filler, 0) })
	})
	t.Run("name taken", func(t *testing.T) {
		dir := t.TempDir()
		taken := filepath.Join(dir, fileName+".new")
		testUnwritable(t, dir, "", taken, func() {
			if err := os.MkdirAll(filepath.Join(taken, "x"), 0o700); err != nil {
				t.Fatal(err)
			}
		})
	})
}

// testUnwritable tries everything that writes while a folder is blocked, which
// removing obstacle ends. The errors are of the kind, where it is named.
func testUnwritable(t *testing.T, dir string, want problem.Kind, obstacle string, block func()) {
	path := filepath.Join(dir, fileName)
	r, _ := openTest(t, dir)
	d, token := join(t, r, Crew, "one")
	code := invite(t, r, Crew).Code
	good, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	block()
	for what, try := range map[string]func() error{
		"join": func() error {
			_, got, err := joinWith(r, code, "two", "d")
			if got != "" {
				t.Error("there is a token")
			}
			return err
		},
		"revoke": func() error { return r.Revoke(d.ID) },
		"rename": func() error { return r.Rename(d.ID, "x") },
		"role":   func() error { return r.SetRole(d.ID, Lead) },
		"close":  r.Close,
	} {
		err := try()
		if p, ok := problem.As(err); err == nil || want != "" && (!ok || p.Kind != want) {
			t.Errorf("%s: %v", what, err)
		}
		if now, err := r.Check(token); err != nil || now != d || len(r.List()) != 1 {
			t.Errorf("%s: now %+v, %v", what, now, err)
		}
		if after, err := os.ReadFile(path); err != nil || !bytes.Equal(after, good) {
			t.Errorf("%s: the file is now %q, %v", what, after, err)
		}
	}
	if err := os.RemoveAll(obstacle); err != nil {
		t.Fatal(err)
	}
	if _, _, err := joinWith(r, code, "two", "d"); err != nil {
		t.Error(err)
	}
	if again, _ := openTest(t, dir); len(again.List()) != 2 {
		t.Errorf("%d devices after all", len(again.List()))
	}
}
