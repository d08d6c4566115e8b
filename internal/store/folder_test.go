package store

import (
	"context"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"packwright/internal/problem"
)

// tree gives every file below dir with its content, every folder with "/".
func tree(t testing.TB, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			all[path] = "/"
			return err
		}
		text, err := os.ReadFile(path)
		all[path] = string(text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// put makes files in dir; a name that ends in / is a folder.
func put(t testing.TB, dir string, names ...string) {
	t.Helper()
	for _, name := range names {
		path := filepath.Join(dir, name)
		err := os.MkdirAll(filepath.Dir(path), 0o700)
		if err == nil && strings.HasSuffix(name, "/") {
			err = os.MkdirAll(path, 0o700)
		} else if err == nil {
			err = os.WriteFile(path, []byte("mine: "+name), 0o600)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

// A folder of somebody else's is refused, and nothing in it is touched.
func TestForeignFolder(t *testing.T) {
	for _, names := range [][]string{
		{"index/mine.txt"},
		{"index/"},
		{"index/MANIFEST", "index/000001.vlog"}, // another program's Badger
		{"lock"},
		{"photo.jpg"},
		{"lock/"},
		{"journal.jsonl/"},
		{"journal.mark/"},
		{"index"},
	} {
		dir := t.TempDir()
		put(t, dir, names...)
		before := tree(t, dir)
		_, err := Open(dir, Options{})
		p, ok := problem.As(err)
		if !ok || p.Kind != problem.Conflict || !strings.Contains(p.Hint, "choose a") {
			t.Errorf("%v: %v", names, err)
		}
		if after := tree(t, dir); !reflect.DeepEqual(before, after) {
			t.Errorf("%v: now %v", names, after)
		}
	}
}

// What stands in a data folder beside our own files stays, also in index/, and
// also where the index is made again.
func TestForeignFilesInOurFolder(t *testing.T) {
	for name, spoil := range map[string]func(dir string) error{
		"sound":           func(string) error { return nil },
		"damaged journal": func(dir string) error { flip(t, filepath.Join(dir, journalName), 2000, 1); return nil },
		"no journal":      func(dir string) error { return os.Remove(filepath.Join(dir, journalName)) },
		"no mark":         func(dir string) error { return os.Remove(filepath.Join(dir, markName)) },
		"only the index": func(dir string) error {
			if err := os.Remove(filepath.Join(dir, journalName)); err != nil {
				return err
			}
			return os.Remove(filepath.Join(dir, markName))
		},
	} {
		t.Run(name, func(t *testing.T) {
			dir, epoch, l := folder(t, 20, true)
			mine := []string{"notes.txt", "index/mine.txt", "index/more/mine.sst"}
			put(t, dir, mine...)
			if err := spoil(dir); err != nil {
				t.Fatal(err)
			}
			expectWhole(t, dir, epoch, l, name == "sound")
			for _, name := range mine {
				if text, err := os.ReadFile(filepath.Join(dir, name)); string(text) != "mine: "+name {
					t.Errorf("%s holds %q, %v", name, text, err)
				}
			}
		})
	}
}

// A first start that stopped half-way leaves a folder that can be started again.
func TestHalfStarted(t *testing.T) {
	for _, lock := range []string{"", `{"pid":1,"address":"http://127.0.0.1:8080"}` + "\n"} {
		dir := t.TempDir()
		put(t, dir, journalName+".new")
		if err := os.WriteFile(filepath.Join(dir, lockName), []byte(lock), 0o600); err != nil {
			t.Fatal(err)
		}
		s := open(t, dir)
		push(t, s, note(1))
		ledgerOf(note(1)).check(t, s, nil)
	}
}

// A file in place of the folder, and a folder in place of the journal, are said
// as what they are; nobody is told that a start would mend them.
func TestNotAFolder(t *testing.T) {
	dir := t.TempDir()
	put(t, dir, "file", "data/journal.jsonl/")
	file := filepath.Join(dir, "file")
	for _, path := range []string{file, filepath.Join(file, "below")} {
		if _, err := Open(path, Options{}); kindOf(err) != problem.Invalid {
			t.Errorf("Open %s: %v", path, err)
		}
		for _, err := range ReadFile(path) {
			if kindOf(err) != problem.Invalid {
				t.Errorf("ReadFile %s: %v", path, err)
			}
		}
	}
	read := 0
	for _, err := range ReadFile(filepath.Join(dir, "data")) {
		if p, ok := problem.As(err); !ok || p.Kind != problem.Conflict || strings.Contains(p.Hint, "mends") {
			t.Errorf("ReadFile of a folder: %v", err)
		}
		if read++; read > 1 {
			t.Fatal("it goes on after it")
		}
	}
}

// A reason names its field once, whether or not the text does so already.
func TestReasonNamesFieldOnce(t *testing.T) {
	for want, err := range map[string]error{
		"body.a: this number is too large": problem.Invalidf("body.a", "", "body.a: this number is too large"),
		"by: \"abc\" is too long":          problem.Invalidf("by", "", "%q is too long", "abc"),
		"the entry is too large":           problem.New(problem.TooLarge, "", "the entry is too large"),
	} {
		if got := refusal(nil, err).Reason; got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	s := open(t, t.TempDir())
	huge := strings.Replace(string(note(1)), `"note 1"`, `1e999`, 1)
	if r := push(t, s, []byte(huge))[0]; r.Status != Refused || strings.Count(r.Reason, "text:") != 1 {
		t.Errorf("%+v", r)
	}
}

func TestBroughtBy(t *testing.T) {
	s := open(t, t.TempDir())
	if _, err := s.Append(context.Background(), notes(1, 2), strings.Repeat("ü", 64)); err != nil {
		t.Error(err)
	}
	if _, err := s.Append(context.Background(), notes(2, 3), strings.Repeat("x", 65)); kindOf(err) != problem.TooLarge {
		t.Errorf("65 characters: %v", err)
	}
}
