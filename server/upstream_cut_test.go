package main

import (
	"fmt"
	"io"
	"net"
	"net/http"
	"sync"
	"sync/atomic"
	"testing"

	"packwright/internal/exchange"
)

// cutter is a link between two servers that breaks after so many bytes.
type cutter struct {
	listener net.Listener
	to       string
	left     [2]atomic.Int64 // bytes that still get through: there, and back
}

const there, back = 0, 1

const uncut = 1 << 40

func newCutter(t *testing.T, to string) *cutter {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	c := &cutter{listener: listener, to: to}
	var open sync.WaitGroup
	open.Go(func() {
		for {
			conn, err := listener.Accept()
			if err != nil {
				return
			}
			open.Go(func() { c.carry(conn) })
		}
	})
	t.Cleanup(func() {
		listener.Close()
		open.Wait()
	})
	return c
}

// carry passes on bytes both ways until one way has used up what is left, then cuts both.
func (c *cutter) carry(client net.Conn) {
	defer client.Close()
	server, err := net.Dial("tcp", c.to)
	if err != nil {
		return
	}
	defer server.Close()
	ended := make(chan struct{}, 2)
	pass := func(way int, to io.Writer, from io.Reader) {
		defer func() { ended <- struct{}{} }()
		buffer := make([]byte, 4096)
		for {
			n, err := from.Read(buffer)
			allowed := min(int64(n), c.left[way].Load())
			c.left[way].Add(-allowed)
			if _, writeErr := to.Write(buffer[:allowed]); err != nil || writeErr != nil || allowed < int64(n) {
				return
			}
		}
	}
	go pass(there, server, client)
	go pass(back, client, server)
	<-ended
	client.Close()
	server.Close()
	<-ended
}

// TestExchangeCut cuts the link between two servers at every byte of what goes
// there and of what comes back in a round that greets, sends and fetches. Nothing
// is lost or doubled by it, and after a restart now and then it goes on where it was.
func TestExchangeCut(t *testing.T) {
	up, down := newNode(t), newNode(t)
	cut := newCutter(t, up.url[len("http://"):])
	transport := &http.Transport{DisableCompression: true} // every byte counts
	defer transport.CloseIdleConnections()
	var x *exchange.Exchange
	begin := func() { // as after a start of the program, which greets first
		x = down.newExchange(t, exchange.Link{URL: "http://" + cut.listener.Addr().String()}, exchange.Options{Transport: transport})
	}
	begin()
	number := 0
	write := func() { // an entry on each side
		number++
		down.send(t, push(note(2*number, fmt.Sprint("down ", number))))
		up.send(t, push(note(2*number+1, fmt.Sprint("up ", number))))
	}
	round := func(way int, n int64) error {
		transport.CloseIdleConnections()
		for i := range cut.left {
			cut.left[i].Store(uncut)
		}
		cut.left[way].Store(n)
		return x.Round(t.Context())
	}
	step, whole := int64(1), int64(50)
	if testing.Short() {
		step, whole = 37, 5
	}
	for way := range 2 {
		write()
		begin()
		broken := int64(0)
		for n := int64(0); n < 20_000; n += step {
			if err := round(way, n); err == nil {
				break // all of it got through
			}
			if broken++; broken%whole != 0 {
				continue
			}
			if err := round(way, uncut); err != nil {
				t.Fatalf("after a cut at byte %d: %v", n, err)
			}
			awaitSame(t, []*node{up, down}, 2*number)
			write()
			begin()
		}
		t.Logf("way %d: cut at %d places", way, broken)
		if broken < 700/step {
			t.Errorf("only %d cuts", broken)
		}
	}
	if err := round(there, uncut); err != nil {
		t.Fatal(err)
	}
	awaitSame(t, []*node{up, down}, 2*number)
	if s := x.Status(); s.HeldBackTotal != 0 || s.ToSend != 0 || s.ToFetch != 0 {
		t.Errorf("%+v", s)
	}
}
