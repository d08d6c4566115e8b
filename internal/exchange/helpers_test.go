package exchange

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"slices"
	"strconv"
	"sync"
	"testing"
	"time"

	"packwright/internal/journal"
	"packwright/internal/problem"
	"packwright/internal/store"
)

// memory is a journal in memory that also answers as an upstream does. The real
// ones meet in the tests of package server; here their words can be chosen.
type memory struct {
	mu    sync.Mutex
	epoch string
	items []held

	verdict func(id string) *store.Result                   // instead of the usual one; nil: usual
	instead func(r *http.Request) (status int, body string) // of an answer; status 0: the usual one
	asked   []string                                        // requests
	token   string                                          // that is asked for; empty: none
	version string                                          //
}

// held is an entry in memory.
type held struct {
	store.Item
	id string
}

func newMemory(epoch string, numbers ...int) *memory {
	m := &memory{epoch: epoch, version: "1"}
	for _, n := range numbers {
		m.add(note(n, ""), "phone")
	}
	return m
}

func note(n int, text string) json.RawMessage {
	body, err := json.Marshal(journal.Entry{ID: journal.NewID(int64(n), [10]byte{9: byte(n)}), V: 1, Kind: journal.Noted,
		Device: "d", HLC: journal.Stamp{MS: int64(n)}.String(), Body: json.RawMessage(fmt.Sprintf(`{"text":%q}`, text+"x"))})
	if err != nil {
		panic(err)
	}
	return body
}

func (m *memory) add(raw json.RawMessage, by string) uint64 {
	seq := uint64(len(m.items) + 1)
	m.items = append(m.items, held{store.Item{Seq: seq, Entry: raw, BroughtBy: by}, idOf(raw)})
	return seq
}

func (m *memory) Append(_ context.Context, raws []json.RawMessage, by string) ([]store.Result, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	var results []store.Result
	for _, raw := range raws {
		id := idOf(raw)
		r := store.Result{ID: id}
		if m.verdict != nil {
			if chosen := m.verdict(id); chosen != nil {
				results = append(results, *chosen)
				continue
			}
		}
		known := slices.IndexFunc(m.items, func(item held) bool { return item.id == id })
		switch {
		case known < 0:
			r.Status, r.Seq = store.Accepted, m.add(raw, by)
		case string(m.items[known].Entry) == string(raw):
			r.Status, r.Seq = store.Duplicate, uint64(known+1)
		default:
			r.Status, r.Reason = store.Conflict, "another entry is stored under this id"
		}
		results = append(results, r)
	}
	return results, nil
}

func (m *memory) Head() (string, uint64) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.epoch, uint64(len(m.items))
}

func (m *memory) Page(after uint64, limit, maxBytes int) (store.Page, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	p := store.Page{Next: after}
	size := 0
	for _, item := range m.items[min(after, uint64(len(m.items))):] {
		if size += len(item.Entry); len(p.Items) > 0 && (len(p.Items) == limit || size > maxBytes) {
			p.More = true
			break
		}
		p.Items, p.Next = append(p.Items, item.Item), item.Seq
	}
	return p, nil
}

func (m *memory) Subscribe() (<-chan uint64, func()) { return make(chan uint64), func() {} }

// ServeHTTP answers as server/entries.go does.
func (m *memory) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	m.mu.Lock()
	m.asked = append(m.asked, r.Method+" "+r.URL.Path)
	m.mu.Unlock()
	if m.instead != nil {
		if status, body := m.instead(r); status != 0 {
			w.WriteHeader(status)
			io.WriteString(w, body)
			return
		}
	}
	answer := func(status int, v any) {
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(status)
		json.NewEncoder(w).Encode(v)
	}
	if m.token != "" && r.Header.Get("Authorization") != "Bearer "+m.token {
		answer(http.StatusUnauthorized, map[string]any{"problem": problem.New(problem.NotJoined, "join", "this device was taken off the list")})
		return
	}
	epoch, head := m.Head()
	switch r.Method + " " + r.URL.Path {
	case "GET /api/v1/health":
		answer(200, map[string]any{"ok": true, "api": 1, "min_client": 1, "role": "lead", "now_ms": 1000})
	case "GET /api/v1/version":
		answer(200, map[string]any{"version": m.version})
	case "POST /api/v1/entries":
		var body struct{ Entries []json.RawMessage }
		json.NewDecoder(r.Body).Decode(&body)
		results, _ := m.Append(r.Context(), body.Entries, "down")
		answer(200, map[string]any{"epoch": epoch, "results": results})
	case "POST /api/v1/offer":
		var body struct{ IDs []string }
		json.NewDecoder(r.Body).Decode(&body)
		answer(200, map[string]any{"epoch": epoch, "wanted": m.lacking(body.IDs)})
	case "GET /api/v1/entries":
		after, _ := strconv.ParseUint(r.FormValue("after"), 10, 64)
		limit, _ := strconv.Atoi(r.FormValue("limit"))
		if asked := r.FormValue("epoch"); asked != "" && asked != epoch || after > head {
			answer(409, map[string]any{"reset": true, "epoch": epoch, "head": head})
			return
		}
		page, _ := m.Page(after, limit, 1<<20)
		entries := []map[string]any{}
		for _, item := range page.Items {
			entries = append(entries, map[string]any{"seq": item.Seq, "entry": item.Entry})
		}
		answer(200, map[string]any{"epoch": epoch, "head": head, "entries": entries, "next": page.Next, "more": page.More})
	default:
		http.NotFound(w, r)
	}
}

func (m *memory) lacking(ids []string) []string {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.DeleteFunc(ids, func(id string) bool {
		return slices.ContainsFunc(m.items, func(item held) bool { return item.id == id })
	})
}

// count gives how many requests of one kind there were, and forgets them all.
func (m *memory) count(what string) int {
	m.mu.Lock()
	defer m.mu.Unlock()
	n := 0
	for _, asked := range m.asked {
		if asked == what {
			n++
		}
	}
	m.asked = nil
	return n
}

func serveMemory(t *testing.T, m *memory) Link {
	t.Helper()
	web := httptest.NewServer(m)
	t.Cleanup(web.Close)
	return Link{URL: web.URL, Token: m.token}
}

func start(t *testing.T, down *memory, link Link, dir string, o Options) *Exchange {
	t.Helper()
	x, err := New(down, link, dir, o)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func round(t *testing.T, x *Exchange) {
	t.Helper()
	if err := x.Round(t.Context()); err != nil {
		t.Fatal(err)
	}
}

// same fails unless both journals hold the same ids.
func same(t *testing.T, a, b *memory) {
	t.Helper()
	ids := func(m *memory) []string {
		var ids []string
		for _, item := range m.items {
			ids = append(ids, item.id)
		}
		slices.Sort(ids)
		return ids
	}
	if x, y := ids(a), ids(b); !slices.Equal(x, y) || len(slices.Compact(x)) != len(y) {
		t.Errorf("one holds %v, the other %v", x, y)
	}
}

func kindOf(err error) problem.Kind {
	if p, ok := problem.As(err); ok {
		return p.Kind
	}
	return ""
}

var errCut = errors.New("cut")

func at(ms int64) func() time.Time { return func() time.Time { return time.UnixMilli(ms) } }
