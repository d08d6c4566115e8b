package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"packwright/internal/access"
	"packwright/internal/problem"
	"packwright/internal/store"
)

// answerOf decodes an answer that must have the status.
func answerOf[T any](t testing.TB, w *httptest.ResponseRecorder, status int) (answer T) {
	t.Helper()
	if w.Code != status {
		t.Fatalf("status %d, want %d: %s", w.Code, status, w.Body)
	}
	if err := json.Unmarshal(w.Body.Bytes(), &answer); err != nil {
		t.Fatal(err)
	}
	return answer
}

// A phone joins over HTTPS, works, and leaves, with everything logged. Neither its
// code nor its token is then in the log, the data folder or the folder of keys.
func TestJoinLeavesNoSecrets(t *testing.T) {
	data, keys := filepath.Join(t.TempDir(), "data"), filepath.Join(t.TempDir(), "keys")
	var log bytes.Buffer
	logger := slog.New(slog.NewTextHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	kept, err := store.Open(data, store.Options{Log: logger})
	if err != nil {
		t.Fatal(err)
	}
	register, err := access.Open(keys, access.Options{})
	if err != nil {
		t.Fatal(err)
	}
	s, err := newServer(kept, register, logger, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	s.origin, s.hosts = fieldOrigin, func(name string) bool { return name == "127.0.0.1" }
	web := httptest.NewUnstartedServer(nil)
	web.Config = newHTTPServer(s.handler(doorField), logger)
	web.StartTLS()
	defer web.Close()
	browser := web.Client()
	if browser.Jar, err = cookiejar.New(nil); err != nil {
		t.Fatal(err)
	}
	post := func(path string, body, answer any) *http.Response {
		t.Helper()
		resp, err := browser.Post(web.URL+path, "application/json", bytes.NewReader(mustJSON(body)))
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
		if err := json.NewDecoder(resp.Body).Decode(answer); err != nil || resp.StatusCode != http.StatusOK {
			t.Fatalf("%s: %s, %v", path, resp.Status, err)
		}
		return resp
	}

	invited := answerOf[inviteAnswer](t, ask{method: "POST", path: "/api/v1/invitations", body: `{"role":"lead"}`}.to(t, s), 200)
	if want := fieldOrigin + "/join#" + invited.Code; invited.URL != want {
		t.Errorf("url %q, want %q", invited.URL, want)
	}
	var in joinAnswer
	resp := post("/api/v1/join", joinRequest{Code: invited.Code, Name: "Pit phone", Device: "phone-1"}, &in)
	cookies := resp.Cookies()
	if len(cookies) != 1 || in.Token != "" {
		t.Fatalf("%d cookies, token %q in the answer", len(cookies), in.Token)
	}
	token := cookies[0].Value
	// RFC 6265bis, 4.1.3.2: a cookie named __Host- is Secure, has Path=/ and no Domain.
	if got, want := resp.Header.Get("Set-Cookie"), "__Host-packwright="+token+"; Path=/; Max-Age=34560000; HttpOnly; Secure; SameSite=Strict"; got != want {
		t.Errorf("cookie %q, want %q", got, want)
	}
	var pushed pushAnswer
	post("/api/v1/entries", map[string]any{"entries": []any{note(1, "over HTTPS")}}, &pushed)
	if pushed.Results[0].Status != store.Accepted {
		t.Errorf("%+v", pushed)
	}
	me, err := browser.Get(web.URL + "/api/v1/me")
	if err != nil {
		t.Fatal(err)
	}
	me.Body.Close()
	if again := me.Cookies(); len(again) != 1 || again[0].Value != token || again[0].MaxAge != 34560000 {
		t.Errorf("me does not renew the cookie: %v", again)
	}
	for _, wrong := range []string{invited.Code, "0000-0000", "12345678", "not a code"} { // refused, and still a secret
		resp, err := browser.Post(web.URL+"/api/v1/join", "application/json", bytes.NewReader(mustJSON(joinRequest{Code: wrong, Name: "x"})))
		if err != nil {
			t.Fatal(err)
		}
		var answer bytes.Buffer
		answer.ReadFrom(resp.Body)
		resp.Body.Close()
		if resp.StatusCode < 400 || strings.Contains(answer.String(), wrong) {
			t.Errorf("%s: %s", resp.Status, answer.String())
		}
	}
	left := post("/api/v1/leave", struct{}{}, &struct{}{})
	if c := left.Cookies(); len(c) != 1 || c[0].MaxAge >= 0 || c[0].Value != "" {
		t.Errorf("leaving does not take the cookie away: %v", c)
	}
	w := ask{door: doorField, method: "GET", path: "/api/v1/me", token: token, header: []string{"Host", "127.0.0.1"}}.to(t, s)
	if kindOf(w) != problem.NotJoined || !strings.Contains(w.Body.String(), "taken off") {
		t.Errorf("after leaving: status %d: %s", w.Code, w.Body)
	}
	for item, err := range kept.All() {
		if err != nil || item.BroughtBy != in.Device.ID {
			t.Errorf("brought by %q, want %q; %v", item.BroughtBy, in.Device.ID, err)
		}
	}

	web.Close()
	if err := errors.Join(register.Close(), kept.Close()); err != nil {
		t.Fatal(err)
	}
	texts := map[string]string{"the log": log.String()}
	for _, dir := range []string{data, keys} {
		err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			text, err := os.ReadFile(path)
			texts[path] = string(text)
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	for where, text := range texts {
		for _, secret := range []string{token, invited.Code, strings.ReplaceAll(invited.Code, "-", "")} {
			if strings.Contains(text, secret) {
				t.Errorf("%s holds a secret", where)
			}
		}
	}
	// The search would have found what is there.
	journal, devices := texts[filepath.Join(data, "journal.jsonl")], texts[filepath.Join(keys, "devices.json")]
	if !strings.Contains(journal, in.Device.ID) || !strings.Contains(devices, in.Device.ID) || !strings.Contains(texts["the log"], "path=/api/v1/join") {
		t.Error("the search does not look where it should")
	}
}

// A browser that joins anew loses the token it had: nobody holds it any longer.
func TestJoinAnew(t *testing.T) {
	s, _ := testField(t)
	before, token := joined(t, s, access.Lead)
	join := func(code string) *httptest.ResponseRecorder {
		return ask{door: doorField, method: "POST", path: "/api/v1/join", token: token, body: fmt.Sprintf(`{"code":%q,"name":"phone"}`, code)}.to(t, s)
	}
	if w := join("0000-0000"); w.Code != http.StatusForbidden {
		t.Errorf("a wrong code: status %d", w.Code)
	}
	if _, err := s.register.Check(token); err != nil {
		t.Errorf("a wrong code took the token away: %v", err)
	}
	made, err := s.register.Invite(access.Crew)
	if err != nil {
		t.Fatal(err)
	}
	w := join(made.Code)
	in := answerOf[joinAnswer](t, w, 200)
	if in.Device.ID == before.ID || strings.Contains(w.Header().Get("Set-Cookie"), token) {
		t.Errorf("the same again: %+v", in.Device)
	}
	if _, err := s.register.Check(token); err == nil {
		t.Error("the old token is still good")
	}
}

// Who may come in and who was kept out is in the log, without codes, tokens and
// what people call their devices.
func TestJoinLog(t *testing.T) {
	s, log := testField(t)
	at := time.Now()
	s.now = func() time.Time { return at }
	try := func(code, name, token string) *httptest.ResponseRecorder {
		return ask{door: doorField, method: "POST", path: "/api/v1/join", token: token, body: fmt.Sprintf(`{"code":%q,"name":%q,"device":"phone-1"}`, code, name)}.to(t, s)
	}
	wantLine := func(want ...string) {
		t.Helper()
		lines := strings.Split(strings.TrimSpace(log.String()), "\n")
		log.Reset()
		for _, part := range append(want, "level=INFO") {
			if len(lines) != 1 || !strings.Contains(lines[0], part) {
				t.Errorf("%q: want one line with %q", lines, part)
			}
		}
		for _, secret := range []string{"Sam's phone", "phone-1", "0000", "192.0.2.1"} {
			if strings.Contains(strings.Join(lines, ""), secret) {
				t.Errorf("%q holds %q", lines, secret)
			}
		}
	}
	made, err := s.register.Invite(access.Lead)
	if err != nil {
		t.Fatal(err)
	}
	try("0000-0000", "Sam's phone", "")
	wantLine(`msg="a device was not let in" why="this is not the code"`)
	w := try(made.Code, "Sam's phone", "")
	in, token := answerOf[joinAnswer](t, w, 200), w.Result().Cookies()[0].Value
	wantLine(`msg="a device joined"`, "device="+in.Device.ID, "role=lead")
	try(made.Code, "Sam's phone", "")
	wantLine(`why="this code was used already"`)
	for _, body := range []string{`{"code":`, `{"code":"0000","name":"Sam's phone"}`} {
		ask{door: doorField, method: "POST", path: "/api/v1/join", body: body}.to(t, s)
		wantLine("a device was not let in")
	}
	try("0000-0000", "Sam's phone", "")
	wantLine(`why="too many requests in a short time"`)

	ask{method: "POST", path: "/api/v1/devices/change", body: fmt.Sprintf(`{"id":%q,"name":"Sam's phone"}`, in.Device.ID)}.to(t, s)
	wantLine("a device was changed", "device="+in.Device.ID, "by=here")
	at = at.Add(time.Minute)
	again, err := s.register.Invite(access.Crew)
	if err != nil {
		t.Fatal(err)
	}
	w = try(again.Code, "Sam's phone", token)
	anew := answerOf[joinAnswer](t, w, 200)
	wantLine("device="+anew.Device.ID, "instead_of="+in.Device.ID)
	ask{door: doorField, method: "POST", path: "/api/v1/leave", body: "{}", token: w.Result().Cookies()[0].Value}.to(t, s)
	wantLine("a device left", "device="+anew.Device.ID)
	ask{method: "POST", path: "/api/v1/devices/change", body: fmt.Sprintf(`{"id":%q,"revoked":true}`, anew.Device.ID)}.to(t, s)
	wantLine("revoked=true", "device="+anew.Device.ID)
}

// Guessing does not fill the disk with lines: they say how many are not there.
func TestJoinLogIsBounded(t *testing.T) {
	s, log := testField(t)
	at := time.Now()
	s.now = func() time.Time { return at }
	s.joins = newLimits(allowance{1 << 20, 1})
	s.calls = s.joins
	guess := func() { from(s, "192.168.1.9:1", "POST", "/api/v1/join", `{"code":"0000-0000","name":"x"}`, "") }
	for range 1000 {
		guess()
	}
	if lines := strings.Count(log.String(), "\n"); lines != 20 {
		t.Errorf("%d lines for 1000 guesses", lines)
	}
	log.Reset()
	at = at.Add(time.Minute)
	guess()
	if !strings.Contains(log.String(), "not_told=980\n") {
		t.Errorf("%s", log)
	}
}

// Bodies that are broken, slow or too long are no tries: they end nobody's code.
func TestBrokenJoins(t *testing.T) {
	s, _ := testField(t)
	s.calls = newLimits(allowance{1 << 20, 1})
	made, err := s.register.Invite(access.Crew)
	if err != nil {
		t.Fatal(err)
	}
	good := fmt.Sprintf(`{"code":%q,"name":"phone"}`, made.Code)
	address := 0
	text := func(body string) func() io.Reader { return func() io.Reader { return strings.NewReader(body) } }
	for _, body := range []func() io.Reader{
		text(""), text(`{"code":"0000-0000","name":"x"`), text(`[]`), text(`{"code":7}`),
		text(`{"code":"0000-000","name":"x"}`), text(`{"code":"0000-0000","name":""}`),
		text(`{"code":"` + strings.Repeat("0", maxAskBytes) + `"}`),
		func() io.Reader { // slower than the server waits
			return io.MultiReader(strings.NewReader(good[:20]), iotest.ErrReader(os.ErrDeadlineExceeded))
		},
	} {
		for range 120 { // more than the wrong codes that end one for everybody
			address++
			r := httptest.NewRequest("POST", fieldOrigin+"/api/v1/join", body())
			r.RemoteAddr = fmt.Sprintf("10.0.%d.%d:1000", address/250, address%250+1)
			r.Header.Set("Content-Type", "application/json")
			w := httptest.NewRecorder()
			s.handler(doorField).ServeHTTP(w, r)
			if w.Code != http.StatusBadRequest && w.Code != http.StatusRequestEntityTooLarge {
				t.Fatalf("status %d: %s", w.Code, w.Body)
			}
		}
	}
	if w := from(s, "10.0.0.1:2000", "POST", "/api/v1/join", good, ""); w.Code != http.StatusOK {
		t.Errorf("the code is no longer good: status %d: %s", w.Code, w.Body)
	}
}

// No answer to a stranger speaks of the program's own insides or repeats a code.
func TestMisread(t *testing.T) {
	s, _ := testField(t)
	s.joins = newLimits(allowance{1 << 20, 1})
	for body, want := range map[string]string{
		`{"code":12345678}`: "code is of the wrong type", `{"code":{"a":1}}`: "code is of the wrong type", `[12345678]`: ": is of the wrong type",
		`{"code":`: "after 8 bytes", `{"code":"12345678"} 12345678`: "after 21 bytes", `12345678`: ": is of the wrong type", `nope`: "after 2 bytes",
	} {
		w := ask{door: doorField, method: "POST", path: "/api/v1/join", body: body}.to(t, s)
		text := w.Body.String()
		if w.Code != http.StatusBadRequest || !strings.Contains(text, want) || strings.Contains(text, "Request") || strings.Contains(text, "Go") ||
			strings.Contains(text, "12345678") {
			t.Errorf("%s: status %d: %s", body, w.Code, text)
		}
	}
}

// A server asks for its token and gets no cookie.
func TestServerJoins(t *testing.T) {
	s, _ := testField(t)
	made, err := s.register.Invite(access.Crew)
	if err != nil {
		t.Fatal(err)
	}
	w := ask{door: doorField, method: "POST", path: "/api/v1/join", body: fmt.Sprintf(`{"code":%q,"name":"workshop","token":true}`, made.Code)}.to(t, s)
	in := answerOf[joinAnswer](t, w, 200)
	if in.Device.Role != access.Crew || in.Token == "" || w.Header().Get("Set-Cookie") != "" {
		t.Errorf("%+v, cookie %q", in.Device, w.Header().Get("Set-Cookie"))
	}
	bearer := []string{"Authorization", "Bearer " + in.Token}
	w = ask{door: doorField, method: "GET", path: "/api/v1/me", header: bearer}.to(t, s)
	if me := answerOf[meAnswer](t, w, 200); me.Device.ID != in.Device.ID || me.Here || me.Name != "pit.local" || w.Header().Get("Set-Cookie") != "" {
		t.Errorf("%+v", me)
	}
}

// Everybody at this machine is lead, and is no device that can leave.
func TestHere(t *testing.T) {
	s, _ := testField(t)
	me := answerOf[meAnswer](t, ask{method: "GET", path: "/api/v1/me"}.to(t, s), 200)
	if !me.Here || me.Device.Role != access.Lead || me.Device.ID != "here" {
		t.Errorf("%+v", me)
	}
	if w := (ask{method: "POST", path: "/api/v1/leave", body: "{}"}).to(t, s); w.Code != http.StatusConflict {
		t.Errorf("leave: status %d", w.Code)
	}
	if w := (ask{method: "POST", path: "/api/v1/entries", body: string(push(note(1, "x")))}).to(t, s); w.Code != 200 {
		t.Fatal(w.Code)
	}
	for item := range s.store.All() {
		if item.BroughtBy != "here" {
			t.Errorf("brought by %q", item.BroughtBy)
		}
	}
	s.origin = ""
	if w := (ask{method: "POST", path: "/api/v1/invitations", body: `{"role":"crew"}`}).to(t, s); w.Code != http.StatusConflict ||
		!strings.Contains(w.Body.String(), "--lan") {
		t.Errorf("invitation to a server that nobody can reach: status %d: %s", w.Code, w.Body)
	}
	if me := answerOf[meAnswer](t, ask{method: "GET", path: "/api/v1/me"}.to(t, s), 200); me.Name != "" {
		t.Errorf("%+v", me)
	}
}

// FuzzJoin sends anything as the body of a join and as cookies. Only the code lets a
// device in, once, and only its own token is one.
func FuzzJoin(f *testing.F) {
	s, _ := testField(f)
	s.joins, s.calls = newLimits(allowance{1 << 30, 1}), newLimits(allowance{1 << 30, 1})
	_, token := joined(f, s, access.Crew)
	members := len(s.register.List())
	f.Add(`{"code":"ABCD-EFGH","name":"phone","device":"d"}`, cookieName+"=x")
	f.Add(`{"code":"ABCD-EFGH","name":"phone","token":true}`, "a=b; "+cookieName+"="+strings.Repeat("A", 43))
	f.Add(`{"code":["ABCDEFGH"],"name":{},"device":7}`, cookieName+`="`+strings.Repeat("A", 43)+`"`)
	f.Add(`{"code":"","code":"ABCDEFGH"}`, cookieName+"="+strings.Repeat("A", 1000))
	f.Add(`[]`, ";;=;"+cookieName)
	f.Fuzz(func(t *testing.T, body, cookie string) {
		if strings.Contains(cookie, token) {
			t.Skip("that is the token")
		}
		r := httptest.NewRequest("POST", fieldOrigin+"/api/v1/join", strings.NewReader(body))
		r.Header.Set("Content-Type", "application/json")
		r.Header["Cookie"] = []string{cookie}
		w := httptest.NewRecorder()
		s.handler(doorField).ServeHTTP(w, r)
		switch w.Code {
		case http.StatusBadRequest, http.StatusForbidden, http.StatusRequestEntityTooLarge:
		default:
			t.Errorf("join: status %d: %s", w.Code, w.Body)
		}
		r = httptest.NewRequest("GET", fieldOrigin+"/api/v1/me", nil)
		r.Header["Cookie"] = []string{cookie}
		w = httptest.NewRecorder()
		if s.handler(doorField).ServeHTTP(w, r); w.Code != http.StatusUnauthorized {
			t.Errorf("me: status %d: %s", w.Code, w.Body)
		}
		if got := len(s.register.List()); got != members {
			t.Errorf("%d devices, were %d", got, members)
		}
	})
}
