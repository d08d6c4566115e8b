package exchange

import "packwright/internal/problem"

// Way is the direction of an entry, seen from here.
type Way string

// The two ways. The texts are part of the API.
const (
	Up   Way = "up"   // from here to the upstream
	Down Way = "down" // from the upstream to here
)

// HeldBack is an entry that one side will not take from the other. It stays where
// it is, and is tried again when one of the two programs is updated or the role
// of this server with the upstream changes.
type HeldBack struct {
	ID     string `json:"id"`
	Way    Way    `json:"way"`
	Status string `json:"status"` // conflict, refused, or a word of a newer program
	Reason string `json:"reason,omitempty"`
	Hint   string `json:"hint,omitempty"`
	SeenMS int64  `json:"seen_ms"` // unix ms
}

// Status is how an exchange stands.
type Status struct {
	Upstream      string         `json:"upstream"`        // URL; empty: there is none
	Role          string         `json:"role"`            // of this server there; empty: not known yet
	Reachable     *bool          `json:"reachable"`       // at the last try; null: not tried yet
	ToSend        uint64         `json:"to_send"`         // entries here that the upstream has not confirmed
	ToFetch       uint64         `json:"to_fetch"`        // entries there that are not known to be here
	Sent          uint64         `json:"sent"`            // entries new to the upstream, since the start
	Fetched       uint64         `json:"fetched"`         // entries new here, since the start
	LastMS        int64          `json:"last_ms"`         // unix ms, when both last held the same; 0: never
	NextMS        int64          `json:"next_ms"`         // unix ms of the next try after a failure; 0: none failed
	ClockOffMS    int64          `json:"clock_off_ms"`    // the upstream's clock minus ours
	Problem       *problem.Error `json:"problem"`         // why the last round did not end well; null: it did
	HeldBack      []HeldBack     `json:"held_back"`       // the first of those that one side will not take
	HeldBackTotal int            `json:"held_back_total"` //
}

// observed is what was seen since the start.
type observed struct {
	role       string
	reachable  *bool
	head       uint64 // of the upstream, as last told
	sent       uint64
	fetched    uint64
	nextMS     int64
	clockOffMS int64
	itself     bool // the upstream has the epoch of the journal here
	problem    *problem.Error
}

func (o *observed) reached() { o.reachable = new(true) }

func (x *Exchange) observe(f func(o *observed)) {
	x.mu.Lock()
	defer x.mu.Unlock()
	f(&x.seen)
}

// Status says how the exchange stands at this moment.
func (x *Exchange) Status() Status {
	_, head := x.journal.Head()
	x.mu.Lock()
	defer x.mu.Unlock()
	p, o := x.progress, x.seen
	s := Status{
		Upstream: p.Upstream, Role: o.role, Reachable: o.reachable,
		ToSend: behind(p.Sent.Seq, head), ToFetch: behind(p.Fetched.Seq, o.head), Sent: o.sent, Fetched: o.fetched,
		LastMS: p.LastMS, NextMS: o.nextMS, ClockOffMS: o.clockOffMS, Problem: o.problem,
		HeldBack: append([]HeldBack{}, p.HeldBack...), HeldBackTotal: p.HeldBackTotal,
	}
	if s.Problem == nil && o.itself {
		s.Problem = sameServer(giveAnother + " with --upstream")
	}
	return s
}

// sameServer is the problem of an upstream that holds the very journal that is here.
func sameServer(hint string) *problem.Error {
	return problem.New(problem.Conflict, hint, "the other server is this server itself, or a copy of it")
}

// unsent is how many entries here the upstream has not confirmed.
func (x *Exchange) unsent() uint64 {
	_, head := x.journal.Head()
	return behind(x.progress.Sent.Seq, head)
}

func behind(cursor, head uint64) uint64 { return max(head, cursor) - cursor }
