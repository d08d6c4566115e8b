package store

import (
	"bytes"
	"encoding/json"

	"github.com/dgraph-io/badger/v4"
)

// groupBytes is where a group of waiting requests is no longer added to.
const groupBytes = 1 << 20

// write is the one writer. It takes whatever waits as one group, so that many
// requests share one fsync.
func (s *Store) write() {
	defer close(s.done)
	for {
		select {
		case r := <-s.requests:
			s.commit(s.waiting(r))
		case <-s.quit:
			return // those who still wait are told by s.done
		}
	}
}

// waiting gives the request and those that wait behind it, up to a size.
func (s *Store) waiting(r *request) []*request {
	group, size := []*request{r}, r.bytes
	for size < groupBytes {
		select {
		case r := <-s.requests:
			group = append(group, r)
			size += r.bytes
		default:
			return group
		}
	}
	return group
}

// commit stores a group and answers its requests.
func (s *Store) commit(waiting []*request) {
	g, err := s.decide(waiting)
	undecided := err != nil
	if err == nil && len(g.lines) > 0 {
		err = s.store(g)
	}
	if err != nil {
		s.o.Log.Error("entries could not be stored", "err", err)
		err = folderProblem(s.dir, err)
	}
	for _, r := range waiting {
		if undecided || r.stores {
			r.err = err
		}
		if r.err == nil {
			s.tellConflicts(r)
		}
		close(r.done)
	}
	if err == nil && len(g.lines) > 0 {
		s.listeners.tell(s.head.Load())
	}
}

// group is what waiting requests come to.
type group struct {
	nowMS   int64
	seq     uint64            // of the last line
	sum     digest            // of the last line
	buf     []byte            // the lines for the journal
	lines   []indexed         // the same lines for the index
	entries []json.RawMessage // of the lines
	place   map[string]int    // id → place in lines
}

// decide fills in the results as they will be once the group is stored.
func (s *Store) decide(waiting []*request) (*group, error) {
	if s.head.Load() != s.journal.seq { // the index failed after the last group
		if err := s.reindex(nil, s.journal.seq, s.journal.end); err != nil {
			return nil, err
		}
	}
	var g *group
	err := s.read(func(x *index) error {
		g = &group{
			nowMS: s.o.Now().UnixMilli(),
			seq:   s.journal.seq,
			sum:   s.journal.sum,
			place: map[string]int{},
		}
		return x.db.View(func(txn *badger.Txn) error {
			for _, r := range waiting {
				if err := g.take(x, txn, r); err != nil {
					return err
				}
			}
			return nil
		})
	})
	return g, err
}

// take decides about the entries of one request.
func (g *group) take(x *index, txn *badger.Txn, r *request) error {
	r.stores = false
	for i, entry := range r.entries {
		if entry == nil {
			continue // refused
		}
		id := r.results[i].ID
		if at, ok := g.place[id]; ok {
			r.stores = true
			r.results[i] = known(id, g.lines[at].seq, bytes.Equal(g.entries[at], entry))
			continue
		}
		seq, err := x.find(txn, id)
		if err != nil {
			return err
		}
		if seq == 0 {
			r.stores = true
			r.results[i] = g.add(id, r.broughtBy, entry)
			continue
		}
		if err := x.line(txn, seq, func(l line) error {
			r.results[i] = known(id, seq, bytes.Equal(l.entry, entry))
			return nil
		}); err != nil {
			return err
		}
	}
	return nil
}

// add gives an entry the next place in the journal.
func (g *group) add(id, broughtBy string, entry json.RawMessage) Result {
	from := len(g.buf)
	g.seq++
	g.buf, g.sum = appendLine(g.buf, g.seq, g.sum, g.nowMS, broughtBy, entry)
	g.place[id] = len(g.lines)
	g.lines = append(g.lines, indexed{id, g.seq, g.buf[from : len(g.buf)-1]})
	g.entries = append(g.entries, entry)
	return Result{ID: id, Status: Accepted, Seq: g.seq}
}

// tellConflicts says in the log which ids came again with other content: that is
// a fault of a phone, or somebody's attempt to rewrite what is stored.
func (s *Store) tellConflicts(r *request) {
	for _, result := range r.results {
		if result.Status == Conflict {
			s.o.Log.Warn("an id came again with other content; the stored entry stays", "id", result.ID, "brought by", r.broughtBy)
		}
	}
}

func known(id string, seq uint64, same bool) Result {
	if same {
		return Result{ID: id, Status: Duplicate, Seq: seq}
	}
	return Result{
		ID: id, Status: Conflict,
		Reason: "another entry is stored under this id",
		Hint:   "record it again as a new entry",
	}
}

// store makes a group durable, then readable. Without an error it is durable.
func (s *Store) store(g *group) error {
	if err := s.journal.append(g.buf, g.seq, g.sum, s.o.at); err != nil {
		return err
	}
	// From here on the entries are stored, whatever happens to the index.
	err := s.o.at("journal synced")
	if err == nil {
		err = s.show(g)
	}
	if err != nil {
		s.o.Log.Warn("the index moves into memory", "reason", err)
		if err := s.reindex(nil, g.seq, s.journal.end); err != nil {
			s.o.Log.Error("there is no index", "err", err) // tried again with the next group
		}
	}
	s.o.at("indexed")
	if err := s.mark.write(s.position()); err != nil {
		s.o.Log.Warn("journal.mark could not be written", "err", err)
	}
	s.o.at("marked")
	return nil
}

// show puts a durable group into the index and moves the head.
func (s *Store) show(g *group) error {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if !s.index.memory && s.crowded(0) {
		return errCrowded
	}
	if err := s.index.add(g.lines); err != nil {
		return err
	}
	s.end.Store(s.journal.end)
	s.head.Store(g.seq)
	return nil
}
