package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"log/slog"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"packwright/internal/journal"
	"packwright/internal/problem"
	"packwright/internal/store"
)

func discardLog() *slog.Logger { return slog.New(slog.DiscardHandler) }

// backend is a store with what can happen to its machine.
type backend interface {
	entryStore
	kill(r *rand.Rand) // as kill -9 does: what is not durable is gone
	stop()             // cleanly
	start()            // after kill or stop
	snapshot()         // copies the data folder while it is in use
	restore() bool     // puts the oldest copy in place and starts; false where there is none
	close()
}

// realBackend is the real store on the real disk.
type realBackend struct {
	*store.Store
	t      testing.TB
	root   string
	dir    string
	serial int
	copies []string
	dead   []*store.Store // killed, and not yet cleared away
}

func newRealBackend(t testing.TB, root string) *realBackend {
	b := &realBackend{t: t, root: root}
	b.dir = b.newDir()
	b.start()
	return b
}

func (b *realBackend) newDir() string {
	b.serial++
	dir := filepath.Join(b.root, fmt.Sprint(b.serial))
	if err := os.Mkdir(dir, 0o700); err != nil {
		b.t.Fatal(err)
	}
	return dir
}

// kill takes the journal and its mark away from the running store, as they are
// on the disk at this moment, with what a half-done write leaves behind. The old
// process, which cannot be killed inside a test, keeps only its index.
func (b *realBackend) kill(r *rand.Rand) {
	next := b.newDir()
	for _, name := range []string{"journal.jsonl", "journal.mark"} {
		if err := os.Rename(filepath.Join(b.dir, name), filepath.Join(next, name)); err != nil {
			b.t.Fatal(err)
		}
	}
	if r.IntN(2) == 0 {
		f, err := os.OpenFile(filepath.Join(next, "journal.jsonl"), os.O_WRONLY|os.O_APPEND, 0)
		if err != nil {
			b.t.Fatal(err)
		}
		torn := `{"seq":1234567,"prev":"00","received_ms":1764060000000,"brought_by":"","entry":{"body":{"text":"torn`
		_, err = f.WriteString(torn[:1+r.IntN(len(torn)-1)])
		if err := errors.Join(err, f.Close()); err != nil {
			b.t.Fatal(err)
		}
	}
	b.dead = append(b.dead, b.Store)
	b.dir = next
}

func (b *realBackend) stop() {
	if err := b.Store.Close(); err != nil {
		b.t.Fatal(err)
	}
}

func (b *realBackend) start() {
	var err error
	if b.Store, err = store.Open(b.dir, store.Options{}); err != nil {
		b.t.Fatal(err)
	}
	for _, s := range b.dead {
		_ = s.Close() // it has lost its files; only its memory is wanted back
	}
	b.dead = nil
}

func (b *realBackend) snapshot() {
	dir := b.newDir()
	for _, name := range []string{"journal.jsonl", "journal.mark"} {
		content, err := os.ReadFile(filepath.Join(b.dir, name))
		if err == nil {
			err = os.WriteFile(filepath.Join(dir, name), content, 0o600)
		}
		if err != nil {
			b.t.Fatal(err)
		}
	}
	b.copies = append(b.copies, dir)
}

func (b *realBackend) restore() bool {
	if len(b.copies) == 0 {
		return false
	}
	b.stop()
	b.dir, b.copies = b.copies[0], b.copies[1:]
	b.start()
	return true
}

func (b *realBackend) close() {
	for _, s := range append(b.dead, b.Store) {
		_ = s.Close()
	}
}

// faults are the safeguards of a server that can be switched off, one at a time,
// to see that the checker notices.
type faults struct {
	noDedup       bool // a known id is stored again
	overwrite     bool // other content under a known id replaces it
	earlySeq      bool // numbers are given before the commit, and commits overtake
	earlyAck      bool // acknowledged before it is on the disk
	keepEpoch     bool // a restored copy goes on under its old epoch
	wholeBatch    bool // one bad entry has the whole batch refused
	skipLargePage bool // an entry that does not fit the page is left out
	half          bool // of a long entry only a part is stored
}

// memBackend is a store in memory with the same promises, and with faults.
type memBackend struct {
	faults
	r      *rand.Rand
	epoch  string
	disk   []memItem // durable
	memory []memItem // acknowledged and not durable yet (earlyAck)
	hidden []memItem // numbered and not yet readable (earlySeq)
	seq    uint64
	by     string // who brings what is being appended
	copies [][]memItem
}

type memItem struct {
	id   string
	item store.Item
}

func newMemBackend(f faults, r *rand.Rand) *memBackend {
	b := &memBackend{faults: f, r: r}
	b.newEpoch()
	return b
}

func (b *memBackend) newEpoch() { b.epoch = fmt.Sprintf("%016x", b.r.Uint64()) }

func (b *memBackend) all() []memItem { return slices.Concat(b.disk, b.memory) }

func (b *memBackend) Append(_ context.Context, raws []json.RawMessage, by string) ([]store.Result, error) {
	b.flush()
	b.by = by
	results := make([]store.Result, len(raws))
	refused := false
	for i, raw := range raws {
		entry, err := journal.ParseEntry(raw)
		if err == nil {
			err = entry.Check()
		}
		results[i] = store.Result{ID: entry.ID}
		if err != nil {
			refused = true
			results[i].Status, results[i].Reason = store.Refused, err.Error()
			continue
		}
		b.take(&results[i], raw, b.wholeBatch && refused)
	}
	if b.wholeBatch && refused {
		for i := range results {
			results[i].Status, results[i].Reason = store.Refused, "the batch was refused"
		}
	}
	return results, nil
}

func (b *memBackend) take(result *store.Result, raw json.RawMessage, skip bool) {
	if skip {
		return
	}
	for at, known := range b.stored() {
		if known.id != result.ID {
			continue
		}
		result.Seq = known.item.Seq
		same := canonical(known.item.Entry) == canonical(raw)
		switch {
		case same && b.noDedup:
			result.Status, result.Seq = store.Accepted, b.add(result.ID, raw)
		case same:
			result.Status = store.Duplicate
		case b.overwrite && at < len(b.disk):
			b.disk[at].item.Entry = slices.Clone(raw)
			result.Status = store.Accepted
		default:
			result.Status, result.Seq, result.Reason = store.Conflict, 0, "another entry is stored under this id"
		}
		return
	}
	result.Status, result.Seq = store.Accepted, b.add(result.ID, raw)
}

// halved is an entry with half of its note.
func halved(raw json.RawMessage) json.RawMessage {
	var entry journal.Entry
	var body journal.Note
	if json.Unmarshal(raw, &entry) != nil || json.Unmarshal(entry.Body, &body) != nil {
		return raw
	}
	body.Text = body.Text[:len(body.Text)/2]
	entry.Body = mustJSON(body)
	return mustJSON(entry)
}

// stored is everything under a number, readable or not.
func (b *memBackend) stored() []memItem { return slices.Concat(b.disk, b.memory, b.hidden) }

func (b *memBackend) add(id string, raw json.RawMessage) uint64 {
	b.seq++
	if b.half && len(raw) > 500 {
		raw = halved(raw)
	}
	m := memItem{id, store.Item{Seq: b.seq, Entry: slices.Clone(raw), BroughtBy: b.by}}
	switch {
	case b.earlyAck:
		b.memory = append(b.memory, m)
	case b.earlySeq && b.r.IntN(4) == 0:
		b.hidden = append(b.hidden, m)
	default:
		b.disk = append(b.disk, m)
	}
	return b.seq
}

// flush is what the next write does to what the last one left open.
func (b *memBackend) flush() {
	b.disk = slices.Concat(b.disk, b.memory, b.hidden)
	b.memory, b.hidden = nil, nil
	slices.SortStableFunc(b.disk, func(x, y memItem) int { return int(x.item.Seq) - int(y.item.Seq) })
}

func (b *memBackend) Head() (string, uint64) {
	var seq uint64
	for _, m := range b.all() {
		seq = max(seq, m.item.Seq)
	}
	return b.epoch, seq
}

func (b *memBackend) Page(after uint64, limit, maxBytes int) (store.Page, error) {
	page := store.Page{Next: after}
	size := 0
	for _, m := range b.all() {
		if m.item.Seq <= after {
			continue
		}
		if b.skipLargePage && len(m.item.Entry) > 500 {
			page.Next = m.item.Seq
			continue
		}
		if size += len(m.item.Entry); len(page.Items) > 0 && (size > maxBytes || len(page.Items) == limit) {
			page.More = true
			break
		}
		page.Items, page.Next = append(page.Items, m.item), m.item.Seq
	}
	return page, nil
}

func (b *memBackend) Get(id string) (store.Item, error) {
	for _, m := range b.stored() {
		if m.id == id {
			return m.item, nil
		}
	}
	return store.Item{}, problem.New(problem.NotFound, "", "there is no entry %q", id)
}

func (b *memBackend) Wanted(ids []string) ([]string, error) {
	known := map[string]bool{}
	for _, m := range b.stored() {
		known[m.id] = true
	}
	return slices.DeleteFunc(slices.Clone(ids), func(id string) bool { return known[id] }), nil
}

func (b *memBackend) Subscribe() (<-chan uint64, func()) { return nil, func() {} }

func (b *memBackend) All() iter.Seq2[store.Item, error] {
	return func(yield func(store.Item, error) bool) {
		for _, m := range b.all() {
			if !yield(m.item, nil) {
				return
			}
		}
	}
}

func (b *memBackend) kill(*rand.Rand) {
	b.memory = nil
	b.flush()
	b.seq = 0
	for _, m := range b.disk {
		b.seq = max(b.seq, m.item.Seq)
	}
}
func (b *memBackend) stop()     { b.flush() }
func (b *memBackend) start()    {}
func (b *memBackend) close()    {}
func (b *memBackend) snapshot() { b.copies = append(b.copies, slices.Clone(b.disk)) }

func (b *memBackend) restore() bool {
	if len(b.copies) == 0 {
		return false
	}
	b.disk, b.copies = b.copies[0], b.copies[1:]
	b.memory, b.hidden = nil, nil
	b.kill(nil)
	if !b.keepEpoch {
		b.newEpoch()
	}
	return true
}

var (
	_ backend = (*realBackend)(nil)
	_ backend = (*memBackend)(nil)
)
