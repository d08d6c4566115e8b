package store

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// folder makes a data folder of n entries, stopped cleanly or by a crash.
func folder(t testing.TB, n int, clean bool) (dir, epoch string, l ledger) {
	t.Helper()
	dir = t.TempDir()
	s := open(t, dir)
	push(t, s, notes(0, n/2)...)
	push(t, s, notes(n/2, n)...)
	epoch, _ = s.Head()
	if clean {
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	} else {
		crash(s)
	}
	return dir, epoch, ledgerOf(notes(0, n)...)
}

func stopWord(clean bool) string {
	if clean {
		return "stopped"
	}
	return "crashed"
}

// files lists a folder's files, the index's with their folder.
func files(t testing.TB, dir string) []string {
	t.Helper()
	var names []string
	for _, pattern := range []string{"*", indexName + "/*"} {
		paths, err := filepath.Glob(filepath.Join(dir, pattern))
		if err != nil {
			t.Fatal(err)
		}
		for _, path := range paths {
			if info, err := os.Stat(path); err == nil && !info.IsDir() {
				name, _ := filepath.Rel(dir, path)
				names = append(names, name)
			}
		}
	}
	return names
}

func size(t testing.TB, path string) int64 {
	t.Helper()
	info, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	return info.Size()
}

func flip(t testing.TB, path string, at int64, bits byte) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	b := make([]byte, 1)
	_, readErr := f.ReadAt(b, at)
	b[0] ^= bits
	_, writeErr := f.WriteAt(b, at)
	if err := errors.Join(readErr, writeErr, f.Close()); err != nil {
		t.Fatal(err)
	}
}

// spread gives about n numbers below size, the first and the last among them.
func spread(size int64, n int64) []int64 {
	var at []int64
	step := max(1, size/n) | 1 // odd: no power of two that hits the same field each time
	for i := int64(0); i < size; i += step {
		at = append(at, i)
	}
	if size > 0 {
		at = append(at, size-1)
	}
	return slices.Compact(at)
}

// expectWhole opens a damaged folder: every entry is there, what was not
// harmless is said under a new epoch, and the next start is calm.
func expectWhole(t *testing.T, dir, epoch string, l ledger, harmless bool) Report {
	t.Helper()
	s := open(t, dir)
	r := s.Report()
	l.check(t, s, nil)
	now, _ := s.Head()
	switch {
	case harmless && (r.Doubt != "" || now != epoch):
		t.Fatalf("harmless, but epoch %s is now %s: %+v", epoch, now, r)
	case !harmless && (r.Doubt == "" || now == epoch || !r.NewEpoch || len(r.Sentences()) == 0):
		t.Fatalf("nothing is said: %+v", r)
	case r.Missing > 0:
		t.Fatalf("all there, but %d called missing", r.Missing)
	}
	more := notes(9000, 9003)
	push(t, s, more...)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = open(t, dir)
	if again, _ := s.Head(); again != now || s.Report().Doubt != "" || s.Report().CutBytes != 0 {
		t.Fatalf("the start after is not calm: %+v", s.Report())
	}
	both := ledgerOf(more...)
	for id, raw := range l {
		both[id] = raw
	}
	both.check(t, s, nil)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return r
}

// harmless says whether damage to a file touches nothing but what can be made again.
func harmless(name string) bool { return name == lockName || strings.HasPrefix(name, indexName) }

// positions is at how many places of a file damage is tried.
func positions(name string) int64 {
	switch name {
	case journalName:
		return 40
	case markName:
		return 12
	}
	return 4
}

func TestDamagedByte(t *testing.T) {
	for _, clean := range []bool{true, false} {
		dir, _, _ := folder(t, 7, clean)
		for _, name := range files(t, dir) {
			for i, at := range spread(size(t, filepath.Join(dir, name)), positions(name)) {
				bits := []byte{1, 0x80, 0xff, 0x20}[i%4]
				t.Run(fmt.Sprintf("%s/%s/%d^%x", stopWord(clean), name, at, bits), func(t *testing.T) {
					t.Parallel()
					dir, epoch, l := folder(t, 7, clean)
					path := filepath.Join(dir, name)
					if at >= size(t, path) {
						t.Skip("this time the file is smaller")
					}
					flip(t, path, at, bits)
					r := expectWhole(t, dir, epoch, l, harmless(name))
					if name == journalName && at > 300 && len(r.BadLines) == 0 {
						t.Errorf("no line is named: %+v", r)
					}
				})
			}
		}
	}
}

func TestCutFile(t *testing.T) {
	for _, clean := range []bool{true, false} {
		dir, _, _ := folder(t, 7, clean)
		for _, name := range files(t, dir) {
			for _, to := range append([]int64{-1}, spread(size(t, filepath.Join(dir, name)), positions(name))...) {
				t.Run(fmt.Sprintf("%s/%s/%d", stopWord(clean), name, to), func(t *testing.T) {
					t.Parallel()
					dir, epoch, l := folder(t, 7, clean)
					path := filepath.Join(dir, name)
					switch {
					case to < 0:
						if err := os.Remove(path); err != nil {
							t.Fatal(err)
						}
					case to >= size(t, path):
						t.Skip("this time the file is smaller")
					default:
						if err := os.Truncate(path, to); err != nil {
							t.Fatal(err)
						}
					}
					expectWhole(t, dir, epoch, l, harmless(name))
				})
			}
		}
	}
}

// A journal that was changed as a whole.
func TestChangedJournal(t *testing.T) {
	type lines = [][]byte
	for _, c := range []struct {
		name   string
		change func(l lines) lines // the header is l[0]
	}{
		{"a line twice", func(l lines) lines { return slices.Insert(l, 4, l[3]) }},
		{"a line at the end twice", func(l lines) lines { return append(l, l[len(l)-1]) }},
		{"two lines swapped", func(l lines) lines { l[2], l[3] = l[3], l[2]; return l }},
		{"a line taken out", func(l lines) lines { return slices.Delete(l, 3, 4) }},
		{"the last line taken out", func(l lines) lines { return l[:len(l)-1] }},
		{"no header", func(l lines) lines { return l[1:] }},
		{"only the header", func(l lines) lines { return l[:1] }},
		{"rubbish between", func(l lines) lines { return slices.Insert(l, 4, []byte("rubbish\n\n\x00\n")) }},
		{"no newline between", func(l lines) lines { l[3] = bytes.TrimSpace(l[3]); return l }},
		{"newlines of Windows", func(l lines) lines { return lines{bytes.ReplaceAll(bytes.Join(l, nil), []byte("\n"), []byte("\r\n"))} }},
		{"zeros", func(l lines) lines { return lines{make([]byte, 5000)} }},
		{"a byte order mark", func(l lines) lines { return slices.Insert(l, 0, []byte("\ufeff")) }},
	} {
		for _, clean := range []bool{true, false} {
			t.Run(c.name+", "+stopWord(clean), func(t *testing.T) {
				t.Parallel()
				dir, epoch, l := folder(t, 7, clean)
				path := filepath.Join(dir, journalName)
				data, err := os.ReadFile(path)
				if err != nil {
					t.Fatal(err)
				}
				changed := bytes.Join(c.change(bytes.SplitAfter(bytes.TrimSuffix(data, []byte("\n")), []byte("\n"))), nil)
				if len(changed) > 0 && c.name != "zeros" {
					changed = append(bytes.TrimSuffix(changed, []byte("\n")), '\n')
				}
				if err := os.WriteFile(path, changed, 0o600); err != nil {
					t.Fatal(err)
				}
				expectWhole(t, dir, epoch, l, false)
			})
		}
	}
}

// With the index deleted, after a clean stop or a crash, it is made again and
// nothing else changes.
func TestIndexDeleted(t *testing.T) {
	for _, clean := range []bool{true, false} {
		dir, epoch, l := folder(t, 7, clean)
		if err := os.RemoveAll(filepath.Join(dir, indexName)); err != nil {
			t.Fatal(err)
		}
		s := open(t, dir)
		l.check(t, s, nil)
		if now, _ := s.Head(); now != epoch || !s.Report().IndexRebuilt || s.Report().Doubt != "" {
			t.Errorf("clean %v: epoch %s is now %s: %+v", clean, epoch, now, s.Report())
		}
	}
}

// With the index gone there is no second copy: what is damaged is missing, and
// exactly that is said and kept aside.
func TestNothingToSalvage(t *testing.T) {
	for _, clean := range []bool{true, false} {
		dir, epoch, l := folder(t, 7, clean)
		path := filepath.Join(dir, journalName)
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		at := bytes.Index(data, []byte("note 3"))
		flip(t, path, int64(at), 1)
		if err := os.RemoveAll(filepath.Join(dir, indexName)); err != nil {
			t.Fatal(err)
		}
		delete(l, noteID(3))
		s := open(t, dir)
		l.check(t, s, nil)
		r := s.Report()
		if now, _ := s.Head(); now == epoch || r.Missing != 1 || fmt.Sprint(r.BadLines) != "[5]" || r.Aside == "" || r.Entries != 6 {
			t.Errorf("report is %+v", r)
		}
		aside, err := os.ReadFile(filepath.Join(dir, r.Aside))
		if err != nil || !bytes.Contains(aside, []byte(noteID(3))) || len(aside) != r.CutBytes {
			t.Errorf("aside is %q, %v", aside, err)
		}
		// A phone that still has it brings it back.
		if got := push(t, s, note(3))[0]; got.Status != Accepted || got.Seq != 7 {
			t.Errorf("brought back: %+v", got)
		}
	}
}

// What a crash tore off the end was never acknowledged: cut, kept, the epoch stays.
func TestTornTail(t *testing.T) {
	t.Parallel()
	dir, epoch, l := folder(t, 7, false)
	path := filepath.Join(dir, journalName)
	whole := size(t, path)
	next, _ := appendLine(nil, 8, digest{}, 5, "x", note(8))
	for _, tail := range [][]byte{next[:1], next[:len(next)/2], next[:len(next)-3], next[:len(next)-1], make([]byte, 4096), []byte("\n")} {
		f, err := os.OpenFile(path, os.O_WRONLY|os.O_APPEND, 0)
		if err != nil {
			t.Fatal(err)
		}
		_, err = f.Write(tail)
		if err := errors.Join(err, f.Close()); err != nil {
			t.Fatal(err)
		}
		s := open(t, dir)
		l.check(t, s, nil)
		r := s.Report()
		aside, err := os.ReadFile(filepath.Join(dir, r.Aside))
		if now, _ := s.Head(); now != epoch || r.Doubt != "" || r.CutBytes != len(tail) || err != nil || !bytes.Equal(aside, tail) {
			t.Errorf("report is %+v, aside %q, %v", r, aside, err)
		}
		if size(t, path) != whole {
			t.Errorf("the journal has %d bytes, was %d", size(t, path), whole)
		}
		crash(s)
	}
}
