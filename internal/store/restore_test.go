package store

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"packwright/internal/problem"
)

// A folder that was copied or put back from a backup has a new epoch, although
// nothing in it is damaged.
func TestCopiedFolder(t *testing.T) {
	t.Parallel()
	for _, clean := range []bool{true, false} {
		dir, epoch, l := folder(t, 7, clean)
		copied := filepath.Join(t.TempDir(), "copy")
		if err := os.CopyFS(copied, os.DirFS(dir)); err != nil {
			t.Fatal(err)
		}
		// The original goes on meanwhile, and is then replaced by its backup.
		s := open(t, dir)
		push(t, s, notes(50, 60)...)
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		if err := os.RemoveAll(dir); err != nil {
			t.Fatal(err)
		}
		if err := os.CopyFS(dir, os.DirFS(copied)); err != nil {
			t.Fatal(err)
		}
		expectWhole(t, dir, epoch, l, false)
		expectWhole(t, copied, epoch, l, false)
	}
}

// Only the journal is put back from an older copy: what the index has more is kept.
func TestOlderJournal(t *testing.T) {
	t.Parallel()
	for _, clean := range []bool{true, false} {
		dir, epoch, l := folder(t, 7, clean)
		path := filepath.Join(dir, journalName)
		old, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		s := open(t, dir)
		l.add(notes(50, 60), push(t, s, notes(50, 60)...))
		if clean {
			err = s.Close()
		} else {
			crash(s)
		}
		if err := errors.Join(err, os.WriteFile(path, old, 0o600)); err != nil {
			t.Fatal(err)
		}
		r := expectWhole(t, dir, epoch, l, false)
		if r.Salvaged != 10 {
			t.Errorf("report is %+v", r)
		}
	}
}

// Journal and mark are overwritten in place by older ones and agree: only the
// index, sealed or not, tells that there was more.
func TestOlderJournalAndMark(t *testing.T) {
	t.Parallel()
	for _, clean := range []bool{true, false} {
		dir, epoch, l := folder(t, 7, true)
		old := map[string][]byte{}
		for _, name := range []string{journalName, markName} {
			data, err := os.ReadFile(filepath.Join(dir, name))
			if err != nil {
				t.Fatal(err)
			}
			old[name] = data
		}
		s := open(t, dir)
		l.add(notes(50, 60), push(t, s, notes(50, 60)...))
		if clean {
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
		} else {
			crash(s)
		}
		for name, data := range old {
			if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		if r := expectWhole(t, dir, epoch, l, false); r.Salvaged != 10 {
			t.Errorf("report is %+v", r)
		}
	}
}

func TestNewerFormat(t *testing.T) {
	dir, _, _ := folder(t, 7, true)
	path := filepath.Join(dir, journalName)
	text, err := json.Marshal(header{"journal", formatVersion + 1, "e", 1, ""})
	if err != nil {
		t.Fatal(err)
	}
	newer, _ := sealLine(nil, text[:len(text)-1])
	newer = append(newer, "lines of the future\n"...)
	if err := os.WriteFile(path, newer, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(dir, Options{}); kindOf(err) != problem.Unsupported {
		t.Errorf("Open: %v", err)
	}
	for _, err := range ReadFile(dir) {
		if kindOf(err) != problem.Unsupported {
			t.Errorf("ReadFile: %v", err)
		}
		break
	}
	if after, err := os.ReadFile(path); err != nil || !bytes.Equal(after, newer) {
		t.Errorf("the file was changed, %v", err)
	}
}

// ReadFile says which line is damaged and gives the others.
func TestReadDamagedFile(t *testing.T) {
	dir, _, _ := folder(t, 7, true)
	path := filepath.Join(dir, journalName)
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	flip(t, path, int64(bytes.Index(data, []byte("note 3"))), 1)
	var got []string
	for item, err := range ReadFile(dir) {
		switch {
		case err == nil:
			got = append(got, fmt.Sprint(item.Seq))
		case kindOf(err) == problem.Damaged:
			got = append(got, err.Error()[:strings.Index(err.Error(), " of")])
		default:
			t.Error(err)
		}
	}
	if want := "[1 2 3 line 5 5 6 7]"; fmt.Sprint(got) != want {
		t.Errorf("got %v, want %s", got, want)
	}
	for _, err := range ReadFile(t.TempDir()) {
		if kindOf(err) != problem.NotFound {
			t.Errorf("an empty folder gives %v", err)
		}
	}
}
