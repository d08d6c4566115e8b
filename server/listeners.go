package main

import (
	"cmp"
	"context"
	"crypto/tls"
	"log/slog"
	"net"
	"net/netip"
	"slices"
	"sync"
	"sync/atomic"
	"time"
)

// How many connections a door keeps open. A phone uses one or two, six with
// HTTP/1.1. Behind a router that translates addresses many phones look like one.
const (
	usualPerAddress = 64
	usualInAll      = 1024
)

// capped is a listener with a limit of open connections for each address and in
// all. One over the limit is let in, and the address that has the most gives up
// its oldest: whoever opens thousands only closes his own, a phone that left dead
// connections behind gets in again, and the door is never full for anybody.
// Connections on which a joined device has asked give way last, so that strangers
// with a thousand addresses, which IPv6 gives to everybody, only push each other out.
// A listener that waits or refuses when it is full would serve the intruder.
type capped struct {
	net.Listener
	perAddress, inAll int
	now               func() time.Time
	log               *slog.Logger

	mu     sync.Mutex
	open   map[netip.Addr][]*cappedConn // oldest first
	count  int
	warned time.Time
}

func capConnections(l net.Listener, perAddress, inAll int, now func() time.Time, log *slog.Logger) *capped {
	return &capped{Listener: l, perAddress: perAddress, inAll: inAll, now: now, log: log, open: map[netip.Addr][]*cappedConn{}}
}

// Accept gives the next connection; one that had to give way is closed first.
func (l *capped) Accept() (net.Conn, error) {
	conn, err := l.Listener.Accept()
	if err != nil {
		return nil, err
	}
	admitted, evicted := l.admit(conn)
	if evicted != nil {
		evicted.drop()
	}
	return admitted, nil
}

func (l *capped) admit(conn net.Conn) (admitted, evicted *cappedConn) {
	admitted = &cappedConn{Conn: conn, from: remoteAddr(conn), listener: l}
	l.mu.Lock()
	defer l.mu.Unlock()
	switch {
	case len(l.open[admitted.from]) >= l.perAddress:
		evicted = slices.Concat(strangers(l.open[admitted.from]), l.open[admitted.from])[0]
	case l.count >= l.inAll:
		evicted = l.oldestOfMost()
	}
	if evicted != nil {
		l.warn(evicted.from)
		l.forget(evicted)
	}
	admitted.since = l.now()
	l.open[admitted.from] = append(l.open[admitted.from], admitted)
	l.count++
	return admitted, evicted
}

// oldestOfMost is the oldest connection of the address that has the most; among
// equals the oldest of all. Those of joined devices count only where no others are.
func (l *capped) oldestOfMost() *cappedConn {
	var most, mostJoined []*cappedConn
	for _, conns := range l.open {
		most, mostJoined = more(most, strangers(conns)), more(mostJoined, conns)
	}
	if len(most) == 0 {
		most = mostJoined
	}
	return most[0]
}

// strangers leaves out the connections of joined devices.
func strangers(conns []*cappedConn) []*cappedConn {
	return slices.DeleteFunc(slices.Clone(conns), func(c *cappedConn) bool { return c.joined.Load() })
}

// more is the longer list; among equals the one that begins earlier.
func more(a, b []*cappedConn) []*cappedConn {
	longer := cmp.Compare(len(b), len(a))
	if longer > 0 || longer == 0 && len(a) > 0 && b[0].since.Before(a[0].since) {
		return b
	}
	return a
}

// warn says once a minute that somebody takes more than his share.
func (l *capped) warn(from netip.Addr) {
	if now := l.now(); now.Sub(l.warned) >= time.Minute {
		l.warned = now
		l.log.Warn("too many connections at once: the oldest are closed", "from", from, "door", l.Addr())
	}
}

// forget takes a connection off the list; it may be gone already.
func (l *capped) forget(c *cappedConn) {
	i := slices.Index(l.open[c.from], c)
	if i < 0 {
		return
	}
	l.count--
	if l.open[c.from] = slices.Delete(l.open[c.from], i, i+1); len(l.open[c.from]) == 0 {
		delete(l.open, c.from)
	}
}

// cappedConn is an open connection that its listener counts.
type cappedConn struct {
	net.Conn
	from     netip.Addr
	since    time.Time
	listener *capped
	joined   atomic.Bool // a joined device has asked on it
}

type connKey struct{}

// withConn lets a request find the connection it came by; see markJoined.
func withConn(ctx context.Context, conn net.Conn) context.Context {
	if secure, ok := conn.(*tls.Conn); ok {
		conn = secure.NetConn()
	}
	return context.WithValue(ctx, connKey{}, conn)
}

// markJoined notes that a joined device has asked on the connection of a request.
func markJoined(ctx context.Context) {
	if conn, ok := ctx.Value(connKey{}).(*cappedConn); ok {
		conn.joined.Store(true)
	}
}

func (c *cappedConn) Close() error {
	c.listener.mu.Lock()
	c.listener.forget(c)
	c.listener.mu.Unlock()
	return c.Conn.Close()
}

// drop ends the connection without the usual farewell, which would leave the
// kernel remembering each of an intruder's connections for a minute.
func (c *cappedConn) drop() {
	if tcp, ok := c.Conn.(*net.TCPConn); ok {
		tcp.SetLinger(0)
	}
	c.Conn.Close()
}

func remoteAddr(conn net.Conn) netip.Addr {
	tcp, ok := conn.RemoteAddr().(*net.TCPAddr)
	if !ok {
		return netip.Addr{} // not TCP: all share one limit
	}
	return tcp.AddrPort().Addr().Unmap()
}
