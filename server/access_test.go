package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/labstack/echo/v4"

	"packwright/internal/access"
	"packwright/internal/problem"
)

const fieldOrigin = "https://pit.local:8443"

// testField is a server that phones reach as https://pit.local:8443.
func testField(t testing.TB) (*server, *bytes.Buffer) {
	t.Helper()
	s, log := openTest(t)
	s.origin = fieldOrigin
	s.hosts = func(name string) bool { return name == "pit.local" || name == "192.168.1.7" || name == "fe80::1" }
	return s, log
}

// joined is a new device with its token.
func joined(t testing.TB, s *server, role access.Role) (access.Device, string) {
	t.Helper()
	made, err := s.register.Invite(role)
	if err != nil {
		t.Fatal(err)
	}
	device, token, err := s.register.Join(access.Asking{Code: made.Code, Name: string(role) + " phone", JournalID: "phone-1"})
	if err != nil {
		t.Fatal(err)
	}
	return device, token
}

// ask is a request as it comes in at a door. The header is in pairs.
type ask struct {
	door         door
	method, path string
	body         string
	token        string // in the cookie
	header       []string
	described    *api // nil: read for this one
}

func (a ask) to(t testing.TB, s *server) *httptest.ResponseRecorder {
	t.Helper()
	base := map[door]string{doorHere: "http://127.0.0.1:8080", doorField: fieldOrigin, doorProxy: fieldOrigin, doorPlain: "http://pit.local:8088"}[a.door]
	var body io.Reader
	if a.body != "" {
		body = strings.NewReader(a.body)
	}
	r := httptest.NewRequest(a.method, base+a.path, body)
	if a.body != "" {
		r.Header.Set("Content-Type", "application/json")
	}
	if a.token != "" {
		r.AddCookie(&http.Cookie{Name: cookieName, Value: a.token})
	}
	for pair := range slices.Chunk(a.header, 2) {
		r.Header.Set(pair[0], pair[1])
		if pair[0] == "Host" {
			r.Host = pair[1]
		}
	}
	w := httptest.NewRecorder()
	s.handler(a.door).ServeHTTP(streamable{w}, r)
	if api := a.api(t); api.operation(a.method, a.path) != "" {
		if err := api.checkAnswer(t, a.method, a.path, w.Code, w.Header(), w.Body.Bytes()); err != nil {
			t.Error(err)
		}
	}
	for name := range w.Header() {
		if strings.HasPrefix(name, "Access-Control-") {
			t.Errorf("%s %s: %s allows other origins", a.method, a.path, name)
		}
	}
	return w
}

// api is the published description, read once for all asks of a test.
func (a ask) api(t testing.TB) *api {
	if a.described == nil {
		return readAPI(t)
	}
	return a.described
}

// kindOf is the kind of the problem in an answer; empty where it is none.
func kindOf(w *httptest.ResponseRecorder) problem.Kind {
	var answer problemAnswer
	if json.Unmarshal(w.Body.Bytes(), &answer) != nil || answer.Problem == nil {
		return ""
	}
	return answer.Problem.Kind
}

// streamable lets a recorder stand for a connection with a live stream on it.
type streamable struct{ *httptest.ResponseRecorder }

func (streamable) SetReadDeadline(time.Time) error  { return nil }
func (streamable) SetWriteDeadline(time.Time) error { return nil }

// TestRoles walks the table of routes with every kind of token at every door.
func TestRoles(t *testing.T) {
	s, _ := testField(t)
	s.calls = newLimits(allowance{burst: 1 << 20, every: 1})
	s.joins = s.calls
	close(s.closing) // a live stream ends after its first event
	described := readAPI(t)
	tokens := map[string]func() (string, access.Role){
		"none":  func() (string, access.Role) { return "", anyone },
		"wrong": func() (string, access.Role) { return strings.Repeat("A", 43), anyone },
		"revoked": func() (string, access.Role) {
			device, token := joined(t, s, access.Lead)
			if err := s.register.Revoke(device.ID); err != nil {
				t.Fatal(err)
			}
			return token, anyone
		},
		"crew": func() (string, access.Role) { _, token := joined(t, s, access.Crew); return token, access.Crew },
		"lead": func() (string, access.Role) { _, token := joined(t, s, access.Lead); return token, access.Lead },
	}
	for _, d := range []door{doorHere, doorField, doorProxy, doorPlain} {
		for _, r := range routes() {
			for who, makeToken := range tokens {
				for _, bearer := range []bool{false, true} {
					token, role := makeToken() // anew each time: to leave is a route, too
					want := problem.Kind("")
					switch {
					case d == doorPlain:
						want = problem.NotAllowed
					case d == doorHere || r.role == anyone:
					case role == anyone:
						want = problem.NotJoined
					case r.role == access.Lead && role == access.Crew:
						want = problem.NotAllowed
					}
					a := ask{door: d, method: r.method, path: r.path, token: token, described: described}
					if bearer {
						a.token, a.header = "", []string{"Authorization", "Bearer " + token}
					}
					if r.method != "GET" {
						a.body = "{}"
					}
					w := a.to(t, s)
					got := kindOf(w)
					if got != problem.NotJoined && got != problem.NotAllowed {
						got = "" // let in; what the route makes of an empty request is its own affair
					}
					if got != want || want != "" && w.Code != statusOf[want] || want == "" && w.Code >= 500 {
						t.Errorf("door %s, %s %s, token %s, bearer %v: status %d, %q; want %q",
							d, r.method, r.path, who, bearer, w.Code, got, want)
					}
					if challenged := w.Header().Get("WWW-Authenticate") != ""; challenged != (w.Code == http.StatusUnauthorized) {
						t.Errorf("%s: status %d, with a challenge: %v", r.path, w.Code, challenged)
					}
				}
			}
		}
	}
}

// Every route that echo serves is in the table, and the description names its role.
func TestTableIsWhole(t *testing.T) {
	inTable := map[string]access.Role{}
	for _, r := range routes() {
		inTable[r.method+" "+r.path] = r.role
		if r.method != "GET" && r.method != "POST" {
			t.Errorf("%s %s is neither read nor change", r.method, r.path)
		}
	}
	for _, d := range []door{doorHere, doorField, doorProxy, doorPlain} {
		served := (&server{}).handler(d).(*echo.Echo).Routes()
		for _, r := range served {
			if _, ok := inTable[r.Method+" "+r.Path]; !ok {
				t.Errorf("door %s: %s %s is served and not in the table", d, r.Method, r.Path)
			}
		}
		if len(served) != len(inTable) {
			t.Errorf("door %s: %d routes, %d in the table", d, len(served), len(inTable))
		}
	}
	for path, item := range readAPI(t).document["paths"].(map[string]any) {
		for method, operation := range item.(map[string]any) {
			described, _ := operation.(map[string]any)["x-role"].(string)
			if role := inTable[strings.ToUpper(method)+" "+path]; described != cmp.Or(string(role), "anyone") {
				t.Errorf("%s %s is for %q, described for %q", method, path, role, described)
			}
		}
	}
}

// A token counts in the cookie or the header Authorization, alone and once.
func TestWhereTokensCount(t *testing.T) {
	s, _ := testField(t)
	_, token := joined(t, s, access.Lead)
	cookie := cookieName + "=" + token
	for _, c := range []struct {
		name   string
		path   string
		header []string
		want   int
	}{
		{"cookie", "/api/v1/me", []string{"Cookie", cookie}, 200},
		{"cookie among others", "/api/v1/me", []string{"Cookie", "a=b; " + cookie + "; c"}, 200},
		{"header", "/api/v1/me", []string{"Authorization", "bearer " + token}, 200},
		{"both", "/api/v1/me", []string{"Cookie", cookie, "Authorization", "Bearer " + token}, 401},
		{"two cookies", "/api/v1/me", []string{"Cookie", cookie + "; " + cookie}, 401},
		{"another's cookie first", "/api/v1/me", []string{"Cookie", cookieName + "=x; " + cookie}, 401},
		{"cookie of another name", "/api/v1/me", []string{"Cookie", "packwright=" + token}, 401},
		{"basic", "/api/v1/me", []string{"Authorization", "Basic " + token}, 401},
		{"no scheme", "/api/v1/me", []string{"Authorization", token}, 401},
		{"address", "/api/v1/me?token=" + token + "&" + cookie + "&access_token=" + token, nil, 401},
		{"header of our own", "/api/v1/me", []string{"Packwright-Token", token}, 401},
	} {
		a := ask{door: doorField, method: "GET", path: c.path, header: c.header}
		if w := a.to(t, s); w.Code != c.want {
			t.Errorf("%s: status %d, want %d", c.name, w.Code, c.want)
		}
	}
}

func TestHosts(t *testing.T) {
	s, _ := testField(t)
	for host, want := range map[string]map[door]bool{ // whether health is answered
		"pit.local":              {doorField: true, doorProxy: true},
		"PIT.local.:8443":        {doorField: true, doorProxy: true},
		"192.168.1.7:8443":       {doorField: true, doorProxy: true},
		"[fe80::1]:8443":         {doorField: true, doorProxy: true},
		"192.168.1.8":            {},
		"evil.example":           {},
		"pit.local.evil.example": {},
		"localhost:8080":         {doorHere: true},
		"127.0.0.1":              {doorHere: true},
		"":                       {},
	} {
		for _, d := range []door{doorHere, doorField, doorProxy, doorPlain} {
			w := ask{door: d, method: "GET", path: "/api/v1/health", header: []string{"Host", host}}.to(t, s)
			if got := w.Code == http.StatusOK; got != want[d] || !got && w.Code != http.StatusForbidden {
				t.Errorf("door %s under the name %q: status %d", d, host, w.Code)
			}
		}
	}
	s.hosts = nil // as with packwright serve alone
	if w := (ask{door: doorField, method: "GET", path: "/api/v1/health"}).to(t, s); w.Code != http.StatusForbidden {
		t.Errorf("without names: status %d", w.Code)
	}
}
