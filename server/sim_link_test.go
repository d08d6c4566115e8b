package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"packwright/internal/exchange"
)

// simLink is a server's exchange with its upstream: the real one, over the
// simulated network. It lives and dies with its server; its folder stays.
type simLink struct {
	w        *world
	from, to *simServer
	dir      string
	x        *exchange.Exchange

	life    int // counts deaths: what began in an earlier life is void
	running bool
	resume  func() (request, bool)
	stop    func()
	yield   func(request) bool
	reply   answer
}

func newSimLink(w *world, from, to *simServer, dir string) {
	l := &simLink{w: w, from: from, to: to, dir: dir}
	from.link = l
	l.start()
}

// RoundTrip hands a request to the network and waits in virtual time.
func (l *simLink) RoundTrip(r *http.Request) (*http.Response, error) {
	var body []byte
	if r.Body != nil && r.Method == http.MethodPost {
		var err error
		if body, err = io.ReadAll(r.Body); err != nil {
			return nil, err
		}
	}
	if !l.yield(request{r.Method, r.URL.RequestURI(), body}) {
		return nil, errKilled
	}
	if l.reply.status == 0 {
		return nil, errLater
	}
	return &http.Response{StatusCode: l.reply.status, Header: http.Header{}, Body: io.NopCloser(bytes.NewReader(l.reply.body)), Request: r}, nil
}

// die ends the exchange as kill -9 does: what it had not written is gone. Now and
// then its file is, too, or an older one is found there.
func (l *simLink) die() {
	if l == nil || l.x == nil {
		return
	}
	path := filepath.Join(l.dir, "upstream-progress.json")
	before, err := os.ReadFile(path)
	l.life++
	if l.running {
		l.stop()
	}
	l.running, l.x = false, nil
	switch {
	case err != nil:
		return
	case l.w.chance(0.2):
		l.w.seen["progress of an exchange lost"]++
		err = os.Remove(path)
	case l.w.chance(0.2):
		l.w.seen["older progress of an exchange"]++
		if older, olderErr := os.ReadFile(path + ".older"); olderErr == nil {
			before = older
		}
		err = os.WriteFile(path, before, 0o600)
	default:
		err = errors.Join(os.WriteFile(path, before, 0o600), os.WriteFile(path+".older", before, 0o600))
	}
	if err != nil {
		l.w.t.Fatal(err)
	}
}

func (l *simLink) start() {
	if l == nil {
		return
	}
	var err error
	l.x, err = exchange.New(l.from.backend, exchange.Link{URL: "http://127.0.0.1:8080"}, l.dir, exchange.Options{
		Transport: l, Now: l.from.now, Random: l.w.rand.Float64})
	if err != nil {
		l.w.t.Fatal(err)
	}
	l.later(5 * time.Second)
}

// later has the next round begin within a time.
func (l *simLink) later(most time.Duration) {
	life := l.life
	l.w.after(l.w.between(0, most), func() {
		if l.life == life {
			l.round()
		}
	})
}

func (l *simLink) round() {
	l.running = true
	var outcome error
	l.resume, l.stop = iter.Pull(func(yield func(request) bool) {
		l.yield = yield
		outcome = l.x.Round(context.Background())
	})
	l.step(&outcome)
}

// step lets the round go on to its next request, or ends it.
func (l *simLink) step(outcome *error) {
	r, more := l.resume()
	if !more {
		l.running = false
		if *outcome != nil {
			l.w.seen["exchange broke off"]++
		}
		l.later(time.Minute)
		return
	}
	life := l.life
	if r.method == http.MethodPost {
		l.w.seen["posts of exchanges"]++
	}
	l.w.carry(l.to, false, r, func(a answer) {
		if l.life == life {
			l.reply = a
			l.step(outcome)
		}
	})
}

// shapes are ways to put servers together: for each server its upstream, or -1.
var shapes = map[string][]int{
	"pair":           {1, -1},
	"chain of three": {1, 2, -1},
	"star of four":   {3, 3, 3, -1},
	"ring of two":    {1, 0},
	"ring of three":  {1, 2, 0},
}

// TestExchange plays seeded runs of several servers that exchange with each other,
// and phones that send to any of them, on the real handlers and the real exchange.
// The world is as bad as in TestSync, and servers' clocks are wrong as well. Afterwards
// every server and every phone must hold the same, nothing acknowledged may be
// missing, and no server may send anything any more. To see one run again:
//
//	go test ./server -run TestExchange$ -sim.first SEED -sim.seeds 1
func TestExchange(t *testing.T) {
	seeds := (*simSeeds + 4) / 5 // several servers take several times as long
	if testing.Short() {
		seeds = min(seeds, 10)
	}
	total := playLanes(t, seeds, playLinks)
	if seeds < 30 {
		return
	}
	for _, what := range append(slices.Collect(maps.Keys(shapes)), "exchange broke off", "answer cut", "upload cut", "captive portal",
		"server killed", "server killed in a push", "server restarted", "older copy restored", "phone moved", "phone wiped",
		"progress of an exchange lost", "older progress of an exchange") {
		if total[what] == 0 {
			t.Errorf("in %d runs there was no: %s", seeds, what)
		}
	}
}

func playLinks(t *testing.T, seed uint64, seen map[string]int) {
	w := newWorld(t, seed)
	w.log.wiped = map[string]bool{}
	names := slices.Sorted(maps.Keys(shapes))
	name := names[w.rand.IntN(len(names))]
	w.seen[name]++
	servers := w.build(shapes[name])
	found := w.playServers(servers)
	for _, s := range servers {
		s.link.die()
		s.backend.close()
	}
	for what, n := range w.seen {
		seen[what] += n
	}
	if len(found) > 0 {
		t.Errorf("seed %d, %s: %s", seed, name, slices.Compact(found)[:min(len(found), 10)])
	}
}

// build makes servers of a shape; one in ten on the real store, the others in memory.
func (w *world) build(upstreams []int) []*simServer {
	root := w.t.TempDir()
	real := w.chance(0.1)
	clocks := wrongClocks(w.nowMS)
	var servers []*simServer
	for i := range upstreams {
		var b backend
		if dir := filepath.Join(root, fmt.Sprint("data", i)); real {
			if err := os.Mkdir(dir, 0o700); err != nil {
				w.t.Fatal(err)
			}
			b = newRealBackend(w.t, dir)
		} else {
			b = newMemBackend(faults{}, w.rand)
		}
		s := newSimServer(w, b)
		s.offsetMS = clocks[w.rand.IntN(len(clocks))]
		servers = append(servers, s)
	}
	for i, upstream := range upstreams {
		if upstream < 0 {
			continue
		}
		dir := filepath.Join(root, fmt.Sprint("keys", i))
		if err := os.Mkdir(dir, 0o700); err != nil {
			w.t.Fatal(err)
		}
		newSimLink(w, servers[i], servers[upstream], dir)
	}
	return servers
}

// playServers lives through twenty bad minutes, heals everything, and gives what
// is wrong then.
func (w *world) playServers(servers []*simServer) []string {
	bad := func(most float64) float64 { return w.rand.Float64() * most }
	w.storm = storm{drop: bad(0.1), loseAnswer: bad(0.2), cutUpload: bad(0.1), cutAnswer: bad(0.1), twice: bad(0.1), slow: bad(0.1),
		portal: bad(0.05), killInPush: bad(0.02), poison: bad(0.05), phoneCrash: bad(0.02)}
	clocks := wrongClocks(w.nowMS)
	anyServer := func() *simServer { return servers[w.rand.IntN(len(servers))] }
	for i := range 2 + w.rand.IntN(3) {
		name := string(rune('a' + i))
		p := &phone{w: w, name: name, disk: newPhoneDisk("phone-" + name), offsetMS: clocks[w.rand.IntN(len(clocks))], at: anyServer()}
		w.phones = append(w.phones, p)
		w.after(w.between(0, time.Minute), p.sync)
	}
	const span = 20 * time.Minute
	for range 3 {
		w.after(w.between(0, span), func() {
			w.seen["phone moved"]++
			w.phones[w.rand.IntN(len(w.phones))].at = anyServer()
		})
	}
	for _, s := range servers {
		w.server = s
		w.schedule(span)
	}
	w.runUntil(span, func() bool { return false })

	w.storm = storm{}
	for _, p := range w.phones {
		p.offline = false
		p.sync()
	}
	same := func() bool { return w.allSame(servers) }
	if !w.runUntil(3*time.Hour, same) {
		return []string{"I5: the servers and phones do not hold the same after three quiet hours: " + w.heads(servers)}
	}
	posts, ended := w.seen["posts of exchanges"], w.heads(servers)
	w.runUntil(5*time.Minute, func() bool { return false })
	quiet := w.seen["posts of exchanges"]
	w.runUntil(30*time.Minute, func() bool { return false })
	var found []string
	if w.seen["posts of exchanges"] != quiet || w.heads(servers) != ended {
		found = append(found, fmt.Sprintf("not silent: %d posts, then %d, then %d; %s, then %s",
			posts, quiet, w.seen["posts of exchanges"], ended, w.heads(servers)))
	}
	for _, s := range servers {
		w.server = s
		found = append(found, w.check(w.readAll())...)
	}
	return found
}

// allSame says whether all servers hold the same and every phone all of it.
func (w *world) allSame(servers []*simServer) bool {
	for _, s := range servers {
		if !s.up {
			return false
		}
	}
	for _, p := range w.phones {
		epoch, seq := p.at.backend.Head()
		if len(p.disk.waiting()) > 0 || p.disk.progress != (progress{epoch: epoch, cursor: seq}) {
			return false
		}
	}
	_, first := servers[0].backend.Head()
	for _, s := range servers[1:] {
		if _, seq := s.backend.Head(); seq != first {
			return false
		}
	}
	ids := idsOf(servers[0])
	return !slices.ContainsFunc(servers[1:], func(s *simServer) bool { return !maps.Equal(ids, idsOf(s)) })
}

func idsOf(s *simServer) map[string]bool {
	ids := map[string]bool{}
	for item, err := range s.backend.All() {
		if err != nil {
			s.w.t.Fatal(err)
		}
		ids[idOf(item.Entry)] = true
	}
	return ids
}

func (w *world) heads(servers []*simServer) string {
	text := ""
	for _, s := range servers {
		epoch, seq := s.backend.Head()
		text += fmt.Sprintf(" %.8s/%d", epoch, seq)
	}
	return text
}
