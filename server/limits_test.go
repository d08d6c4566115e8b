package main

import (
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"strings"
	"sync"
	"testing"
	"time"

	"packwright/internal/access"
	"packwright/internal/problem"
)

// from is a request from an address.
func from(s *server, address, method, path, body, token string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, fieldOrigin+path, strings.NewReader(body))
	r.RemoteAddr = address
	if body != "" {
		r.Header.Set("Content-Type", "application/json")
	}
	if token != "" {
		r.AddCookie(&http.Cookie{Name: cookieName, Value: token})
	}
	w := httptest.NewRecorder()
	s.handler(doorField).ServeHTTP(w, r)
	return w
}

// An address may try five codes at once and ten a minute; others are not held up.
func TestJoinsAreSlow(t *testing.T) {
	s, _ := testField(t)
	now := time.UnixMilli(1764060000000)
	s.now = func() time.Time { return now }
	try := func(address string) *httptest.ResponseRecorder {
		return from(s, address, "POST", "/api/v1/join", `{"code":"0000-0000","name":"x"}`, "")
	}
	for n := range 7 {
		w := try("192.168.1.66:1000")
		if want := n >= 5; (w.Code == http.StatusTooManyRequests) != want {
			t.Errorf("try %d: status %d", n+1, w.Code)
		}
	}
	w := try("192.168.1.66:2000")
	if kindOf(w) != problem.TooMany || w.Header().Get("Retry-After") != "6" {
		t.Errorf("%s, Retry-After %q", w.Body, w.Header().Get("Retry-After"))
	}
	if err := readAPI(t).checkAnswer(t, "POST", "/api/v1/join", w.Code, w.Header(), w.Body.Bytes()); err != nil {
		t.Error(err)
	}
	if w := try("192.168.1.67:1000"); w.Code != http.StatusForbidden {
		t.Errorf("another address: status %d", w.Code)
	}
	now = now.Add(6*time.Second - time.Millisecond)
	if w := try("192.168.1.66:1000"); w.Code != http.StatusTooManyRequests {
		t.Errorf("a little too soon: status %d", w.Code)
	}
	now = now.Add(2 * time.Millisecond)
	for _, want := range []int{http.StatusForbidden, http.StatusTooManyRequests} {
		if w := try("192.168.1.66:1000"); w.Code != want {
			t.Errorf("after six seconds: status %d, want %d", w.Code, want)
		}
	}
	// A machine has a whole /64 of IPv6 addresses (RFC 4291, 2.5.4).
	limited := 0
	for n := range 10 {
		if w := try(fmt.Sprintf("[2001:db8::%x]:1000", n+1)); w.Code == http.StatusTooManyRequests {
			limited++
		}
	}
	if limited != 5 {
		t.Errorf("%d of 10 tries from one network were held up", limited)
	}
}

// Who guesses codes keeps no phone out, on IPv4 or on a network's own IPv6, where
// all share one /64.
func TestGuesserHoldsUpNobody(t *testing.T) {
	for intruder, phone := range map[string]string{"192.168.1.66:1000": "192.168.1.9:1000", "[fd00::66]:1000": "[fd00::9]:1000"} {
		s, _ := testField(t)
		made, err := s.register.Invite(access.Crew)
		if err != nil {
			t.Fatal(err)
		}
		join := func(from_, code string) *httptest.ResponseRecorder {
			return from(s, from_, "POST", "/api/v1/join", fmt.Sprintf(`{"code":%q,"name":"x"}`, code), "")
		}
		for range 6 {
			if w := join(intruder, "0000-0000"); w.Code != http.StatusForbidden && w.Code != http.StatusTooManyRequests {
				t.Errorf("%s: status %d", intruder, w.Code)
			}
		}
		s.joins = newLimits(joinRate) // as after a while
		if w := join(intruder, made.Code); kindOf(w) != problem.NotAllowed || !strings.Contains(w.Body.String(), "too many wrong codes") {
			t.Errorf("%s got in after five wrong codes: status %d", intruder, w.Code)
		}
		if w := join(phone, made.Code); w.Code != http.StatusOK {
			t.Errorf("%s was kept out: status %d: %s", phone, w.Code, w.Body)
		}
	}
}

// On a network with public IPv6 addresses, as schools have them, phones and laptop
// share one /64. There each phone has its own allowance, too; a /64 elsewhere has one.
func TestPublicNetworkOfOurOwn(t *testing.T) {
	s, _ := testField(t)
	s.around.own = func() ([]net.Addr, error) {
		return []net.Addr{
			&net.IPNet{IP: net.IPv4(192, 168, 1, 7), Mask: net.CIDRMask(24, 32)},
			&net.IPNet{IP: net.ParseIP("2001:db8:0:1::7"), Mask: net.CIDRMask(128, 128)}, // as DHCP gives them
		}, nil
	}
	made, err := s.register.Invite(access.Crew)
	if err != nil {
		t.Fatal(err)
	}
	try := func(address, code string) int {
		return from(s, address, "POST", "/api/v1/join", fmt.Sprintf(`{"code":%q,"name":"x"}`, code), "").Code
	}
	for _, network := range []string{"2001:db8:0:1", "2001:db8:0:2"} {
		for n := range 6 {
			if got, want := try("["+network+"::66]:1000", "0000-0000"), []int{http.StatusForbidden, http.StatusTooManyRequests}[n/5]; got != want {
				t.Errorf("%s, try %d: status %d, want %d", network, n+1, got, want)
			}
		}
	}
	if got := try("[2001:db8:0:2::9]:1000", made.Code); got != http.StatusTooManyRequests {
		t.Errorf("the neighbour of a guesser elsewhere: status %d", got)
	}
	if got := try("[2001:db8:0:1::9]:1000", made.Code); got != http.StatusOK {
		t.Errorf("a phone beside a guesser: status %d", got)
	}
}

// The machine's networks are looked at again, since laptops move.
func TestNeighbours(t *testing.T) {
	now := time.UnixMilli(1764060000000)
	asked := 0
	n := neighbours{own: func() ([]net.Addr, error) {
		if asked++; asked == 1 {
			return nil, errors.New("not now")
		}
		return []net.Addr{&net.IPNet{IP: net.ParseIP("2001:db8::7"), Mask: net.CIDRMask(64, 128)}}, nil
	}}
	near := netip.MustParseAddr("2001:db8::9%eth0")
	if n.include(near, now) || n.include(near, now.Add(neighboursFor-1)) || asked != 1 {
		t.Error("before the networks are known")
	}
	now = now.Add(neighboursFor)
	if !n.include(near, now) || n.include(netip.MustParseAddr("2001:db8:1::9"), now) || n.include(netip.MustParseAddr("::ffff:192.168.1.7"), now) || asked != 2 {
		t.Errorf("after, asked %d times", asked)
	}
}

// Devices have allowances of their own: neither a stranger behind the same address
// nor another device takes anything from a phone.
func TestCallsAreLimited(t *testing.T) {
	s, _ := testField(t)
	now := time.UnixMilli(1764060000000)
	s.now = func() time.Time { return now }
	_, one := joined(t, s, access.Crew)
	_, two := joined(t, s, access.Crew)
	const home = "192.168.1.9:1000"
	for name, token := range map[string]string{"a stranger": "", "a wrong token": strings.Repeat("A", 43), "a phone": one} {
		s.calls = newLimits(callRate)
		for n := range callRate.burst + 1 {
			w := from(s, home, "GET", "/api/v1/health", "", token)
			if want := n == callRate.burst; (w.Code == http.StatusTooManyRequests) != want {
				t.Fatalf("%s: request %d: status %d", name, n+1, w.Code)
			}
		}
		if w := from(s, home, "GET", "/api/v1/health", "", two); w.Code != http.StatusOK {
			t.Errorf("another phone beside %s: status %d", name, w.Code)
		}
	}
	now = now.Add(callRate.every)
	if w := from(s, home, "GET", "/api/v1/health", "", one); w.Code != http.StatusOK {
		t.Errorf("a moment later: status %d", w.Code)
	}
	for range 2 * callRate.burst { // this machine itself is not limited
		if w := send(s, "GET", "/api/v1/health", nil); w.Code != http.StatusOK {
			t.Fatalf("here: status %d", w.Code)
		}
	}
}

// However many addresses ask, memory is bounded, and who asks steadily is remembered.
func TestLimitsAreBounded(t *testing.T) {
	l := newLimits(allowance{burst: 1, every: time.Hour})
	now := time.UnixMilli(1764060000000)
	if l.take("steady", now) != 0 {
		t.Fatal("the first request waits")
	}
	for n := range 20 * maxKeys {
		l.take(fmt.Sprint(n), now)
		if n%1000 == 0 && l.take("steady", now) == 0 {
			t.Fatalf("after %d others the key was forgotten", n)
		}
		if kept := len(l.young) + len(l.old); kept > 2*maxKeys {
			t.Fatalf("%d keys are kept", kept)
		}
	}
}

// Two phones with one code at once, over the network: one joins, the other hears why not.
func TestTwoJoinAtOnce(t *testing.T) {
	s, _ := testField(t)
	made, err := s.register.Invite(access.Crew)
	if err != nil {
		t.Fatal(err)
	}
	var wait sync.WaitGroup
	answers := make([]*httptest.ResponseRecorder, 2)
	for n := range answers {
		wait.Go(func() {
			body := fmt.Sprintf(`{"code":%q,"name":"phone %d","device":"d%d"}`, made.Code, n, n)
			answers[n] = from(s, fmt.Sprintf("192.168.1.%d:1000", n+1), "POST", "/api/v1/join", body, "")
		})
	}
	wait.Wait()
	in := 0
	for _, w := range answers {
		switch {
		case w.Code == http.StatusOK && w.Header().Get("Set-Cookie") != "":
			in++
		case kindOf(w) != problem.NotAllowed || !strings.Contains(w.Body.String(), "used already") || w.Header().Get("Set-Cookie") != "":
			t.Errorf("status %d: %s", w.Code, w.Body)
		}
	}
	if in != 1 || len(s.register.List()) != 1 {
		t.Errorf("%d joined, %d on the list", in, len(s.register.List()))
	}
}
