package exchange

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"packwright/internal/problem"
	"packwright/internal/store"
)

// What came from the upstream is not sent back, and what it got from here is not
// fetched again.
func TestNoEcho(t *testing.T) {
	up, down := newMemory("U", 1, 2, 3), newMemory("D", 4, 5)
	x := start(t, down, serveMemory(t, up), t.TempDir(), Options{})
	round(t, x)
	same(t, up, down)
	if n := up.count("POST /api/v1/entries"); n != 1 {
		t.Errorf("%d pushes, want 1", n)
	}
	down.add(note(6, ""), "phone")
	round(t, x)
	if x.progress.Fetched.Seq != 6 || up.count("POST /api/v1/entries") != 1 {
		t.Errorf("%+v", x.progress)
	}
	up.add(note(7, ""), "phone")
	round(t, x)
	same(t, up, down)
	if n := up.count("POST /api/v1/entries"); n != 0 {
		t.Errorf("what was fetched was sent back in %d pushes", n)
	}
	if s := x.Status(); s.Sent != 3 || s.Fetched != 4 || s.ToSend+s.ToFetch != 0 {
		t.Errorf("%+v", s)
	}
}

// Only an answer of the protocol's shape confirms anything.
func TestStrangersConfirmNothing(t *testing.T) {
	id := idOf(note(1, ""))
	good := fmt.Sprintf(`{"epoch":"U","results":[{"id":%q,"status":"accepted","seq":1}]}`, id)
	answers := map[string]string{
		"a portal's page":       "<html>please sign in</html>",
		"nothing":               "",
		"an empty object":       "{}",
		"a list":                "[]",
		"no results":            `{"epoch":"U","results":[]}`,
		"results without epoch": strings.Replace(good, `"U"`, `""`, 1),
		"the word on another":   strings.Replace(good, id, idOf(note(2, "")), 1),
		"no number":             strings.Replace(good, `,"seq":1`, "", 1),
		"no status":             strings.Replace(good, "accepted", "", 1),
		"half of a good answer": good[:len(good)/2],
		"more than fits":        good + strings.Repeat(" ", maxAnswerBytes),
	}
	for what, body := range answers {
		for _, status := range []int{200, 201, 204, 302, 400, 401, 404, 409, 426, 500, 511} {
			if status == 200 && body == good {
				continue
			}
			up, down, dir := newMemory("U", 5), newMemory("D"), t.TempDir()
			link := serveMemory(t, up)
			x := start(t, down, link, dir, Options{})
			down.add(note(1, ""), "phone")
			up.instead = func(r *http.Request) (int, string) {
				if r.Method == "POST" {
					return status, body
				}
				return 0, ""
			}
			if err := x.Round(t.Context()); err == nil {
				t.Errorf("%s with status %d: no error", what, status)
			}
			if x.progress.Sent.Seq != 0 || x.Status().ToSend != 1 || x.Status().HeldBackTotal != 0 || *x.Status().Reachable {
				t.Errorf("%s with status %d: %+v", what, status, x.Status())
			}
			up.instead = nil
			round(t, start(t, down, link, dir, Options{}))
			same(t, up, down)
		}
	}
}

// The same for pages: nothing is stored from one that does not join on.
func TestStrangePages(t *testing.T) {
	item := func(seq int) string { return fmt.Sprintf(`{"seq":%d,"entry":%s}`, seq, note(seq, "")) }
	for what, body := range map[string]string{
		"a portal's page":  "<html>",
		"no epoch":         `{"epoch":"","head":1,"entries":[` + item(1) + `],"next":1,"more":false}`,
		"no entries":       `{"epoch":"U","head":1,"next":0,"more":false}`,
		"a gap":            `{"epoch":"U","head":2,"entries":[` + item(2) + `],"next":2,"more":false}`,
		"a repeat":         `{"epoch":"U","head":2,"entries":[` + item(1) + `,` + item(1) + `],"next":2,"more":false}`,
		"next too far":     `{"epoch":"U","head":9,"entries":[` + item(1) + `],"next":9,"more":false}`,
		"more of nothing":  `{"epoch":"U","head":9,"entries":[],"next":0,"more":true}`,
		"no entry":         `{"epoch":"U","head":1,"entries":[{"seq":1,"entry":7}],"next":1,"more":false}`,
		"a reset to where": `{"reset":true}`,
	} {
		up, down := newMemory("U", 1), newMemory("D")
		x := start(t, down, serveMemory(t, up), t.TempDir(), Options{})
		up.instead = func(r *http.Request) (int, string) {
			if r.URL.Path == "/api/v1/entries" {
				return 200, body
			}
			return 0, ""
		}
		if err := x.Round(t.Context()); err == nil || len(down.items) > 0 || x.progress.Fetched.Seq > 0 {
			t.Errorf("%s: %v, %d entries", what, err, len(down.items))
		}
	}
}

// A server of another version says what to do, on whichever side.
func TestOtherVersions(t *testing.T) {
	for _, c := range []struct {
		path       string
		status     int
		body       string
		text, hint string
	}{
		{"/api/v1/health", 200, `{"ok":true,"api":7,"min_client":2}`, "too old for the other server", "update packwright on this machine"},
		{"/api/v1/health", 200, `{"ok":true,"api":0}`, "version 0", "update packwright on the other machine"},
		{"/api/v1/entries", 426, `{"problem":{"kind":"unsupported","text":"version 1 is no longer spoken here"}}`, "no longer spoken", "update packwright on this machine"},
		{"/api/v1/health", 200, `{"ok":true,"api":7,"min_client":1}`, "", ""}, // newer, and still speaks ours
	} {
		up, down := newMemory("U", 1), newMemory("D", 2)
		up.instead = func(r *http.Request) (int, string) {
			if r.URL.Path == c.path {
				return c.status, c.body
			}
			return 0, ""
		}
		x := start(t, down, serveMemory(t, up), t.TempDir(), Options{})
		err := x.Round(t.Context())
		if c.text == "" {
			if err != nil {
				t.Error(err)
			}
			same(t, up, down)
			continue
		}
		p, ok := problem.As(err)
		if !ok || p.Kind != problem.Unsupported || !strings.Contains(p.Text, c.text) || p.Hint != c.hint {
			t.Errorf("%s: %v", c.body, err)
		}
		if s := x.Status(); s.Problem == nil || s.Problem.Hint != c.hint || !*s.Reachable || len(down.items) != 1 {
			t.Errorf("%s: %+v", c.body, s)
		}
	}
}

// Conflicts, refusals and words of the future are listed and hold up nothing; after
// an update they are tried again.
func TestHeldBack(t *testing.T) {
	up, down, dir := newMemory("U"), newMemory("D"), t.TempDir()
	link := serveMemory(t, up)
	ids := make([]string, 9)
	for n := range ids {
		ids[n] = idOf(note(n, ""))
		if n < 6 {
			down.add(note(n, ""), "phone")
		}
	}
	up.add(note(1, "other words"), "phone") // the same id
	up.add(note(7, ""), "phone")
	up.add(note(8, ""), "phone")
	up.verdict = func(id string) *store.Result {
		switch id {
		case ids[2]:
			return &store.Result{ID: id, Status: store.Refused, Reason: "only a lead may", Hint: "ask one"}
		case ids[3]:
			return &store.Result{ID: id, Status: "quarantined"}
		}
		return nil
	}
	down.verdict = func(id string) *store.Result {
		if id == ids[7] {
			return &store.Result{ID: id, Status: store.Refused, Reason: "not known here"}
		}
		return nil
	}
	up.instead = func(r *http.Request) (int, string) { // one is too much for it, alone or with others
		if r.Method == "POST" && r.URL.Path == "/api/v1/entries" {
			body, _ := io.ReadAll(r.Body)
			r.Body = io.NopCloser(strings.NewReader(string(body)))
			if strings.Contains(string(body), ids[4]) {
				return 413, `{"problem":{"kind":"too_large","text":"the body is too large"}}`
			}
		}
		return 0, ""
	}
	x := start(t, down, link, dir, Options{Version: "1"})
	round(t, x)
	want := map[string]string{ids[1] + " down": "conflict", ids[2] + " up": "refused", ids[3] + " up": "quarantined",
		ids[4] + " up": "refused", ids[7] + " down": "refused"}
	check := func(x *Exchange) {
		t.Helper()
		s := x.Status()
		got := map[string]string{}
		for _, h := range s.HeldBack {
			got[h.ID+" "+string(h.Way)] = h.Status
		}
		if fmt.Sprint(got) != fmt.Sprint(want) || s.HeldBackTotal != len(want) || s.ToSend != 0 || s.ToFetch != 0 || s.Problem != nil {
			t.Errorf("held back %v, want %v; %+v", got, want, s)
		}
	}
	check(x)
	if len(up.items) != 5 || len(down.items) != 7 { // 0 and 5 went up, 8 came down
		t.Errorf("%d entries there, %d here", len(up.items), len(down.items))
	}
	again := start(t, down, link, dir, Options{Version: "1"})
	round(t, again)
	check(again)
	if n := up.count("POST /api/v1/offer"); n != 1 { // the first one
		t.Errorf("%d offers", n)
	}
	up.verdict, down.verdict, up.instead, up.version = nil, nil, nil, "2"
	want = map[string]string{ids[1] + " down": "conflict"}
	round(t, start(t, down, link, dir, Options{Version: "1"}))
	last := start(t, down, link, dir, Options{Version: "1"})
	round(t, last)
	check(last)
	same(t, up, down)
}

// A batch is not larger than a server takes, and a long way is made in pages.
func TestManyEntries(t *testing.T) {
	up, down := newMemory("U"), newMemory("D")
	for n := range 2600 {
		if down.add(note(n, strings.Repeat("long ", 20)), "phone"); n%2 == 0 {
			up.add(note(5000+n, ""), "phone")
		}
	}
	largest := 0
	up.instead = func(r *http.Request) (int, string) {
		largest = max(largest, int(r.ContentLength))
		return 0, ""
	}
	round(t, start(t, down, serveMemory(t, up), t.TempDir(), Options{}))
	same(t, up, down)
	if largest > 1<<20 || largest < 64<<10 {
		t.Errorf("the largest body has %d bytes", largest)
	}
}

// Either side is put back to an older copy: with a new epoch, or unnoticed, and
// grown again since. What the other side holds comes back, also what it got from there.
func TestOlderCopies(t *testing.T) {
	for _, epoch := range []string{"", "new"} {
		for _, grown := range []bool{false, true} {
			up, down, dir := newMemory("U", 1, 2, 3), newMemory("D", 4, 5, 6), t.TempDir()
			link := serveMemory(t, up)
			round(t, start(t, down, link, dir, Options{}))
			same(t, up, down)
			for n, m := range []*memory{up, down} {
				m.items = m.items[:2]
				m.epoch += epoch
				for i := range 40 * (n + 1) { // more than were lost
					if grown {
						m.add(note(100*(n+1)+i, ""), "phone")
					}
				}
				round(t, start(t, down, link, dir, Options{}))
				same(t, up, down)
				if want := map[bool]int{false: 6, true: 6 + 40 + 80*n}[grown]; len(up.items) != want {
					t.Errorf("epoch %q, grown %v: %d entries, want %d", epoch, grown, len(up.items), want)
				}
			}
		}
	}
}

// A journal here that was only ever sent from is put back and has grown again.
func TestSentAndLost(t *testing.T) {
	up, down, dir := newMemory("U"), newMemory("D", 1, 2, 3), t.TempDir()
	link := serveMemory(t, up)
	round(t, start(t, down, link, dir, Options{}))
	down.items = down.items[:2]
	for n := range 5 {
		down.add(note(10+n, ""), "phone")
	}
	round(t, start(t, down, link, dir, Options{}))
	same(t, up, down)
	if len(up.items) != 8 {
		t.Errorf("%d entries", len(up.items))
	}
}

// What was fetched is lost here together with an older copy, while what was sent
// is still there: it is fetched again.
func TestFetchedAndLost(t *testing.T) {
	for _, epoch := range []string{"", "new"} {
		up, down, dir := newMemory("U", 1, 2), newMemory("D", 4), t.TempDir()
		link := serveMemory(t, up)
		x := start(t, down, link, dir, Options{})
		round(t, x)
		x.progress.Sent = position{1, idOf(note(4, ""))} // as in the middle of a round
		x.save()
		down.items, down.epoch = down.items[:1], down.epoch+epoch
		round(t, start(t, down, link, dir, Options{}))
		same(t, up, down)
		if len(up.items) != 3 {
			t.Errorf("epoch %q: %d entries", epoch, len(up.items))
		}
	}
}

// The same for both at once: what nobody holds any more is lost, the rest heals.
func TestBothOlder(t *testing.T) {
	up, down, dir := newMemory("U", 1, 2), newMemory("D", 4, 5), t.TempDir()
	link := serveMemory(t, up)
	x := start(t, down, link, dir, Options{})
	round(t, x)
	up.items, down.items = up.items[:1], down.items[1:2]
	down.items[0].Seq = 1
	up.epoch, down.epoch = "U2", "D2"
	round(t, start(t, down, link, dir, Options{}))
	same(t, up, down)
	if len(up.items) != 2 {
		t.Errorf("%d entries, want 1 and 5", len(up.items))
	}
}

// An upstream that is lost between the first push or offer and the first page gets
// everything again.
func TestLostBeforeFirstPage(t *testing.T) {
	for _, offered := range []bool{false, true} {
		up, down := newMemory("U"), newMemory("D")
		if offered { // and not wanted
			up.add(note(1, ""), "phone")
			down.add(note(1, ""), "phone")
		}
		x := start(t, down, serveMemory(t, up), t.TempDir(), Options{})
		if !offered {
			down.add(note(1, ""), "phone")
		}
		up.instead = func(r *http.Request) (int, string) {
			if r.Method == "GET" && r.URL.Path == "/api/v1/entries" {
				return 503, ""
			}
			return 0, ""
		}
		if err := x.Round(t.Context()); err == nil || len(up.items) == 0 {
			t.Fatalf("%v, %d entries there", err, len(up.items))
		}
		up.instead, up.items, up.epoch = nil, nil, "U2"
		round(t, x)
		same(t, up, down)
	}
}

// An upstream that starts over each time is given up for a while.
func TestKeepsStartingOver(t *testing.T) {
	up, down := newMemory("U", 1), newMemory("D", 2)
	n := 0
	up.instead = func(r *http.Request) (int, string) {
		if r.Method == "GET" && r.URL.Path == "/api/v1/entries" {
			n++
			return 409, fmt.Sprintf(`{"reset":true,"epoch":"E%d","head":1}`, n)
		}
		return 0, ""
	}
	x := start(t, down, serveMemory(t, up), t.TempDir(), Options{})
	if err := x.Round(t.Context()); err == nil || n > mostResets+1 {
		t.Errorf("%v after %d resets", err, n)
	}
}

// Where one way is stuck, the other goes on.
func TestOneWayStuck(t *testing.T) {
	up, down := newMemory("U", 1, 2), newMemory("D", 3)
	up.instead = func(r *http.Request) (int, string) {
		if r.Method == "POST" && r.URL.Path == "/api/v1/entries" {
			return 507, `{"problem":{"kind":"no_space","text":"the disk is full"}}`
		}
		return 0, ""
	}
	x := start(t, down, serveMemory(t, up), t.TempDir(), Options{})
	if err := x.Round(t.Context()); kindOf(err) != problem.NoSpace || len(down.items) != 3 || x.Status().ToSend == 0 {
		t.Errorf("%v, %d entries here", err, len(down.items))
	}

	up, full := newMemory("U", 1, 2), &fullJournal{newMemory("D", 3)}
	x, err := New(full, serveMemory(t, up), t.TempDir(), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := x.Round(t.Context()); kindOf(err) != problem.NoSpace || len(up.items) != 3 {
		t.Errorf("%v, %d entries there", err, len(up.items))
	}
}

type fullJournal struct{ *memory }

func (fullJournal) Append(context.Context, []json.RawMessage, string) ([]store.Result, error) {
	return nil, problem.New(problem.NoSpace, "", "the disk is full")
}

// Progress that is lost, damaged or about another upstream costs a repeat and
// nothing else.
func TestProgressLost(t *testing.T) {
	for what, change := range map[string]func(path string) error{
		"removed": os.Remove,
		"damaged": func(path string) error { return os.WriteFile(path, []byte(`{"upstream":`), 0o600) },
		"empty":   func(path string) error { return os.Truncate(path, 0) },
	} {
		up, down, dir := newMemory("U", 1, 2), newMemory("D", 3), t.TempDir()
		link := serveMemory(t, up)
		round(t, start(t, down, link, dir, Options{}))
		if err := change(filepath.Join(dir, progressName)); err != nil {
			t.Fatal(err)
		}
		up.asked = nil
		round(t, start(t, down, link, dir, Options{}))
		same(t, up, down)
		if len(up.items) != 3 || up.count("POST /api/v1/entries") != 0 {
			t.Errorf("%s: %d entries there", what, len(up.items))
		}
		// Another upstream gets everything, also what came from the first.
		second := newMemory("V", 9)
		round(t, start(t, down, serveMemory(t, second), dir, Options{}))
		same(t, second, down)
	}
}

// A wrong clock on either side harms nothing and is shown.
func TestClocks(t *testing.T) {
	for _, ms := range []int64{0, 1764060000000, 4076000000000} {
		up, down := newMemory("U", 1), newMemory("D", 2)
		x := start(t, down, serveMemory(t, up), t.TempDir(), Options{Now: at(ms)})
		round(t, x)
		same(t, up, down)
		if off := x.Status().ClockOffMS; off != 1000-ms {
			t.Errorf("clock at %d: off by %d", ms, off)
		}
	}
}

// A server that was taken off says so, and takes up the token of a new join.
func TestRejoin(t *testing.T) {
	up, down, dir := newMemory("U", 1), newMemory("D", 2), t.TempDir()
	up.token = "old"
	link := serveMemory(t, up)
	x := start(t, down, link, dir, Options{Pace: Pace{Idle: time.Hour, Backoff: time.Millisecond, BackoffMost: time.Millisecond}})
	round(t, x)
	up.token = "new"
	down.add(note(3, ""), "phone")
	err := x.Round(t.Context())
	if p, _ := problem.As(err); kindOf(err) != problem.NotJoined || !strings.Contains(p.Hint, "packwright join") {
		t.Fatal(err)
	}
	if s := x.Status(); s.ToSend != 1 || s.Problem == nil {
		t.Errorf("%+v", s)
	}
	link.Token = "new"
	if err := link.Save(dir); err != nil {
		t.Fatal(err)
	}
	x.rejoin()
	round(t, x)
	same(t, up, down)
}

// A token is never in the address, and never goes where a redirect points.
func TestTokenStays(t *testing.T) {
	elsewhere := newMemory("X")
	other := serveMemory(t, elsewhere)
	up, down := newMemory("U"), newMemory("D", 1)
	up.token = "secret"
	up.instead = func(r *http.Request) (int, string) {
		if strings.Contains(r.URL.String(), "secret") {
			t.Errorf("the token is in %s", r.URL)
		}
		return 0, ""
	}
	link := serveMemory(t, up)
	round(t, start(t, down, link, t.TempDir(), Options{}))
	redirect := http.RedirectHandler(other.URL, http.StatusTemporaryRedirect)
	link2 := serveRedirect(t, redirect)
	link2.Token = "secret"
	if err := start(t, down, link2, t.TempDir(), Options{}).Round(t.Context()); err == nil || len(elsewhere.asked) > 0 {
		t.Errorf("%v; elsewhere was asked %v", err, elsewhere.asked)
	}
}

// Waits grow, are never in step, and heed what the upstream asks for, within bounds.
func TestBackoff(t *testing.T) {
	lot := 0.0
	x := start(t, newMemory("D"), Link{URL: "http://127.0.0.1:1"}, t.TempDir(), Options{Random: func() float64 { return lot }})
	for _, c := range []struct {
		lot      float64
		failures int
		asked    time.Duration
		want     time.Duration
	}{
		{0, 0, 0, time.Second}, {1, 0, 0, 2 * time.Second}, {0, 3, 0, 8 * time.Second}, {1, 3, 0, 16 * time.Second},
		{1, 7, 0, 256 * time.Second}, {1, 8, 0, 300 * time.Second}, {1, 1000, 0, 300 * time.Second}, {0, 1000, 0, 150 * time.Second},
		{0, 0, time.Minute, time.Minute}, {0, 0, 24 * time.Hour, retryMost},
	} {
		lot = c.lot
		if got := x.backoff(c.failures, setback{shown: problem.New(problem.InUse, "", ""), wait: c.asked}); got != c.want {
			t.Errorf("%+v: %v", c, got)
		}
	}
}

// lines is a log that is read while it is written.
type lines struct {
	mu   sync.Mutex
	text strings.Builder
}

func (l *lines) Write(b []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(b)
}

func (l *lines) count(part string) int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return strings.Count(l.text.String(), part)
}

// Somebody who looks at the terminal reads once, in plain words, that the upstream
// has taken this server off its list, and once that it goes on again; a network that
// blinks is not worth a line.
func TestTold(t *testing.T) {
	var log lines
	up, down := newMemory("U", 1), newMemory("D", 2)
	x := start(t, down, serveMemory(t, up), t.TempDir(), Options{Log: slog.New(slog.NewTextHandler(&log, nil))})
	said := x.tellOnce("", 0, x.Round(t.Context()))
	up.instead = func(*http.Request) (int, string) {
		return 401, `{"problem":{"kind":"not_joined","text":"this device was taken off the list"}}`
	}
	for failures := range 5 {
		x.met = false
		said = x.tellOnce(said, failures, x.Round(t.Context()))
	}
	const stands = "stands still: the other server no longer knows this server: this device was taken off the list"
	if log.count(stands) != 1 || log.count("packwright join") != 1 || log.count("level=WARN") != 1 {
		t.Errorf("%s", log.text.String())
	}
	up.instead = nil
	for range 3 {
		said = x.tellOnce(said, 0, x.Round(t.Context()))
	}
	if said != "" || log.count("goes on") != 1 {
		t.Errorf("%s", log.text.String())
	}
	up.instead = func(*http.Request) (int, string) { return 502, "gateway" }
	for failures := range mayBlink {
		x.met = false
		said = x.tellOnce(said, failures, x.Round(t.Context()))
	}
	if log.count("level=WARN") != 1 {
		t.Errorf("it blinked: %s", log.text.String())
	}
	for failures := range 3 {
		x.met = false
		said = x.tellOnce(said, mayBlink+failures, x.Round(t.Context()))
	}
	if log.count("level=WARN") != 2 || said == "" {
		t.Errorf("%s", log.text.String())
	}
}
