package store

import (
	"context"
	"errors"
	"maps"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"packwright/internal/problem"
)

func TestClosed(t *testing.T) {
	s := open(t, t.TempDir())
	push(t, s, note(1))
	if err := errors.Join(s.Close(), s.Close()); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Append(context.Background(), notes(2, 3), ""); !errors.Is(err, errClosed) {
		t.Errorf("Append: %v", err)
	}
	if _, err := s.Page(0, 1, 1); !errors.Is(err, errClosed) {
		t.Errorf("Page: %v", err)
	}
	if _, err := s.Wanted([]string{"x"}); !errors.Is(err, errClosed) {
		t.Errorf("Wanted: %v", err)
	}
}

// Appends that race with Close are either stored or told that they are not.
func TestCloseMeanwhile(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	got := ledger{}
	var mu sync.Mutex
	var phones sync.WaitGroup
	for p := range 8 {
		phones.Go(func() {
			for n := 0; ; n++ {
				raws := notes(1000*p+n, 1000*p+n+1)
				results, err := s.Append(context.Background(), raws, "")
				if err != nil {
					return
				}
				mu.Lock()
				got.add(raws, results)
				if len(got) == 100 {
					go s.Close()
				}
				mu.Unlock()
			}
		})
	}
	phones.Wait()
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	// What was never answered may be stored, too.
	may := ledger{}
	for p := range 8 {
		maps.Copy(may, ledgerOf(notes(1000*p, 1000*p+500)...))
	}
	got.check(t, open(t, dir), may)
}

func TestCancelled(t *testing.T) {
	release := make(chan struct{})
	s := openWith(t, t.TempDir(), Options{at: func(point string) error {
		if point == "journal written" {
			<-release
		}
		return nil
	}})
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := s.Append(ctx, notes(1, 2), ""); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
	close(release)
	push(t, s, note(1)) // accepted or duplicate
	ledgerOf(note(1)).check(t, s, nil)
}

// While one group is being synced, what arrives waits and becomes one group.
func TestGroups(t *testing.T) {
	started, release := make(chan bool, 100), make(chan bool)
	s := openWith(t, t.TempDir(), Options{at: func(point string) error {
		if point == "journal written" {
			started <- true
			<-release
		}
		return nil
	}})
	var phones sync.WaitGroup
	phones.Go(func() { push(t, s, note(0)) })
	<-started
	for n := 1; n <= 20; n++ {
		phones.Go(func() { push(t, s, note(n), note(n), note(1)) })
	}
	for len(s.requests) < 20 {
		time.Sleep(time.Millisecond)
	}
	close(release)
	phones.Wait()
	if groups := 1 + len(started); groups != 2 {
		t.Errorf("%d groups, want 2", groups)
	}
	ledgerOf(notes(0, 21)...).check(t, s, nil)
}

func TestInUse(t *testing.T) {
	dir := t.TempDir()
	if address, locked := Locked(dir); locked || address != "" {
		t.Errorf("an empty folder is locked (%s)", address)
	}
	s := openWith(t, dir, Options{Address: "http://127.0.0.1:8080"})
	push(t, s, note(1))
	_, err := Open(dir, Options{})
	if kindOf(err) != problem.InUse || !strings.Contains(err.Error(), "http://127.0.0.1:8080") {
		t.Errorf("second Open: %v", err)
	}
	if err := s.SetAddress("http://127.0.0.1:9"); err != nil {
		t.Fatal(err)
	}
	if address, locked := Locked(dir); !locked || address != "http://127.0.0.1:9" {
		t.Errorf("Locked gives %q, %v", address, locked)
	}
	for item, err := range ReadFile(dir) {
		if err != nil || !sameJSON(item.Entry, note(1)) {
			t.Errorf("ReadFile meanwhile: %s, %v", item.Entry, err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if address, locked := Locked(dir); locked || address != "" {
		t.Errorf("locked after Close (%s)", address)
	}
	ledgerOf(note(1)).check(t, open(t, dir), nil)
}

// Every session leaves a table in the index; too many are put together again.
func TestManySessions(t *testing.T) {
	t.Parallel()
	dir, l := t.TempDir(), ledger{}
	rebuilt := 0
	for n := range maxTables + 5 {
		s := open(t, dir)
		l.add(notes(n, n+1), push(t, s, note(n)))
		if s.Report().IndexRebuilt {
			rebuilt++
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if tables := countTables(filepath.Join(dir, indexName)); rebuilt != 1 || tables > 5 {
		t.Errorf("made again %d times, %d tables", rebuilt, tables)
	}
	l.check(t, open(t, dir), nil)
}
