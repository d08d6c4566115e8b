package store

import (
	"context"
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"packwright/internal/journal"
	"packwright/internal/problem"
)

// note gives a valid entry, the same for the same n.
func note(n int) json.RawMessage { return noteText(n, fmt.Sprintf("note %d", n)) }

func noteText(n int, text string) json.RawMessage {
	body, err := json.Marshal(journal.Note{Text: text})
	if err != nil {
		panic(err)
	}
	return json.RawMessage(fmt.Sprintf(
		`{"id":%q,"v":1,"kind":"note","pack":"","device":"test-device","by":"AB","hlc":"%013d-0000","body":%s}`,
		noteID(n), 1764060000000+n, body))
}

func noteID(n int) string {
	var random [10]byte
	for i := range 8 {
		random[i] = byte(n >> (8 * i))
	}
	return journal.NewID(1764060000000+int64(n), random)
}

func notes(from, to int) []json.RawMessage {
	var all []json.RawMessage
	for n := from; n < to; n++ {
		all = append(all, note(n))
	}
	return all
}

func open(t testing.TB, dir string) *Store { return openWith(t, dir, Options{}) }

func openWith(t testing.TB, dir string, o Options) *Store {
	t.Helper()
	s, err := Open(dir, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// crash gives the folder free as a killed process would: nothing is sealed.
func crash(s *Store) {
	s.closing.Do(func() {
		close(s.quit)
		<-s.done
		_ = s.release()
	})
}

func push(t testing.TB, s *Store, raws ...json.RawMessage) []Result {
	t.Helper()
	results, err := s.Append(context.Background(), raws, "test")
	if err != nil {
		t.Fatal(err)
	}
	return results
}

// ledger is the test's own list of what must be in a store: id → entry as sent.
type ledger map[string]json.RawMessage

// add notes down what was acknowledged.
func (l ledger) add(raws []json.RawMessage, results []Result) {
	for i, r := range results {
		if r.Status == Accepted || r.Status == Duplicate {
			l[r.ID] = raws[i]
		}
	}
}

func ledgerOf(raws ...json.RawMessage) ledger {
	l := ledger{}
	for _, raw := range raws {
		var e struct{ ID string }
		if err := json.Unmarshal(raw, &e); err != nil {
			panic(err)
		}
		l[e.ID] = raw
	}
	return l
}

// check compares a store with the ledger: every entry once, nothing else but
// what may be there too (sent, and never answered), in all ways of reading.
func (l ledger) check(t testing.TB, s *Store, may ledger) {
	t.Helper()
	var ids []string
	seen := map[string]bool{}
	for after, more := uint64(0), true; more; {
		p, err := s.Page(after, 1000, 1<<20)
		if err != nil {
			t.Fatal(err)
		}
		for _, item := range p.Items {
			var e struct{ ID string }
			if err := json.Unmarshal(item.Entry, &e); err != nil {
				t.Fatal(err)
			}
			want, ok := l[e.ID]
			if !ok {
				want, ok = may[e.ID]
			}
			if !ok || !sameJSON(item.Entry, want) {
				t.Fatalf("entry %s was never sent: %s", e.ID, item.Entry)
			}
			if seen[e.ID] {
				t.Fatalf("entry %s is there twice", e.ID)
			}
			seen[e.ID] = true
			if ids = append(ids, e.ID); item.Seq != uint64(len(ids)) {
				t.Fatalf("entry %d has seq %d", len(ids), item.Seq)
			}
		}
		after, more = p.Next, p.More
	}
	missing := 0
	for id := range l {
		if !seen[id] {
			missing++
		}
	}
	if missing > 0 {
		t.Fatalf("%d of %d acknowledged entries are missing", missing, len(l))
	}
	if _, head := s.Head(); head != uint64(len(ids)) {
		t.Fatalf("head is %d with %d entries", head, len(ids))
	}
	wanted, err := s.Wanted(append(ids, "no such id"))
	if err != nil || !reflect.DeepEqual(wanted, []string{"no such id"}) {
		t.Fatalf("wanted %v, %v", wanted, err)
	}
	for name, all := range map[string]func(func(Item, error) bool){"All": s.All(), "ReadFile": ReadFile(s.dir)} {
		n := 0
		for item, err := range all {
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			if n >= len(ids) || item.Seq != uint64(n)+1 || !strings.Contains(string(item.Entry), ids[n]) {
				t.Fatalf("%s gives another entry at %d", name, n+1)
			}
			n++
		}
		if n != len(ids) {
			t.Fatalf("%s gives %d of %d entries", name, n, len(ids))
		}
	}
}

// sameJSON compares two JSON texts by value.
func sameJSON(a, b []byte) bool {
	var x, y any
	return json.Unmarshal(a, &x) == nil && json.Unmarshal(b, &y) == nil && reflect.DeepEqual(x, y)
}

func TestSameJSON(t *testing.T) {
	if !sameJSON([]byte(`{"a":1.50,"b":[2]}`), []byte(`{"b":[2], "a":15e-1}`)) {
		t.Error("equal values differ")
	}
	if sameJSON([]byte(`{"a":1}`), []byte(`{"a":1,"b":null}`)) || sameJSON([]byte(`{`), []byte(`{`)) {
		t.Error("different or broken values are equal")
	}
}

func noteTextRaw(n int, text string) json.RawMessage {
	return json.RawMessage(strings.Replace(string(noteText(n, "@")), `"@"`, text, 1))
}

func kindOf(err error) problem.Kind {
	if p, ok := problem.As(err); ok {
		return p.Kind
	}
	return ""
}
