package store

import (
	"errors"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"packwright/internal/problem"
)

// An index that goes bad while it is in use is noticed and made again.
func TestIndexDamagedInUse(t *testing.T) {
	dir, epoch, l := folder(t, 300, true)
	s := open(t, dir)
	tables, err := filepath.Glob(filepath.Join(dir, indexName, "*.sst"))
	if err != nil || len(tables) == 0 {
		t.Fatalf("no tables: %v", err)
	}
	for at := int64(0); at < size(t, tables[0])*9/10; at += 97 {
		flip(t, tables[0], at, 0x55)
	}
	l.check(t, s, nil)
	if got := push(t, s, note(5))[0]; got.Status != Duplicate {
		t.Errorf("stored again: %+v", got)
	}
	l.add(notes(300, 310), push(t, s, notes(300, 310)...))
	l.check(t, s, nil)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = open(t, dir)
	l.check(t, s, nil)
	if now, _ := s.Head(); now != epoch || !s.Report().IndexRebuilt {
		t.Errorf("report is %+v", s.Report())
	}
}

// Errors at each step of a commit: no false acknowledgement, and none withheld
// once the journal is synced.
func TestFailingCommit(t *testing.T) {
	fail := map[string]error{}
	dir := t.TempDir()
	s := openWith(t, dir, Options{at: func(point string) error { return fail[point] }})
	want := ledger{}
	for n, c := range []struct {
		point string
		err   error
		kind  problem.Kind
	}{
		{"journal written", syscall.EIO, ""},
		{"journal written", syscall.ENOSPC, problem.NoSpace},
		{"journal synced", syscall.EIO, ""},
	} {
		want.add(notes(10*n, 10*n+3), push(t, s, notes(10*n, 10*n+3)...))
		fail[c.point] = c.err
		failing := append(notes(10*n+3, 10*n+6), note(10*n))
		results, err := s.Append(t.Context(), failing, "")
		again, againErr := s.Append(t.Context(), notes(10*n, 10*n+3), "")
		clear(fail)
		switch c.point {
		case "journal written":
			if !errors.Is(err, c.err) && kindOf(err) != c.kind || err == nil || results != nil {
				t.Errorf("%s %v: %v, %v", c.point, c.err, results, err)
			}
		default:
			if err != nil || results[0].Status != Accepted {
				t.Errorf("%s %v: %v, %v", c.point, c.err, results, err)
			}
			want.add(failing, results)
		}
		if againErr != nil || again[0].Status != Duplicate {
			t.Errorf("%s %v: what is stored is %v, %v", c.point, c.err, again, againErr)
		}
		want.check(t, s, nil)
		want.add(failing, push(t, s, failing...))
		want.check(t, s, nil)
	}
	crash(s)
	want.check(t, open(t, dir), nil)
}

// The index fails after a commit and cannot be made again for a while: what is
// stored stays acknowledged, is not shown yet, and all is well afterwards.
func TestNoIndexForAWhile(t *testing.T) {
	for _, stop := range []bool{false, true} {
		dir := t.TempDir()
		path := filepath.Join(dir, journalName)
		hidden := false
		s := openWith(t, dir, Options{at: func(point string) error {
			if point == "journal synced" && hidden {
				return errors.Join(syscall.EIO, os.Rename(path, path+".hidden"))
			}
			return nil
		}})
		want := ledger{}
		want.add(notes(0, 3), push(t, s, notes(0, 3)...))
		hidden = true
		want.add(notes(3, 6), push(t, s, notes(3, 6)...))
		hidden = false
		if _, head := s.Head(); head != 3 || len(want) != 6 {
			t.Errorf("head is %d, %d acknowledged", head, len(want))
		}
		if _, err := s.Append(t.Context(), notes(6, 7), ""); err == nil {
			t.Error("stored without an index to find duplicates in")
		}
		if err := os.Rename(path+".hidden", path); err != nil {
			t.Fatal(err)
		}
		if stop {
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			s = open(t, dir)
			if s.Report().Doubt != "" {
				t.Errorf("report is %+v", s.Report())
			}
		}
		want.add(notes(5, 8), push(t, s, notes(5, 8)...))
		want.check(t, s, nil)
	}
}
