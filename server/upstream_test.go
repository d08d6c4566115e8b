package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"net/http"
	"net/http/httptest"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"packwright/internal/exchange"
	"packwright/internal/store"
)

// node is a server that answers on loopback and may exchange with another one.
type node struct {
	*server
	url  string
	keys string

	calls    atomic.Int64 // requests it got, without live streams
	mu       sync.Mutex
	verdicts map[store.Status]int // it gave on pushed entries
}

func newNode(t *testing.T) *node {
	t.Helper()
	s, _ := openTest(t)
	s.log = discardLog()
	n := &node{server: s, keys: t.TempDir(), verdicts: map[store.Status]int{}}
	inner := s.handler(doorHere)
	web := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/api/v1/live" {
			inner.ServeHTTP(w, r)
			return
		}
		n.calls.Add(1)
		if r.Method != http.MethodPost || r.URL.Path != "/api/v1/entries" {
			inner.ServeHTTP(w, r)
			return
		}
		copied := httptest.NewRecorder()
		inner.ServeHTTP(copied, r)
		n.count(copied.Body.Bytes())
		maps.Copy(w.Header(), copied.Header())
		w.WriteHeader(copied.Code)
		_, _ = w.Write(copied.Body.Bytes()) // a client that has gone is the test's own doing
	}))
	t.Cleanup(web.Close)
	n.url = web.URL
	return n
}

func (n *node) count(body []byte) {
	var answer pushAnswer
	if json.Unmarshal(body, &answer) != nil {
		return
	}
	n.mu.Lock()
	defer n.mu.Unlock()
	for _, r := range answer.Results {
		n.verdicts[r.Status]++
	}
}

// quick is a pace for tests; idle rounds come so late that silence can be seen.
var quick = exchange.Pace{Idle: time.Hour, Backoff: 10 * time.Millisecond, BackoffMost: 100 * time.Millisecond, Answer: 5 * time.Second}

// newExchange is a node's exchange with an upstream, not running.
func (n *node) newExchange(t *testing.T, link exchange.Link, o exchange.Options) *exchange.Exchange {
	t.Helper()
	if o.Pace == (exchange.Pace{}) {
		o.Pace = quick
	}
	x, err := exchange.New(n.store, link, n.keys, o)
	if err != nil {
		t.Fatal(err)
	}
	n.upstream = x
	return x
}

// follow has a node exchange with an upstream until the test ends.
func (n *node) follow(t *testing.T, url string) {
	t.Helper()
	x := n.newExchange(t, exchange.Link{URL: url}, exchange.Options{})
	var running sync.WaitGroup
	running.Go(func() { x.Run(t.Context()) })
	t.Cleanup(running.Wait) // the context of a test ends before
}

func (n *node) send(t *testing.T, body []byte) {
	t.Helper()
	resp, err := http.Post(n.url+"/api/v1/entries", "application/json", bytes.NewReader(body))
	if err != nil {
		t.Error(err)
		return
	}
	defer resp.Body.Close()
	if content, err := io.ReadAll(resp.Body); err != nil || resp.StatusCode != http.StatusOK {
		t.Errorf("push: %d %s %v", resp.StatusCode, content, err)
	}
}

// held is everything a node holds, by id. An entry that is there twice fails the test.
func (n *node) held(t *testing.T) map[string]string {
	t.Helper()
	texts := map[string]string{}
	for item, err := range n.store.All() {
		if err != nil {
			t.Fatal(err)
		}
		id := idOf(item.Entry)
		if _, twice := texts[id]; twice {
			t.Errorf("%s has two lines", id)
		}
		texts[id] = string(item.Entry)
	}
	return texts
}

// awaitSame waits until all nodes hold the same number of entries.
func awaitSame(t *testing.T, nodes []*node, entries int) {
	t.Helper()
	deadline := time.Now().Add(20 * time.Second)
	for _, n := range nodes {
		for head(t, n.server) < uint64(entries) {
			if time.Now().After(deadline) {
				t.Fatalf("a server has %d of %d entries: %+v", head(t, n.server), entries, n.upstream.Status())
			}
			time.Sleep(5 * time.Millisecond)
		}
	}
	first := nodes[0].held(t)
	if len(first) != entries {
		t.Errorf("%d entries, want %d", len(first), entries)
	}
	for _, n := range nodes[1:] {
		if !maps.Equal(first, n.held(t)) {
			t.Error("two servers hold different entries")
		}
	}
}

// awaitSilence waits until no server is asked anything for a while, and gives how
// many requests there were until then.
func awaitSilence(t *testing.T, nodes []*node) (calls int64) {
	t.Helper()
	sum := func() (n int64) {
		for _, node := range nodes {
			n += node.calls.Load()
		}
		return n
	}
	for deadline := time.Now().Add(10 * time.Second); ; {
		before := sum()
		time.Sleep(300 * time.Millisecond)
		if after := sum(); after == before {
			return after
		}
		if time.Now().After(deadline) {
			t.Fatal("the servers do not fall silent")
		}
	}
}

// TestExchangeShapes lets servers in a chain, a star and a ring exchange over
// loopback while phones send to all of them. They end with the same entries, one
// line each, and fall silent. Only in a ring does an entry come back to where it
// was, once, as a duplicate.
func TestExchangeShapes(t *testing.T) {
	for _, shape := range slices.Sorted(maps.Keys(shapes)) {
		t.Run(shape, func(t *testing.T) {
			t.Parallel()
			upstreams := shapes[shape]
			var nodes []*node
			for range upstreams {
				nodes = append(nodes, newNode(t))
			}
			for i, n := range nodes {
				n.send(t, push(note(1000+i, "there before"))) // and offered at first contact
			}
			rings := true
			for i, upstream := range upstreams {
				if upstream < 0 {
					rings = false
					continue
				}
				nodes[i].follow(t, nodes[upstream].url)
			}
			const phones, each = 4, 10
			var sending sync.WaitGroup
			for phone := range phones {
				sending.Go(func() {
					for i := range each {
						nodes[(phone+i)%len(nodes)].send(t, push(note(100*phone+i, fmt.Sprintf("phone %d, note %d", phone, i))))
					}
				})
			}
			sending.Wait()
			all := phones*each + len(nodes)
			awaitSame(t, nodes, all)
			before := awaitSilence(t, nodes)

			// One entry more makes a bounded stir.
			last := nodes[len(nodes)-1]
			last.send(t, push(note(5000, "one more")))
			awaitSame(t, nodes, all+1)
			stir := awaitSilence(t, nodes) - before - 1
			if most := int64(3 * len(nodes)); stir > most {
				t.Errorf("one entry cost %d requests, want at most %d", stir, most)
			}
			duplicates := 0
			for _, n := range nodes {
				duplicates += n.verdicts[store.Duplicate]
				if status := statusOrZero(n); status.ToSend != 0 || status.ToFetch != 0 || status.Problem != nil || status.HeldBackTotal != 0 {
					t.Errorf("status %+v", status)
				}
			}
			t.Logf("%d entries, %d requests, %d duplicates; one entry more: %d requests", all, before, duplicates, stir)
			if most := (all + 1) * len(nodes); duplicates > most || !rings && duplicates > 0 {
				t.Errorf("%d duplicates for %d entries", duplicates, all+1)
			}
		})
	}
}

func statusOrZero(n *node) exchange.Status {
	if n.upstream == nil {
		return exchange.Status{}
	}
	return n.upstream.Status()
}

// The status of an exchange is readable over HTTP, also where there is none.
func TestUpstreamStatus(t *testing.T) {
	up, down := newNode(t), newNode(t)
	for _, c := range []struct {
		node *node
		want string
	}{{up, ""}, {down, up.url}} {
		if c.want != "" {
			down.send(t, push(note(1, "x"), note(2, "y")))
			if err := down.newExchange(t, exchange.Link{URL: up.url}, exchange.Options{}).Round(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
		w := send(c.node.server, "GET", "/api/v1/upstream", nil)
		var status exchange.Status
		if err := json.Unmarshal(w.Body.Bytes(), &status); err != nil || w.Code != http.StatusOK || status.Upstream != c.want {
			t.Errorf("status %d, %s", w.Code, w.Body)
		}
		if c.want != "" && (status.Sent != 2 || status.LastMS == 0 || status.Reachable == nil || !*status.Reachable || status.Role != "lead") {
			t.Errorf("%s", w.Body)
		}
	}
}
