package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/tls"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"packwright/internal/access"
)

// pretendedConn is a connection from some address that notes its closing.
type pretendedConn struct {
	net.Conn
	from   string
	closed *[]string
}

func (c pretendedConn) RemoteAddr() net.Addr {
	return net.TCPAddrFromAddrPort(netip.MustParseAddrPort(c.from))
}
func (c pretendedConn) Close() error { *c.closed = append(*c.closed, c.from); return nil }

// pretendedListener accepts what it was given.
type pretendedListener struct {
	net.Listener
	next net.Conn
}

func (l *pretendedListener) Accept() (net.Conn, error) { return l.next, nil }
func (l *pretendedListener) Addr() net.Addr            { return &net.TCPAddr{} }

// The address with the most connections gives up its oldest.
func TestCapConnections(t *testing.T) {
	for _, c := range []struct {
		perAddress, inAll int
		from, closed      []string
	}{
		{2, 9, []string{"10.0.0.1:1", "[::ffff:10.0.0.1]:2", "10.0.0.2:1", "10.0.0.1:3", "10.0.0.1:4"}, []string{"10.0.0.1:1", "[::ffff:10.0.0.1]:2"}},
		{3, 5, []string{"10.0.0.1:1", "10.0.0.1:2", "10.0.0.1:3", "10.0.0.2:1", "10.0.0.2:2",
			"10.0.0.3:1", "10.0.0.1:4", "10.0.0.2:3", "[fd00::1]:1", "10.0.0.2:4", "10.0.0.2:5"},
			[]string{"10.0.0.1:1", "10.0.0.1:2", "10.0.0.1:3", "10.0.0.2:1", "10.0.0.2:2", "10.0.0.2:3"}},
		{3, 2, []string{"10.0.0.1:1", "10.0.0.2:1", "10.0.0.3:1"}, []string{"10.0.0.1:1"}},
		{9, 9, []string{"10.0.0.1:1", "10.0.0.1:2"}, nil},
	} {
		var (
			closed []string
			log    bytes.Buffer
			clock  = time.Unix(1e9, 0)
			conns  []net.Conn
			source pretendedListener
		)
		l := capConnections(&source, c.perAddress, c.inAll, func() time.Time { clock = clock.Add(time.Second); return clock },
			slog.New(slog.NewTextHandler(&log, nil)))
		for _, from := range c.from {
			source.next = pretendedConn{from: from, closed: &closed}
			conn, err := l.Accept()
			if err != nil {
				t.Fatal(err)
			}
			conns = append(conns, conn)
		}
		if !slices.Equal(closed, c.closed) {
			t.Errorf("limits %d and %d: closed %v, want %v", c.perAddress, c.inAll, closed, c.closed)
		}
		if got := strings.Count(log.String(), "too many"); got != min(1, len(c.closed)) {
			t.Errorf("%d warnings within a minute", got)
		}
		for range 2 { // closing again changes nothing
			for _, conn := range conns {
				conn.Close()
			}
		}
		if l.count != 0 || len(l.open) != 0 {
			t.Errorf("%d connections left in %v", l.count, l.open)
		}
	}
}

// Joined devices give way last, however few connections each stranger has.
func TestJoinedKeepTheirConnections(t *testing.T) {
	var (
		closed []string
		clock  = time.Unix(1e9, 0)
		source pretendedListener
	)
	l := capConnections(&source, 2, 4, func() time.Time { clock = clock.Add(time.Second); return clock }, slog.New(slog.DiscardHandler))
	for _, c := range []struct {
		from   string
		joined bool
		closes string
	}{
		{"[fd00::1]:1", true, ""}, {"[fd00::1]:2", true, ""}, {"[fd00::2]:1", false, ""}, {"[fd00::3]:1", false, ""},
		{"[fd00::4]:1", false, "[fd00::2]:1"}, {"[fd00::5]:1", true, "[fd00::3]:1"}, {"[fd00::5]:2", false, "[fd00::4]:1"},
		{"[fd00::5]:3", true, "[fd00::5]:2"}, // his own stranger, though younger
		{"[fd00::6]:1", false, "[fd00::1]:1"}, {"[fd00::1]:3", true, "[fd00::6]:1"},
	} {
		source.next = pretendedConn{from: c.from, closed: &closed}
		conn, err := l.Accept()
		if err != nil {
			t.Fatal(err)
		}
		if c.joined {
			markJoined(withConn(t.Context(), conn))
		}
		if got := strings.Join(closed, " "); got != c.closes {
			t.Errorf("%s: closed %q, want %q", c.from, got, c.closes)
		}
		closed = nil
	}
	markJoined(t.Context()) // of no connection that is counted
}

// A thousand strangers from as many addresses do not cut a joined phone off, at
// either version of HTTP.
func TestManyAddresses(t *testing.T) {
	s := startField(t)
	_, token := joined(t, s.server, access.Crew)
	for number, one := range []bool{false, true} {
		phone := s.client(t, "127.0.0.3")
		transport := phone.Transport.(*http.Transport)
		transport.ForceAttemptHTTP2 = !one
		if one {
			transport.TLSClientConfig.NextProtos = []string{"http/1.1"}
		}
		req, err := http.NewRequest("GET", s.f.origin+"/api/v1/live", nil)
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Authorization", "Bearer "+token)
		live, err := phone.Do(req)
		if err != nil || live.StatusCode != http.StatusOK || (live.ProtoMajor == 1) != one {
			t.Fatal(live, err)
		}
		lines := bufio.NewScanner(live.Body)
		for n := range usualInAll + 100 {
			dialer := net.Dialer{LocalAddr: &net.TCPAddr{IP: net.IPv4(127, 1, byte(n>>8), byte(n))}, Timeout: 20 * time.Second}
			conn, err := dialer.Dial("tcp", s.f.secure.Addr().String())
			if err != nil {
				t.Fatal(err)
			}
			defer conn.Close()
		}
		if w := send(s.server, "POST", "/api/v1/entries", bytes.NewReader(push(note(number, "x")))); w.Code != http.StatusOK {
			t.Fatal(w.Code)
		}
		if _, err := s.client(t, "127.0.0.4").Get(s.f.origin + "/api/v1/trusted"); err != nil { // and its connection is the newest
			t.Error(err)
		}
		heard := false
		for want := fmt.Sprintf(`"head":%d,`, number+1); !heard && lines.Scan(); {
			heard = strings.Contains(lines.Text(), want)
		}
		if !heard {
			t.Errorf("HTTP/%d: the phone was cut off: %v", live.ProtoMajor, lines.Err())
		}
		live.Body.Close()
	}
}

// TestFlood keeps hundreds of connections of every slow kind open from one address
// while phones at others come and go and one listens: all of them are served. The
// flood is bounded: so many connections, once.
func TestFlood(t *testing.T) {
	const flood, phones, visits = 2000, 3, 30
	s := startField(t)
	made, err := s.register.Invite(access.Crew)
	if err != nil {
		t.Fatal(err)
	}
	_, token, err := s.register.Join(access.Asking{Code: made.Code, Name: "listening", JournalID: "phone-1"})
	if err != nil {
		t.Fatal(err)
	}

	// A phone that listens before, during and after.
	listening := s.client(t, "127.0.0.3")
	ctx, hangUp := context.WithCancel(t.Context())
	defer hangUp()
	req, err := http.NewRequestWithContext(ctx, "GET", s.f.origin+"/api/v1/live", nil)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Authorization", "Bearer "+token)
	live, err := listening.Do(req)
	if err != nil || live.StatusCode != http.StatusOK {
		t.Fatal(live, err)
	}
	defer live.Body.Close()
	lines := bufio.NewScanner(live.Body)

	intruders := make(chan net.Conn, flood)
	var opening sync.WaitGroup
	for worker := range 4 {
		opening.Go(func() {
			for i := range flood / 4 {
				if conn := s.openSlowly(t, (worker+i)%4); conn != nil {
					intruders <- conn
				}
			}
		})
	}
	var slowest atomic.Int64
	var visiting sync.WaitGroup
	for phone := range phones {
		visiting.Go(func() {
			for range visits {
				start := time.Now()
				resp, err := s.client(t, "127.0.0.1"+string(rune('0'+phone))).Get(s.f.origin + "/api/v1/trusted")
				if err != nil || resp.StatusCode != http.StatusNoContent {
					t.Errorf("a phone was not served: %v", err)
					return
				}
				resp.Body.Close()
				slowest.Store(max(slowest.Load(), int64(time.Since(start))))
			}
		})
	}
	visiting.Wait()
	opening.Wait()
	if w := send(s.server, "POST", "/api/v1/entries", bytes.NewReader(push(note(1, "x")))); w.Code != http.StatusOK {
		t.Fatal(w.Code)
	}
	heard := false
	for !heard && lines.Scan() {
		heard = strings.Contains(lines.Text(), `"head":1`)
	}
	if !heard {
		t.Errorf("the phone that listened was cut off: %v", lines.Err())
	}

	close(intruders)
	total, open := 0, 0
	for conn := range intruders {
		total++
		conn.SetReadDeadline(time.Now().Add(5 * time.Millisecond))
		if _, err := io.Copy(io.Discard, conn); err != nil && strings.Contains(err.Error(), "timeout") {
			open++
		}
		conn.Close()
	}
	t.Logf("%d slow connections from one address, %d of them still open; the slowest of %d visits took %v", total, open, phones*visits, time.Duration(slowest.Load()))
	if open > usualPerAddress {
		t.Errorf("%d connections of one address are open", open)
	}
}

// openSlowly opens a connection of an intruder and leaves it hanging: before a
// handshake, in the middle of one, in a header, in a body.
func (s *fieldServer) openSlowly(t *testing.T, kind int) net.Conn {
	dialer := net.Dialer{LocalAddr: &net.TCPAddr{IP: net.ParseIP("127.0.0.2")}, Timeout: 20 * time.Second}
	conn, err := dialer.Dial("tcp", s.f.secure.Addr().String())
	if err != nil {
		t.Error("the intruder's own connection:", err) // a full queue would keep phones out too
		return nil
	}
	switch kind {
	case 1:
		conn.Write([]byte{22, 3, 1, 2, 0, 1}) // the first bytes of a ClientHello
	case 2, 3:
		secure := tls.Client(conn, &tls.Config{InsecureSkipVerify: true})
		secure.SetDeadline(time.Now().Add(20 * time.Second))
		if kind == 2 {
			io.WriteString(secure, "GET / HTTP/1.1\r\nHost: pit.local\r\nX-Slow: ")
		} else {
			io.WriteString(secure, "POST /api/v1/join HTTP/1.1\r\nHost: pit.local\r\nContent-Type: application/json\r\nContent-Length: 100\r\n\r\n{")
		}
	}
	return conn
}
