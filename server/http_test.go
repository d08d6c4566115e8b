package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/iotest"
	"time"

	"github.com/labstack/echo/v4"

	"packwright/internal/access"
	"packwright/internal/fleet"
	"packwright/internal/journal"
	"packwright/internal/problem"
	"packwright/internal/store"
)

// openTest is a server on a real store in a folder of the test.
func openTest(t testing.TB) (*server, *bytes.Buffer) {
	t.Helper()
	var log bytes.Buffer
	logger := slog.New(slog.NewTextHandler(&log, nil))
	kept, err := store.Open(t.TempDir(), store.Options{Log: logger})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { kept.Close() })
	register, err := access.Open(t.TempDir(), access.Options{})
	if err != nil {
		t.Fatal(err)
	}
	s, err := newServer(kept, register, logger, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	return s, &log
}

// send calls the handler as a browser on this machine would.
func send(s *server, method, path string, body io.Reader) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, "http://127.0.0.1:8080"+path, body)
	if body != nil {
		r.Header.Set("Content-Type", "application/json")
	}
	w := httptest.NewRecorder()
	s.handler(doorHere).ServeHTTP(w, r)
	return w
}

// note is a valid entry; its number makes it one of its own.
func note(number int, text string) journal.Entry {
	return journal.Entry{
		ID: journal.NewID(1764060000000+int64(number), [10]byte{9: byte(number)}), V: 1, Kind: journal.Noted,
		Device: "phone-1", By: "ab", HLC: journal.Stamp{MS: 1764060000000 + int64(number)}.String(),
		Body: mustJSON(journal.Note{Text: text})}
}

func mustJSON(v any) json.RawMessage {
	raw, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	return raw
}

func push(entries ...journal.Entry) []byte {
	return mustJSON(map[string]any{"entries": entries})
}

func head(t testing.TB, s *server) uint64 {
	t.Helper()
	_, seq := s.store.Head()
	return seq
}

// Scenario 6 of the sync tests: an upload cut at any byte is refused whole.
func TestCutUpload(t *testing.T) {
	s, _ := openTest(t)
	body := push(note(1, "one"), note(2, "two, with ü and 🔋"))
	for n := range body {
		for _, end := range []error{io.ErrUnexpectedEOF, io.EOF} { // cut by the network; or a short body that claims to be whole
			w := send(s, "POST", "/api/v1/entries", io.MultiReader(bytes.NewReader(body[:n]), iotest.ErrReader(end)))
			if w.Code != http.StatusBadRequest {
				t.Fatalf("cut after %d bytes (%v): status %d, %s", n, end, w.Code, w.Body)
			}
		}
	}
	if head(t, s) != 0 {
		t.Fatalf("%d entries were stored from cut uploads", head(t, s))
	}
	if w := send(s, "POST", "/api/v1/entries", bytes.NewReader(body)); w.Code != http.StatusOK || head(t, s) != 2 {
		t.Fatalf("whole upload: status %d, head %d", w.Code, head(t, s))
	}
}

func TestLimits(t *testing.T) {
	s, _ := openTest(t)
	many := func(n int) []journal.Entry {
		entries := make([]journal.Entry, n)
		for i := range entries {
			entries[i] = note(i, "x")
		}
		return entries
	}
	ids := func(n int) []byte { return mustJSON(map[string]any{"ids": make([]string, n)}) }
	padded := func(size int) []byte {
		body := push(note(0, "x"))
		return append(body, bytes.Repeat([]byte(" "), size-len(body))...)
	}
	long := func(size int) []byte {
		return []byte(`{"name":"` + strings.Repeat("x", size-len(`{"name":""}`)) + `"}`)
	}
	for _, c := range []struct {
		name, path string
		body       []byte
		want       int
	}{
		{"most entries", "/api/v1/entries", push(many(maxPushEntries)...), http.StatusOK},
		{"one entry more", "/api/v1/entries", push(many(maxPushEntries + 1)...), http.StatusRequestEntityTooLarge},
		{"longest body", "/api/v1/entries", padded(maxBodyBytes), http.StatusOK},
		{"one byte more", "/api/v1/entries", padded(maxBodyBytes + 1), http.StatusRequestEntityTooLarge},
		{"most ids", "/api/v1/offer", ids(maxOfferIDs), http.StatusOK},
		{"one id more", "/api/v1/offer", ids(maxOfferIDs + 1), http.StatusRequestEntityTooLarge},
		{"a long code", "/api/v1/join", long(maxAskBytes), http.StatusBadRequest},
		{"one byte more", "/api/v1/join", long(maxAskBytes + 1), http.StatusRequestEntityTooLarge},
		{"a long role", "/api/v1/invitations", long(maxAskBytes + 1), http.StatusRequestEntityTooLarge},
		{"a long id", "/api/v1/devices/change", long(maxAskBytes + 1), http.StatusRequestEntityTooLarge},
	} {
		for _, chunked := range []bool{false, true} {
			var body io.Reader = bytes.NewReader(c.body)
			if chunked {
				body = io.MultiReader(body) // of unknown length
			}
			if w := send(s, "POST", c.path, body); w.Code != c.want {
				t.Errorf("%s (chunked %v): status %d, want %d: %.200s", c.name, chunked, w.Code, c.want, w.Body)
			}
		}
	}
}

// A page is bounded by bytes as well.
func TestPageBytes(t *testing.T) {
	s, _ := openTest(t)
	long := strings.Repeat("x", 3900)
	for from := 0; from < 300; from += 100 {
		var batch []journal.Entry
		for i := range 100 {
			batch = append(batch, note(from+i, long))
		}
		if w := send(s, "POST", "/api/v1/entries", bytes.NewReader(push(batch...))); w.Code != http.StatusOK {
			t.Fatal(w.Code, w.Body)
		}
	}
	var after, seen, pages uint64
	epoch, _ := s.store.Head()
	for more := true; more; pages++ {
		w := send(s, "GET", fmt.Sprintf("/api/v1/entries?epoch=%s&after=%d&limit=1000", epoch, after), nil)
		if w.Body.Len() > maxPageBytes+64<<10 {
			t.Errorf("a page of %d bytes", w.Body.Len())
		}
		var page pullAnswer
		if err := json.Unmarshal(w.Body.Bytes(), &page); err != nil {
			t.Fatal(err)
		}
		seen += uint64(len(page.Entries))
		after, more = page.Next, page.More
	}
	if seen != 300 || pages < 3 {
		t.Errorf("%d entries in %d pages, want 300 in 3 or more", seen, pages)
	}
}

// Scenario 2: the same batch many times at once.
func TestDuplicateStorm(t *testing.T) {
	s, _ := openTest(t)
	body := push(note(1, "one"), note(2, "two"), note(3, "three"))
	var wait sync.WaitGroup
	for range 5 {
		wait.Go(func() {
			for range 10 {
				w := send(s, "POST", "/api/v1/entries", bytes.NewReader(body))
				var answer pushAnswer
				if err := json.Unmarshal(w.Body.Bytes(), &answer); err != nil || w.Code != http.StatusOK {
					t.Errorf("status %d, %v", w.Code, err)
					return
				}
				for i, r := range answer.Results {
					if r.Seq != uint64(i+1) || (r.Status != store.Accepted && r.Status != store.Duplicate) {
						t.Errorf("result %+v", r)
					}
				}
			}
		})
	}
	wait.Wait()
	if head(t, s) != 3 {
		t.Errorf("head %d, want 3", head(t, s))
	}
}

// brokenStore fails as told.
type brokenStore struct {
	*store.Store
	err   error
	panic any
}

func (b brokenStore) Append(context.Context, []json.RawMessage, string) ([]store.Result, error) {
	if b.panic != nil {
		panic(b.panic)
	}
	return nil, b.err
}

func TestFailures(t *testing.T) {
	for _, c := range []struct {
		name         string
		store        brokenStore
		status       int
		shown, inLog string
	}{
		{"full disk", brokenStore{err: problem.New(problem.NoSpace, "free some space", "the disk is full")}, http.StatusInsufficientStorage, "the disk is full", ""},
		{"fault", brokenStore{err: errors.New("secret detail")}, http.StatusInternalServerError, "internal error", "secret detail"},
		{"panic", brokenStore{panic: "secret detail"}, http.StatusInternalServerError, "internal error", "secret detail"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, log := openTest(t)
			c.store.Store = s.store.(*store.Store)
			s.store = c.store
			w := send(s, "POST", "/api/v1/entries", bytes.NewReader(push(note(1, "x"))))
			if w.Code != c.status || !strings.Contains(w.Body.String(), c.shown) || strings.Contains(w.Body.String(), "secret") {
				t.Errorf("status %d, body %s", w.Code, w.Body)
			}
			if !strings.Contains(log.String(), c.inLog) {
				t.Errorf("log %q", log)
			}
			if err := readAPI(t).checkAnswer(t, "POST", "/api/v1/entries", w.Code, w.Header(), w.Body.Bytes()); err != nil {
				t.Error(err)
			}
		})
	}
}

// cutStore fails while the journal is read.
type cutStore struct{ *store.Store }

func (c cutStore) All() iter.Seq2[store.Item, error] {
	return func(yield func(store.Item, error) bool) {
		if yield(store.Item{Seq: 1, Entry: mustJSON(note(1, "x"))}, nil) {
			yield(store.Item{}, errors.New("the disk is gone"))
		}
	}
}

// A journal that could not be read to its end must not look like a whole file.
func TestJournalCutShort(t *testing.T) {
	s, log := openTest(t)
	s.store = cutStore{s.store.(*store.Store)}
	web := httptest.NewServer(s.handler(doorHere))
	defer web.Close()
	for _, encoding := range []string{"identity", "gzip"} {
		req, err := http.NewRequest("GET", web.URL+journalRoute, nil)
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Accept-Encoding", encoding)
		resp, err := http.DefaultTransport.RoundTrip(req)
		if err == nil {
			_, err = io.ReadAll(resp.Body)
			resp.Body.Close()
		}
		if err == nil {
			t.Errorf("%s: the download ended as if it were whole", encoding)
		}
	}
	if !strings.Contains(log.String(), "the disk is gone") {
		t.Errorf("log %q", log)
	}
}

// TestLive listens to the stream past the time limits of an ordinary answer, sees
// a commit and the pulse, and sees the stream end when the server stops.
func TestLive(t *testing.T) {
	s, _ := openTest(t)
	s.pulse = 100 * time.Millisecond
	web := newHTTPServer(s.handler(doorHere), s.log)
	web.ReadTimeout, web.WriteTimeout = 200*time.Millisecond, 200*time.Millisecond
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	go web.Serve(listener)
	defer web.Close()
	resp, err := http.Get("http://" + listener.Addr().String() + "/api/v1/live")
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	if kind := resp.Header.Get("Content-Type"); kind != "text/event-stream" {
		t.Errorf("content type %q", kind)
	}
	lines := bufio.NewScanner(resp.Body)
	next := func(prefix string) string {
		t.Helper()
		for lines.Scan() {
			if rest, ok := strings.CutPrefix(lines.Text(), prefix); ok {
				return rest
			}
		}
		t.Fatalf("the stream ended before %q: %v", prefix, lines.Err())
		return ""
	}
	event := func(data string) (e headEvent) {
		t.Helper()
		if err := readAPI(t).check(t, "#/components/schemas/HeadEvent", "", []byte(data)); err != nil {
			t.Error(err)
		}
		if err := json.Unmarshal([]byte(data), &e); err != nil {
			t.Fatal(err)
		}
		return e
	}
	if e := event(next("data: ")); e.Head != 0 || e.Epoch == "" {
		t.Errorf("first event %+v", e)
	}
	for range 5 { // half a second, past both limits
		next(": ")
	}
	if w := send(s, "POST", "/api/v1/entries", bytes.NewReader(push(note(1, "x")))); w.Code != http.StatusOK {
		t.Fatal(w.Code)
	}
	if e := event(next("data: ")); e.Head != 1 {
		t.Errorf("event after a commit %+v", e)
	}
	close(s.closing)
	for lines.Scan() {
	}
	if err := lines.Err(); err != nil {
		t.Errorf("the stream ended with %v", err)
	}
}

// TestShutdown stops a server with a live stream open: no waiting for it.
func TestShutdown(t *testing.T) {
	s, _ := openTest(t)
	listener, err := listenLoopback("127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() {
		ended <- s.serve(ctx, entrance{door: doorHere, listener: listener, handler: s.handler(doorHere)})
	}()
	resp, err := http.Get("http://" + listener.Addr().String() + "/api/v1/live")
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	stop()
	select {
	case err := <-ended:
		if err != nil {
			t.Error(err)
		}
	case <-time.After(patience / 2):
		t.Error("the live stream held the server up")
	}
}

// pretended is a listener that says it listens elsewhere, as after a name that a
// resolver pointed away from this machine.
type pretended struct {
	net.Listener
	at     net.Addr
	closed bool
}

func (p *pretended) Addr() net.Addr { return p.at }
func (p *pretended) Close() error   { p.closed = true; return nil }

func TestOnlyLoopback(t *testing.T) {
	for ip, want := range map[string]bool{"127.0.0.1": true, "127.0.0.53": true, "::1": true,
		"192.168.1.7": false, "0.0.0.0": false, "::": false, "fe80::1": false} {
		p := &pretended{at: &net.TCPAddr{IP: net.ParseIP(ip), Port: 8080}}
		listener, err := onlyLoopback(p, "x.localhost:8080")
		shown, ok := problem.As(err)
		if (listener != nil) != want || p.closed == want || !want && (!ok || shown.Kind != problem.Invalid || shown.Hint == "") {
			t.Errorf("%s: %v, closed %v, %v", ip, listener, p.closed, err)
		}
	}
}

// warner is a paper that has sentences to tell.
type warner struct{ sentences []string }

func (p *warner) print(w io.Writer, _ *fleet.Fleet, _ string, warn paperNotes) error {
	for _, text := range p.sentences {
		warn(text)
	}
	_, err := io.WriteString(w, "%PDF-1.4")
	return err
}

// Warnings come apart again the way the description says, also after fetch() has
// joined them (Fetch standard, "get a header": by a comma and a space).
func TestPaperWarnings(t *testing.T) {
	s, _ := openTest(t)
	want := []string{"Größe, name and 100 % of “Ω” are cut; see sheet 2", "second, with a comma"}
	w := httptest.NewRecorder()
	c := echo.New().NewContext(httptest.NewRequest("GET", "/", nil), w)
	if err := s.sendPDF(c, &warner{want}, "x.pdf"); err != nil {
		t.Fatal(err)
	}
	var got []string
	for part := range strings.SplitSeq(strings.Join(w.Header().Values("Packwright-Warning"), ", "), ",") {
		text, err := url.PathUnescape(strings.TrimSpace(part))
		if err != nil {
			t.Error(err)
		}
		got = append(got, text)
	}
	if !slices.Equal(got, want) {
		t.Errorf("got %q", got)
	}
}

func TestLoopbackHost(t *testing.T) {
	for host, want := range map[string]bool{
		"localhost": true, "LOCALHOST:80": true, "a.localhost:1": true, "127.0.0.1": true, "127.1.2.3:8080": true,
		"[::1]:8080": true, "::1": true, "[::ffff:127.0.0.1]:1": true, "localhost.": true,
		"": false, "0.0.0.0": false, "localhost.evil.example": false, "evil-localhost": false, "128.0.0.1": false,
		"[::]:80": false, "127.0.0.1.evil.example:80": false, "127.1": false,
	} {
		if got := isLoopbackHost(host); got != want {
			t.Errorf("isLoopbackHost(%q) = %v", host, got)
		}
	}
}
