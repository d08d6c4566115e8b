package store

import (
	"context"
	"encoding/json"
	"strings"
	"unicode/utf8"

	"github.com/gowebpki/jcs"

	"packwright/internal/journal"
	"packwright/internal/problem"
)

// maxEntryBytes is the largest entry that is kept, in canonical form, which can be
// longer than the form it came in: 1e20 becomes 100000000000000000000.
const maxEntryBytes = 4 * journal.MaxEntryBytes

// maxBroughtBy is the longest text that says who brought an entry, in
// characters: as long as a device id.
const maxBroughtBy = 64

// Status says what became of an entry. The texts are part of the API.
type Status string

// What can become of an entry.
const (
	Accepted  Status = "accepted"  // stored now, durably
	Duplicate Status = "duplicate" // the same entry was stored before
	Conflict  Status = "conflict"  // its id was used before with other content; the stored one stays
	Refused   Status = "refused"   // not an entry that can be kept
)

// Result is what became of one entry given to Append.
type Result struct {
	ID     string `json:"id"` // as far as it could be read
	Status Status `json:"status"`
	Seq    uint64 `json:"seq,omitempty"` // of accepted and duplicate
	Reason string `json:"reason,omitempty"`
	Hint   string `json:"hint,omitempty"`
}

// request is one call of Append on its way through the writer.
type request struct {
	entries   []json.RawMessage // canonical; nil where refused
	results   []Result          // refusals are filled in by the caller, the rest by the writer
	broughtBy string
	bytes     int
	stores    bool // something of it has to be written, or stands in the group
	err       error
	done      chan struct{}
}

// Append stores entries and says for each, in their order, what became of it;
// one bad entry never harms another. It returns after what it calls accepted is
// durable. broughtBy says who sent them, at most 64 characters. An error is about
// the whole: nothing of the call may then be taken for stored, all may be sent
// again. It is of kind NoSpace when the disk is full. After ctx is done the
// outcome is unknown.
func (s *Store) Append(ctx context.Context, raws []json.RawMessage, broughtBy string) ([]Result, error) {
	if utf8.RuneCountInString(broughtBy) > maxBroughtBy {
		return nil, problem.New(problem.TooLarge, "send the id of the phone", "the sender's name is longer than %d characters", maxBroughtBy)
	}
	r := &request{
		entries:   make([]json.RawMessage, len(raws)),
		results:   make([]Result, len(raws)),
		broughtBy: broughtBy,
		done:      make(chan struct{}),
	}
	for i, raw := range raws {
		r.entries[i], r.results[i] = canonical(raw)
		r.bytes += len(r.entries[i])
	}
	select {
	case s.requests <- r:
	case <-ctx.Done():
		return nil, ctx.Err()
	case <-s.quit:
		return nil, errClosed
	}
	select {
	case <-r.done:
	case <-ctx.Done():
		return nil, ctx.Err()
	case <-s.done:
		select {
		case <-r.done: // both happened
		default:
			return nil, errClosed
		}
	}
	if r.err != nil {
		return nil, r.err
	}
	return r.results, nil
}

// canonical checks an entry and brings it into canonical form; nil and a
// refusal if it cannot be kept.
func canonical(raw json.RawMessage) (json.RawMessage, Result) {
	e, err := journal.ParseEntry(raw)
	if err == nil {
		err = e.Check()
	}
	if err != nil {
		return nil, refusal(raw, err)
	}
	text, err := jcs.Transform(raw)
	if err == nil && len(text) > maxEntryBytes {
		err = problem.New(problem.TooLarge, "split it", "the entry is larger than %d KiB", maxEntryBytes>>10)
	}
	if err != nil {
		return nil, refusal(raw, err)
	}
	return text, Result{ID: e.ID}
}

func refusal(raw json.RawMessage, err error) Result {
	var e struct {
		ID string `json:"id"`
	}
	_ = json.Unmarshal(raw, &e) // the id is given as far as it can be read
	r := Result{ID: e.ID, Status: Refused, Reason: err.Error()}
	if p, ok := problem.As(err); ok {
		r.Hint = p.Hint
		if p.Field != "" && !strings.HasPrefix(p.Text, p.Field+":") { // a nested field is in the text already
			r.Reason = p.Field + ": " + p.Text
		}
	}
	return r
}
