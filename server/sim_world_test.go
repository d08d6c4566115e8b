package main

import (
	"bytes"
	"container/heap"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"testing/iotest"
	"time"
)

// The simulator runs the real handlers and the real store with model phones, in
// one goroutine and in virtual time, and draws everything that happens from one
// seed. The phones follow the rules of the web app (webapp/src/data), the network
// and the world do their worst, and at the end a checker compares what the phones
// were told with what is there (sim_check_test.go).

// world is one simulated run.
type world struct {
	t      testing.TB
	seed   uint64
	rand   *rand.Rand
	nowMS  int64 // true time, unix ms
	queue  eventQueue
	order  int
	server *simServer
	phones []*phone
	storm  storm
	log    opLog
	seen   map[string]int // how often each kind of trouble happened
}

// storm says how bad the world is: probabilities for one request, unless noted.
type storm struct {
	drop, loseAnswer, cutUpload, cutAnswer, twice, slow, portal float64
	killInPush                                                  float64
	poison                                                      float64 // of an entry
	phoneCrash                                                  float64 // of a request, while it is under way
}

const requestTimeout = 30 * time.Second

func newWorld(t testing.TB, seed uint64) *world {
	return &world{t: t, seed: seed, rand: rand.New(rand.NewPCG(seed, 0)), nowMS: 1764060000000, seen: map[string]int{}}
}

func (w *world) chance(p float64) bool { return p > 0 && w.rand.Float64() < p }

// between draws a duration.
func (w *world) between(low, high time.Duration) time.Duration {
	return low + time.Duration(w.rand.Int64N(int64(high-low)+1))
}

// after has f run when virtual time has passed.
func (w *world) after(d time.Duration, f func()) {
	w.order++
	heap.Push(&w.queue, event{atMS: w.nowMS + d.Milliseconds(), order: w.order, run: f})
}

// runUntil lets virtual time pass until done, or until the limit; it says which.
func (w *world) runUntil(limit time.Duration, done func() bool) bool {
	end := w.nowMS + limit.Milliseconds()
	for !done() {
		if len(w.queue) == 0 || w.queue[0].atMS > end {
			w.nowMS = end
			return false
		}
		e := heap.Pop(&w.queue).(event)
		w.nowMS = e.atMS
		e.run()
	}
	return true
}

type event struct {
	atMS  int64
	order int
	run   func()
}

type eventQueue []event

func (q eventQueue) Len() int { return len(q) }
func (q eventQueue) Less(i, j int) bool {
	return q[i].atMS < q[j].atMS || q[i].atMS == q[j].atMS && q[i].order < q[j].order
}
func (q eventQueue) Swap(i, j int) { q[i], q[j] = q[j], q[i] }
func (q *eventQueue) Push(x any)   { *q = append(*q, x.(event)) }
func (q *eventQueue) Pop() any {
	last := (*q)[len(*q)-1]
	*q = (*q)[:len(*q)-1]
	return last
}

// request is what a phone sends; answer is what comes back, if anything.
type (
	request struct {
		method, path string
		body         []byte
	}
	answer struct {
		status int // 0: no answer
		body   []byte
	}
)

// send carries a phone's request through the network.
func (w *world) send(p *phone, r request, back func(answer)) {
	to := w.server
	if p.at != nil {
		to = p.at
	}
	w.carry(to, p.offline, r, back)
}

// carry carries a request through the network. back is called exactly once.
func (w *world) carry(to *simServer, offline bool, r request, back func(answer)) {
	settled := false
	settle := func(a answer) {
		if !settled {
			settled = true
			back(a)
		}
	}
	happens := func(what string, probability float64) bool {
		if !w.chance(probability) {
			return false
		}
		w.seen[what]++
		return true
	}
	w.after(requestTimeout, func() { settle(answer{}) })
	there, home := w.between(time.Millisecond, 400*time.Millisecond), w.between(time.Millisecond, 400*time.Millisecond)
	deliver := func(d time.Duration, r request, took func(answer)) {
		w.after(d, func() { took(to.handle(r)) })
	}
	nothing := func(answer) {}
	switch {
	case offline:
		w.after(time.Second, func() { settle(answer{}) })
	case happens("request dropped", w.storm.drop):
	case happens("captive portal", w.storm.portal):
		w.after(there, func() { settle(answer{http.StatusOK, []byte("<html>please sign in</html>")}) })
	case r.body != nil && happens("upload cut", w.storm.cutUpload):
		cut := r
		cut.body = r.body[:w.rand.IntN(len(r.body))]
		w.after(there, func() { to.handleCut(cut); settle(answer{}) })
	case happens("answer lost", w.storm.loseAnswer):
		deliver(there, r, nothing)
	case r.method == "POST" && happens("server killed in a push", w.storm.killInPush):
		w.after(there, func() { to.handle(r); to.kill() })
	default:
		if happens("late delivery", w.storm.slow) {
			there = w.between(requestTimeout-time.Second, 4*requestTimeout)
		}
		if happens("delivered twice", w.storm.twice) {
			deliver(there+w.between(0, time.Minute), r, nothing)
		}
		deliver(there, r, func(a answer) {
			if len(a.body) > 0 && happens("answer cut", w.storm.cutAnswer) {
				a.body = a.body[:w.rand.IntN(len(a.body))]
			}
			w.after(home, func() { settle(a) })
		})
	}
}

// simServer is the server as the network sees it: up, or not.
type simServer struct {
	w       *world
	backend backend
	web     http.Handler
	up      bool

	offsetMS int64    // of its clock
	link     *simLink // to another server; nil: there is none
}

func newSimServer(w *world, b backend) *simServer {
	s := &simServer{w: w, backend: b, up: true}
	real := &server{store: b, app: &app{}, now: s.now,
		log: discardLog(), closing: make(chan struct{}), printer: make(chan struct{}, 1)}
	s.web = real.handler(doorHere)
	return s
}

func (s *simServer) now() time.Time { return time.UnixMilli(s.w.nowMS + s.offsetMS) }

func (s *simServer) handle(r request) answer {
	return s.serve(r, bytes.NewReader(r.body))
}

// handleCut is a request whose connection broke in the middle of the body.
func (s *simServer) handleCut(r request) {
	s.serve(r, io.MultiReader(bytes.NewReader(r.body), iotest.ErrReader(io.ErrUnexpectedEOF)))
}

func (s *simServer) serve(r request, body io.Reader) answer {
	if !s.up {
		return answer{}
	}
	req := httptest.NewRequest(r.method, "http://127.0.0.1:8080"+r.path, body)
	if r.body != nil {
		req.Header.Set("Content-Type", "application/json")
	}
	rec := httptest.NewRecorder()
	s.web.ServeHTTP(rec, req)
	if rec.Code >= http.StatusInternalServerError {
		s.w.log.fault("%s %s: %d %s", r.method, r.path, rec.Code, strings.TrimSpace(rec.Body.String()))
	}
	return answer{rec.Code, rec.Body.Bytes()}
}

// kill is kill -9; the server comes back after a while.
func (s *simServer) kill() {
	if !s.up {
		return
	}
	s.up = false
	s.link.die()
	s.backend.kill(s.w.rand)
	s.w.seen["server killed"]++
	s.w.after(s.w.between(100*time.Millisecond, 20*time.Second), s.start)
}

// restart is a clean stop and start.
func (s *simServer) restart() {
	if !s.up {
		return
	}
	s.up = false
	s.link.die()
	s.backend.stop()
	s.w.seen["server restarted"]++
	s.w.after(s.w.between(100*time.Millisecond, 20*time.Second), s.start)
}

// restore puts an older copy of the data folder in place.
func (s *simServer) restore() {
	if !s.up {
		return
	}
	s.link.die()
	defer s.link.start()
	if !s.backend.restore() {
		return
	}
	s.w.seen["older copy restored"]++
	s.w.log.restores++
}

func (s *simServer) start() {
	s.backend.start()
	s.up = true
	s.link.start()
}
