// Package exchange keeps the journal of this server and that of another one, its
// upstream, the same: it is the client's side of the sync protocol that phones
// speak, in both directions.
//
// Use Join once to get a token, then New and Run. Status says how far it is.
//
// # What is promised
//
//   - An entry counts as sent only after the upstream named its id with a verdict,
//     and as fetched only after the store here made it durable. An answer that is
//     not of the protocol's shape, such as a hall's sign-in page, confirms nothing.
//   - Every step may be cut off at any byte or moment and is then done again. Both
//     sides know an entry by its id, so that nothing is stored twice.
//   - One entry that a side will not take never holds up the others; it is kept
//     where it is and listed in Status.HeldBack.
//   - An entry that came from the upstream is not sent back to it, and one that
//     both sides hold gets no new line. So any number of servers in a chain, a
//     star or a ring falls silent once all hold the same.
//   - Where either side was put back to an older copy, everything held here is
//     offered again, whoever brought it, and everything there is read again.
//
// # What cannot be promised
//
//   - That an entry comes back which nobody holds any more, because both sides were
//     put back to older copies.
//   - That two servers agree about an id under which each holds other content: both
//     keep their own, and say so.
package exchange

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"sync"
	"time"

	"packwright/internal/problem"
	"packwright/internal/store"
)

// BroughtBy is who the store says brought the entries that came from the upstream.
const BroughtBy = "upstream"

// API is the version of the protocol spoken here; leastAPI is the oldest that the
// upstream may speak.
const (
	API      = 1
	leastAPI = 1
)

// Bounds of one request. They are within what a server takes (see its openapi.json).
const (
	batchEntries = 500
	batchBytes   = 512 << 10 // of entries; one alone may be half as large
	pageEntries  = 1000
)

// Journal is what an exchange needs of the store here.
type Journal interface {
	Append(ctx context.Context, raws []json.RawMessage, broughtBy string) ([]store.Result, error)
	Head() (epoch string, seq uint64)
	Page(after uint64, limit, maxBytes int) (store.Page, error)
	Subscribe() (heads <-chan uint64, cancel func())
}

// Options of New. The zero value is good for a server.
type Options struct {
	Version   string            // of this program: when it changes, what was held back is tried again
	Now       func() time.Time  // nil: time.Now
	Random    func() float64    // from 0 to below 1, for the jitter; nil: math/rand
	Log       *slog.Logger      // nil: silence
	Dial      Dial              // nil: by the names the system can look up
	Transport http.RoundTripper // nil: HTTPS that trusts what the link says
	Pace      Pace
}

// Pace says when a round begins and how long it is waited for an answer. A zero
// field has the usual value.
type Pace struct {
	Idle        time.Duration // between rounds when all is well; 1 min
	Backoff     time.Duration // after the first failure, doubled with each further one; 2 s
	BackoffMost time.Duration // 5 min
	Answer      time.Duration // for a whole answer; 60 s
	Pulse       time.Duration // the live stream is dead after this long without a byte; 70 s
}

func (p Pace) usual() Pace {
	return Pace{
		Idle:        cmp.Or(p.Idle, time.Minute),
		Backoff:     cmp.Or(p.Backoff, 2*time.Second),
		BackoffMost: cmp.Or(p.BackoffMost, 5*time.Minute),
		Answer:      cmp.Or(p.Answer, time.Minute),
		Pulse:       cmp.Or(p.Pulse, 70*time.Second), // servers send something every 20 s
	}
}

// Exchange is the exchange of one journal with one upstream. Status may be called
// at any time; Run, or else Round, by one goroutine.
type Exchange struct {
	journal Journal
	dir     string
	o       Options
	link    Link
	peer    *client
	met     bool      // the upstream was greeted, and nothing failed since
	hungry  bool      // there may be more to fetch in this round
	resets  int       // of the upstream, in this round
	unsaved bool      // progress was changed
	saved   time.Time // when it was written last

	mu       sync.Mutex // guards what Status shows
	progress progress
	seen     observed
}

// New prepares the exchange that link describes, from where it was left: dir is
// the folder of keys, where its progress is kept. It does not speak to anybody yet.
func New(journal Journal, link Link, dir string, o Options) (*Exchange, error) {
	o.Now = orElse(o.Now, time.Now)
	o.Random = orElse(o.Random, rand.Float64)
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	o.Pace = o.Pace.usual()
	x := &Exchange{journal: journal, dir: dir, o: o}
	if err := x.use(link); err != nil {
		return nil, err
	}
	x.progress = readProgress(dir, o.Log)
	if x.progress.Upstream != link.URL {
		x.progress = progress{Upstream: link.URL}
		x.startOver("")
	}
	return x, x.checkHere()
}

func orElse[T any](f, usual func() T) func() T {
	if f != nil {
		return f
	}
	return usual
}

// use has the exchange speak over a link from now on.
func (x *Exchange) use(link Link) error {
	transport := x.o.Transport
	if transport == nil {
		var err error
		if transport, err = link.transport(x.o.Dial); err != nil {
			return err
		}
	}
	x.link = link
	x.peer = &client{link: link, http: &http.Client{Transport: transport, CheckRedirect: noRedirect}, pace: x.o.Pace, now: x.o.Now}
	return nil
}

// checkHere starts over where the journal here is another one than the progress
// belongs to: made anew, mended, or put back to an older copy, also where it has
// grown again since.
func (x *Exchange) checkHere() error {
	p := x.progress
	epoch, _ := x.journal.Head()
	same := p.Here == epoch
	for _, known := range []position{p.Sent, p.Kept} {
		there, err := x.stands(known)
		if err != nil {
			return err
		}
		same = same && there
	}
	if !same {
		x.startOver(p.Epoch)
	}
	return nil
}

// stands says whether an entry still has its place in the journal here.
func (x *Exchange) stands(at position) (bool, error) {
	if at.ID == "" {
		return true, nil
	}
	page, err := x.journal.Page(at.Seq-1, 1, 1)
	return err == nil && len(page.Items) == 1 && idOf(page.Items[0].Entry) == at.ID, err
}

// startOver has everything held here offered, and everything there read again.
func (x *Exchange) startOver(upstreamEpoch string) {
	epoch, head := x.journal.Head()
	x.change(func(p *progress) {
		*p = progress{Upstream: p.Upstream, Peers: p.Peers, LastMS: p.LastMS,
			Here: epoch, OfferTo: head, Epoch: upstreamEpoch}
	})
}

// Round sends what the upstream lacks and fetches what is lacking here, by turns,
// until there is nothing more. Where one way is stuck, the other still goes on.
// Nothing is lost by an error; the next round goes on where this one stopped.
func (x *Exchange) Round(ctx context.Context) error {
	x.resets, x.hungry = 0, true
	if !x.met {
		if err := x.greet(ctx); err != nil {
			return x.failed(err)
		}
	}
	var stuckUp, stuckDown error
	for {
		up, down := stuckUp == nil && x.unsent() > 0, stuckDown == nil && x.hungry
		if !up && !down {
			break
		}
		if up {
			stuckUp = x.send(ctx)
		}
		if down && isAnswer(stuckUp) {
			stuckDown = x.fetch(ctx)
		}
		x.saveAfter(saveEvery)
		if !isAnswer(stuckUp) || !isAnswer(stuckDown) {
			break // nobody is there, or the fault is ours
		}
	}
	if err := cmp.Or(stuckUp, stuckDown); err != nil {
		return x.failed(err)
	}
	x.met = true
	x.mu.Lock()
	x.progress.LastMS = x.o.Now().UnixMilli()
	x.mu.Unlock()
	if x.unsaved {
		x.save()
	}
	x.saveAfter(saveIdle)
	x.observe(func(o *observed) { o.reached(); o.problem, o.nextMS = nil, 0 })
	return nil
}

// isAnswer says whether err is nil or the upstream's own word on a request: the
// other way is then worth a try.
func isAnswer(err error) bool {
	s, ok := errors.AsType[setback](err)
	return err == nil || ok && s.answered
}

// greet learns who answers, and whether the two can speak with each other.
func (x *Exchange) greet(ctx context.Context) error {
	hello, err := x.peer.greet(ctx)
	if err != nil {
		return err
	}
	x.observe(func(o *observed) {
		o.reached()
		o.role, o.clockOffMS = hello.role, hello.clockOffMS
	})
	peers := x.o.Version + " with " + hello.version + " as " + hello.role
	changed := x.progress.Peers != peers
	if changed && x.progress.HeldBackTotal > 0 {
		x.o.Log.Info("what was held back is tried again", "peers", peers)
		x.startOver(x.progress.Epoch)
	}
	if changed {
		x.change(func(p *progress) { p.Peers = peers })
	}
	return x.checkThere(ctx)
}

// checkThere fetches the last entry of the upstream that is known here once more:
// an upstream that was put back to an older copy unnoticed, and has grown again
// since, has another one in its place.
func (x *Exchange) checkThere(ctx context.Context) error {
	at := x.progress.Fetched
	if at.ID == "" {
		return nil
	}
	page, err := x.peer.page(ctx, x.progress.Epoch, at.Seq-1, 1)
	if err != nil || page.Reset {
		return err // fetch meets the reset again, and counts it
	}
	if len(page.Entries) != 1 || idOf(page.Entries[0].Entry) != at.ID {
		x.o.Log.Warn("the upstream has another history under the same epoch; all is offered again")
		x.startOver("")
	}
	return nil
}

// heard notes the epoch of an answer where none is known yet. Another one than is
// known is met again by fetch, which every round ends with.
func (x *Exchange) heard(epoch string) {
	if x.progress.Epoch == "" {
		x.change(func(p *progress) { p.Epoch = epoch })
	}
}

// failed notes why a round could not end well.
func (x *Exchange) failed(err error) error {
	x.met = false
	shown, ok := problem.As(err)
	if !ok {
		shown = problem.New("internal", "nothing was lost; the log says more", "the exchange failed on this side")
		x.o.Log.Error("exchange", "err", err)
	}
	if x.unsaved {
		x.save()
	}
	x.observe(func(o *observed) {
		if s, ok := errors.AsType[setback](err); ok {
			o.reachable = &s.answered
		}
		o.problem = shown
	})
	return err
}

func idOf(raw json.RawMessage) string {
	var entry struct {
		ID string `json:"id"`
	}
	_ = json.Unmarshal(raw, &entry) // "" for what is no entry
	return entry.ID
}
