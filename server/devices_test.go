package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"packwright/internal/access"
	"packwright/internal/journal"
	"packwright/internal/problem"
)

func TestDevices(t *testing.T) {
	s, log := testField(t)
	_, lead := joined(t, s, access.Lead)
	phone, token := joined(t, s, access.Crew)
	call := func(method, path, body, token string, header ...string) *httptest.ResponseRecorder {
		t.Helper()
		return ask{door: doorField, method: method, path: path, body: body, token: token, header: header}.to(t, s)
	}
	change := func(format string, args ...any) *httptest.ResponseRecorder {
		t.Helper()
		return call("POST", "/api/v1/devices/change", fmt.Sprintf(format, args...), lead)
	}

	// What a device says of its unsent entries is shown; what cannot be is left alone.
	for said, want := range map[string]int{"12": 12, "0": 0, "-1": 12, "x": 12, "": 12, "99999999999999999999": 12, "1e3": 12} {
		call("GET", "/api/v1/health", "", token, "Packwright-Unsent", "12")
		call("GET", "/api/v1/health", "", token, "Packwright-Unsent", said)
		list := answerOf[devicesAnswer](t, call("GET", "/api/v1/devices", "", lead), 200).Devices
		if len(list) != 2 || list[1].ID != phone.ID || list[1].Unsent != want {
			t.Errorf("said %q: %+v", said, list)
		}
	}

	if got := answerOf[changeAnswer](t, change(`{"id":%q,"name":"Bench"}`, phone.ID), 200).Device; got.Name != "Bench" || got.Role != access.Crew {
		t.Errorf("%+v", got)
	}
	if w := call("GET", "/api/v1/devices", "", token); kindOf(w) != problem.NotAllowed {
		t.Errorf("crew reads the list: status %d", w.Code)
	}
	if list := call("GET", "/api/v1/devices", "", lead).Body.String(); strings.Contains(list, "token") || strings.Contains(list, "sha256") {
		t.Errorf("the list tells of tokens: %s", list)
	}
	answerOf[changeAnswer](t, change(`{"id":%q,"role":"lead"}`, phone.ID), 200)
	if w := call("GET", "/api/v1/devices", "", token); w.Code != 200 {
		t.Errorf("a new lead: status %d", w.Code)
	}
	answerOf[changeAnswer](t, change(`{"id":%q,"role":"crew"}`, phone.ID), 200)
	if w := call("GET", "/api/v1/devices", "", token); kindOf(w) != problem.NotAllowed {
		t.Errorf("lead no more: status %d", w.Code)
	}
	for body, want := range map[string]int{
		`{"id":"` + phone.ID + `"}`: 400, `{"id":"` + phone.ID + `","name":"x","revoked":true}`: 400,
		`{"id":"` + phone.ID + `","revoked":false}`: 400, `{"id":"` + phone.ID + `","role":"boss"}`: 400,
		`{"id":"` + phone.ID + `","name":""}`: 400, `{"id":"nobody","revoked":true}`: 404, `{"revoked":true}`: 404, `{"id":"here","role":"crew"}`: 404,
	} {
		if w := change("%s", body); w.Code != want {
			t.Errorf("%s: status %d, want %d", body, w.Code, want)
		}
	}
	if got := answerOf[changeAnswer](t, change(`{"id":%q,"revoked":true}`, phone.ID), 200).Device; got.RevokedMS == 0 {
		t.Errorf("%+v", got)
	}
	w := call("GET", "/api/v1/entries", "", token)
	if kindOf(w) != problem.NotJoined || !strings.Contains(w.Body.String(), "taken off") || !strings.Contains(w.Body.String(), "exported") {
		t.Errorf("revoked: status %d: %s", w.Code, w.Body)
	}
	if strings.Contains(log.String(), "Bench") {
		t.Error("the log names a device as its user does")
	}
}

// A stranger hears that the server is there, and nothing of the team's.
func TestHealthOfStrangers(t *testing.T) {
	s, _ := testField(t)
	send(s, "POST", "/api/v1/entries", strings.NewReader(string(push(note(1, "x")))))
	_, token := joined(t, s, access.Crew)
	epoch, _ := s.store.Head()
	for token, want := range map[string]healthAnswer{
		"":                      {},
		strings.Repeat("A", 43): {},
		token:                   {Joined: true, Role: "crew", Epoch: epoch, Head: 1},
	} {
		got := answerOf[healthAnswer](t, ask{door: doorField, method: "GET", path: "/api/v1/health", token: token}.to(t, s), 200)
		want.OK, want.NowMS, want.API, want.MinClient, want.Address = true, got.NowMS, apiVersion, minClientAPI, s.origin
		if got != want {
			t.Errorf("got %+v, want %+v", got, want)
		}
	}
	got := answerOf[healthAnswer](t, ask{method: "GET", path: "/api/v1/health"}.to(t, s), 200)
	if !got.Joined || got.Role != "lead" || got.Head != 1 {
		t.Errorf("here: %+v", got)
	}
}

// A live stream ends when its device is taken off: at the next event or pulse.
func TestLiveEndsWhenTakenOff(t *testing.T) {
	for _, byPulse := range []bool{false, true} {
		s, _ := testField(t)
		s.hosts = func(name string) bool { return name == "127.0.0.1" }
		if byPulse {
			s.pulse = 50 * time.Millisecond
		}
		device, token := joined(t, s, access.Crew)
		web := httptest.NewServer(s.handler(doorField))
		defer web.Close()
		patient, cancel := context.WithTimeout(t.Context(), 20*time.Second)
		defer cancel()
		req, err := http.NewRequestWithContext(patient, "GET", web.URL+"/api/v1/live", nil)
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Authorization", "Bearer "+token)
		resp, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
		lines := bufio.NewScanner(resp.Body)
		if !lines.Scan() || !strings.Contains(lines.Text(), `"head":0`) {
			t.Fatalf("first line %q", lines.Text())
		}
		if err := s.register.Revoke(device.ID); err != nil {
			t.Fatal(err)
		}
		if !byPulse {
			send(s, "POST", "/api/v1/entries", strings.NewReader(string(push(note(1, "x")))))
		}
		for lines.Scan() {
			if strings.Contains(lines.Text(), `"head":1`) {
				t.Error("a device that was taken off hears of a commit")
			}
		}
		if err := lines.Err(); err != nil {
			t.Error(err)
		}
	}
}

// held is a body that comes to its end only after something has happened.
type held struct {
	io.Reader
	before func()
}

func (h *held) Read(p []byte) (int, error) {
	if h.before != nil {
		h.before()
		h.before = nil
	}
	return h.Reader.Read(p)
}

// Whoever is taken off the list, or is lead no more, while his request is still
// coming in gets nothing by it, however slowly he sends.
func TestRevokedMeanwhile(t *testing.T) {
	s, _ := testField(t)
	phone, _ := joined(t, s, access.Crew)
	settings := string(push(entry(1, journal.TeamChanged, `{"name":"Mine"}`)))
	for path, body := range map[string]string{
		"/api/v1/entries":        settings,
		"/api/v1/invitations":    `{"role":"lead"}`,
		"/api/v1/devices/change": fmt.Sprintf(`{"id":%q,"role":"lead"}`, phone.ID),
		"/api/v1/offer":          `{"ids":[]}`,
	} {
		for what, then := range map[string]func(id string) error{
			"revoked": s.register.Revoke,
			"demoted": func(id string) error { return s.register.SetRole(id, access.Crew) },
		} {
			device, token := joined(t, s, access.Lead)
			before := head(t, s)
			r := httptest.NewRequest("POST", fieldOrigin+path, &held{strings.NewReader(body), func() {
				if err := then(device.ID); err != nil {
					t.Error(err)
				}
			}})
			r.Header.Set("Content-Type", "application/json")
			r.AddCookie(&http.Cookie{Name: cookieName, Value: token})
			w := httptest.NewRecorder()
			s.handler(doorField).ServeHTTP(w, r)
			want := http.StatusUnauthorized
			if what == "demoted" {
				want = http.StatusForbidden
				if path == "/api/v1/entries" || path == "/api/v1/offer" { // which crew may call
					want = http.StatusOK
				}
			}
			if w.Code != want || head(t, s) != before {
				t.Errorf("%s while it sends %s: status %d, want %d: %s", what, path, w.Code, want, w.Body)
			}
		}
	}
	if now, err := s.register.Device(phone.ID); err != nil || now.Role != access.Crew {
		t.Errorf("%+v, %v", now, err)
	}
}
