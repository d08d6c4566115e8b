package main

import (
	"encoding/json"
	"net/http"
	"net/netip"
	"net/url"
	"strings"

	"packwright/internal/problem"
)

// behindProxy holds the rules for a reverse proxy. Whatever comes in at the
// proxy's door came through it, so these headers are believed there and nowhere
// else: X-Forwarded-Proto must say https, the Host must be the public name, and
// the last address in X-Forwarded-For, which is the one the proxy itself saw, is
// who asked. Those before it are whatever the client wrote.
func (s *server) behindProxy(public *url.URL, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch {
		case !strings.EqualFold(r.Host, public.Host):
			s.refuse(w, problem.New(problem.NotAllowed, "let the proxy pass on the Host it was asked for, which must be that of --public",
				"this server does not answer to the name %q", r.Host))
			return
		case r.Header.Get("X-Forwarded-Proto") != "https":
			s.refuse(w, problem.New(problem.NotAllowed, "open "+public.String()+"; the proxy must set X-Forwarded-Proto to https",
				"this way in is not encrypted"))
			return
		}
		hops := strings.Split(strings.Join(r.Header.Values("X-Forwarded-For"), ","), ",")
		client, err := netip.ParseAddr(strings.TrimSpace(hops[len(hops)-1]))
		if err != nil {
			s.refuse(w, problem.New(problem.NotAllowed, "the proxy must set X-Forwarded-For",
				"the proxy did not say who asks"))
			return
		}
		r = r.Clone(r.Context())
		r.RemoteAddr = netip.AddrPortFrom(client.Unmap(), 0).String()
		next.ServeHTTP(w, r)
	})
}

// refuse answers 403 with a problem, before any route is looked at.
func (s *server) refuse(w http.ResponseWriter, p *problem.Error) {
	h := w.Header()
	h.Set("Content-Type", "application/json; charset=utf-8")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
	w.WriteHeader(http.StatusForbidden)
	json.NewEncoder(w).Encode(problemAnswer{Problem: p, NowMS: s.nowMS()}) // the client may have gone
}

// readPublic checks the address of --public.
func readPublic(typed string) (*url.URL, error) {
	u, err := url.Parse(strings.TrimRight(typed, "/"))
	if err != nil || u.Scheme != "https" || u.Hostname() == "" || u.User != nil || u.Path != "" || u.RawQuery != "" || u.Fragment != "" {
		return nil, problem.Invalidf("public", "give the address people open, as in --public https://packs.our-school.example",
			"%q cannot be the public address", typed)
	}
	u.Host = strings.TrimSuffix(u.Host, ":443") // as browsers send it
	return u, nil
}
