package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"packwright/internal/store"
)

// Every connection has limits: what never ends its header, or never ends its body,
// is cut off, and a header of any length is not taken. The times are shortened
// here; that each is set at all is looked at first.
func TestConnectionLimits(t *testing.T) {
	s, _ := openTest(t)
	web := newHTTPServer(s.handler(doorHere), s.log)
	for name, limit := range map[string]time.Duration{
		"ReadHeaderTimeout": web.ReadHeaderTimeout, "ReadTimeout": web.ReadTimeout,
		"WriteTimeout": web.WriteTimeout, "IdleTimeout": web.IdleTimeout,
	} {
		if limit <= 0 || limit > 2*time.Minute {
			t.Errorf("%s is %v", name, limit)
		}
	}
	web.ReadHeaderTimeout, web.ReadTimeout, web.IdleTimeout = 200*time.Millisecond, 400*time.Millisecond, 200*time.Millisecond
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	go web.Serve(listener)
	t.Cleanup(func() { web.Close() })
	const start = "POST /api/v1/offer HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n"
	for name, c := range map[string]struct {
		text   string
		status int // 0: the connection just ends
	}{
		"half a header":   {start, 0},
		"half a body":     {start + "Content-Length: 100\r\n\r\n{", http.StatusBadRequest},
		"a long header":   {start + "X: " + strings.Repeat("x", 32<<10) + "\r\n\r\n", http.StatusRequestHeaderFieldsTooLarge},
		"then nothing":    {"", 0},
		"a whole request": {start + "Content-Length: 10\r\n\r\n{\"ids\":[]}", http.StatusOK},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			conn, err := net.Dial("tcp", listener.Addr().String())
			if err != nil {
				t.Fatal(err)
			}
			defer conn.Close()
			if _, err := fmt.Fprint(conn, c.text); err != nil {
				t.Fatal(err)
			}
			if err := conn.SetReadDeadline(time.Now().Add(20 * time.Second)); err != nil {
				t.Fatal(err)
			}
			resp, err := http.ReadResponse(bufio.NewReader(conn), nil)
			switch {
			case c.status == 0:
				if timeout, ok := err.(net.Error); err == nil || ok && timeout.Timeout() {
					t.Errorf("the server waits for ever: %v", err)
				}
			case err != nil:
				t.Error(err)
			case resp.StatusCode != c.status:
				t.Errorf("status %d", resp.StatusCode)
			}
		})
	}
}

// busyStore stores one more entry whenever a page is read.
type busyStore struct {
	*store.Store
	meanwhile func()
}

func (b busyStore) Page(after uint64, limit, maxBytes int) (store.Page, error) {
	p, err := b.Store.Page(after, limit, maxBytes)
	b.meanwhile()
	return p, err
}

// The head told with a page is never behind what the phone could know by then.
func TestHeadIsReadAfterThePage(t *testing.T) {
	s, _ := openTest(t)
	kept := s.store.(*store.Store)
	pushed(t, s, push(note(1, "first")))
	s.store = busyStore{kept, func() {
		if _, err := kept.Append(t.Context(), []json.RawMessage{mustJSON(note(2, "meanwhile"))}, ""); err != nil {
			t.Error(err)
		}
	}}
	if page := pulled(t, s, "", 0, 10); page.Head != 2 || page.Next != 1 {
		t.Errorf("head %d, next %d", page.Head, page.Next)
	}
}
