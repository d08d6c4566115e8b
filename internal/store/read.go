package store

import (
	"encoding/json"
	"errors"
	"fmt"

	"github.com/dgraph-io/badger/v4"

	"packwright/internal/problem"
)

// Item is a stored entry.
type Item struct {
	Seq        uint64          `json:"seq"`   // counts from 1 without gaps
	Entry      json.RawMessage `json:"entry"` // canonical, RFC 8785
	BroughtBy  string          `json:"-"`     // who sent it
	ReceivedMS int64           `json:"-"`     // unix ms by this computer's clock
}

// Page is a run of stored entries, oldest first.
type Page struct {
	Items []Item
	Next  uint64 // cursor for the next page: Seq of the last item, or the cursor asked with
	More  bool   // there is more after Next
}

// Page gives entries after a cursor: at most limit of them (at least one), and
// at most maxBytes of entry text, but always one entry however large it is. A
// cursor at or beyond the head gives an empty page.
func (s *Store) Page(after uint64, limit, maxBytes int) (Page, error) {
	var p Page
	err := s.read(func(x *index) error {
		head := s.head.Load()
		p = Page{Items: []Item{}, Next: after}
		if after >= head {
			return nil
		}
		size := 0
		err := x.scan(after, head, func(l line) (bool, error) {
			size += len(l.entry)
			if len(p.Items) > 0 && (size > maxBytes || len(p.Items) >= limit) {
				return false, nil
			}
			item, err := l.item()
			p.Items = append(p.Items, item)
			p.Next = item.Seq
			return true, err
		})
		p.More = p.Next < head
		return err
	})
	return p, err
}

// Get gives the entry with an id; an error of kind NotFound if there is none.
func (s *Store) Get(id string) (Item, error) {
	var item Item
	found := false
	err := s.read(func(x *index) error {
		return x.db.View(func(txn *badger.Txn) error {
			seq, err := x.find(txn, id)
			found = seq != 0 && seq <= s.head.Load()
			if err != nil || !found {
				return err
			}
			return x.line(txn, seq, func(l line) (err error) {
				item, err = l.item()
				return err
			})
		})
	})
	if err == nil && !found {
		err = problem.New(problem.NotFound, "", "there is no entry %q", id)
	}
	return item, err
}

// Wanted gives those of the ids that are not stored, in the order asked, each once.
func (s *Store) Wanted(ids []string) ([]string, error) {
	var wanted []string
	err := s.read(func(x *index) error {
		wanted = []string{}
		asked := make(map[string]bool, len(ids))
		return x.db.View(func(txn *badger.Txn) error {
			for _, id := range ids {
				if asked[id] {
					continue
				}
				asked[id] = true
				seq, err := x.find(txn, id)
				if err != nil {
					return err
				}
				if seq == 0 {
					wanted = append(wanted, id)
				}
			}
			return nil
		})
	})
	return wanted, err
}

// read calls f with the index. If the index turns out bad, it is made again in
// memory from the journal and f is called once more.
func (s *Store) read(f func(x *index) error) error {
	x, err := s.try(f)
	if err == nil || errors.Is(err, errClosed) {
		return err
	}
	s.o.Log.Warn("the index moves into memory", "reason", err)
	if err := s.reindex(x, 0, 0); err != nil {
		return fmt.Errorf("reading the index: %w", err)
	}
	_, err = s.try(f)
	return err
}

func (s *Store) try(f func(x *index) error) (*index, error) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if s.index == nil {
		return nil, errClosed
	}
	return s.index, f(s.index)
}
