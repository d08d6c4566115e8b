package exchange

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"strings"
	"time"

	"packwright/internal/problem"
)

// Run exchanges until ctx ends: at once, when an entry is stored here, when the
// upstream's live stream tells of one there, and now and then. After a failure it
// waits, longer each time, with jitter, so that many servers do not come back at
// one moment.
func (x *Exchange) Run(ctx context.Context) {
	heads, cancel := x.journal.Subscribe()
	defer cancel()
	told := make(chan struct{}, 1) // the upstream has news, or has gone
	live := stream{stop: func() {}}
	defer func() { live.stop() }()
	failures := 0
	said := "" // what kind of trouble the log was told of; empty: none
	for {
		err := x.Round(ctx)
		if ctx.Err() != nil {
			return
		}
		said = x.tellOnce(said, failures, err)
		wait := x.o.Pace.Idle
		if err != nil {
			live.stop()
			live = stream{stop: func() {}}
			wait = x.backoff(failures, err)
			failures++
			x.o.Log.Debug("exchange", "upstream", x.link.URL, "err", err, "again_in", wait)
		} else {
			failures = 0
			if live.ended() {
				live = x.listen(ctx, told)
			}
		}
		if !x.pause(ctx, wait, err != nil, heads, told) {
			return
		}
		if err != nil {
			x.rejoin()
		}
	}
}

// mayBlink is how many rounds may fail for want of an answer before the log tells: a
// network that comes and goes is nothing to read about.
const mayBlink = 3

// tellOnce logs in plain words that the exchange stands still, once for each kind of
// trouble, and that it goes on again. failures are those before this round.
func (x *Exchange) tellOnce(said string, failures int, err error) string {
	if err == nil {
		if said != "" {
			x.o.Log.Info("the exchange with " + x.link.URL + " goes on")
		}
		return ""
	}
	shown, ok := problem.As(err)
	if !ok || string(shown.Kind) == said {
		return said // failed has logged what is no problem of the other side
	}
	if s, ok := errors.AsType[setback](err); ok && !s.answered && failures < mayBlink {
		return said
	}
	x.o.Log.Warn("the exchange with "+x.link.URL+" stands still: "+shown.Text+"; nothing is lost", "do", shown.Hint)
	return string(shown.Kind)
}

// backoff is how long to wait after a failure.
func (x *Exchange) backoff(failures int, err error) time.Duration {
	wait := x.o.Pace.BackoffMost
	if failures < 16 {
		wait = min(x.o.Pace.Backoff<<failures, wait)
	}
	wait = time.Duration(float64(wait) * (0.5 + x.o.Random()/2))
	if s, ok := errors.AsType[setback](err); ok {
		wait = max(wait, min(s.wait, max(x.o.Pace.BackoffMost, retryMost)))
	}
	next := x.o.Now().Add(wait).UnixMilli()
	x.observe(func(o *observed) { o.nextMS = next })
	return wait
}

// retryMost bounds how long an upstream can have this server wait.
const retryMost = 15 * time.Minute

// pause waits for the next round's time; it gives false when ctx has ended. After
// a failure news is no reason to hurry: what it was about is still there.
func (x *Exchange) pause(ctx context.Context, wait time.Duration, failed bool, heads <-chan uint64, told <-chan struct{}) bool {
	timer := time.NewTimer(wait)
	defer timer.Stop()
	for {
		select {
		case <-ctx.Done():
			return false
		case <-timer.C:
			return true
		case _, open := <-heads:
			if !open {
				heads = nil // the store was closed; ctx ends soon
			}
			if !failed && x.unsent() > 0 {
				return true
			}
		case <-told:
			if !failed {
				return true
			}
		}
	}
}

// rejoin takes a token that a new join has put into the folder of keys meanwhile.
func (x *Exchange) rejoin() {
	link, err := ReadLink(x.dir)
	if err != nil || link == x.link || link.URL != x.link.URL {
		return
	}
	if err := x.use(link); err != nil {
		x.o.Log.Warn("the new token cannot be used", "err", err)
	}
}

// stream is a live stream of the upstream.
type stream struct {
	stop func()
	over <-chan struct{} // closed at its end; nil: there never was one
}

func (s stream) ended() bool {
	if s.over == nil {
		return true
	}
	select {
	case <-s.over:
		return true
	default:
		return false
	}
}

// listen follows the upstream's live stream and tells of what is news here, and a
// little after it, of the end of a stream that had begun. Where there is none,
// rounds on time do.
func (x *Exchange) listen(ctx context.Context, told chan<- struct{}) stream {
	ctx, cancel := context.WithCancel(ctx)
	over := make(chan struct{})
	peer := x.peer
	go func() {
		defer close(over)
		defer cancel()
		if began := peer.follow(ctx, x.o.Pace.Pulse, func(epoch string, head uint64) {
			if x.isNews(epoch, head) {
				tell(told)
			}
		}); began {
			select {
			case <-ctx.Done():
			case <-time.After(x.o.Pace.Backoff):
				tell(told)
			}
		}
	}()
	return stream{stop: cancel, over: over}
}

// isNews says whether the upstream is elsewhere than where the last round left it.
func (x *Exchange) isNews(epoch string, head uint64) bool {
	x.mu.Lock()
	defer x.mu.Unlock()
	x.seen.head = head
	return epoch != x.progress.Epoch || head != x.progress.Fetched.Seq
}

func tell(c chan<- struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

// follow reads the live stream until it ends or falls silent, and says whether it began.
func (c *client) follow(ctx context.Context, pulse time.Duration, news func(epoch string, head uint64)) (began bool) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	silence := time.AfterFunc(pulse, cancel)
	defer silence.Stop()
	req, err := c.request(ctx, http.MethodGet, "/api/v1/live", nil, nil)
	if err != nil {
		return false
	}
	resp, err := c.http.Do(req)
	if err != nil {
		return false
	}
	defer resp.Body.Close()
	if resp.StatusCode != http.StatusOK || !strings.HasPrefix(resp.Header.Get("Content-Type"), "text/event-stream") {
		return false
	}
	lines := bufio.NewScanner(resp.Body) // a line over 64 KiB is none of ours and ends it
	for lines.Scan() {
		silence.Reset(pulse)
		data, isData := strings.CutPrefix(lines.Text(), "data: ")
		var event struct {
			Epoch string `json:"epoch"`
			Head  uint64 `json:"head"`
		}
		if isData && json.Unmarshal([]byte(data), &event) == nil && event.Epoch != "" {
			began = true
			news(event.Epoch, event.Head)
		}
	}
	return began
}
